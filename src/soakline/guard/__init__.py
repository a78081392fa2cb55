"""What must stop: the gate."""
