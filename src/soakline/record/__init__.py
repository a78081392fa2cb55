"""Cases kept, with nothing lost."""
