"""Where people meet the program: each parses, calls one workflow, renders."""
