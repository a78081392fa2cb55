"""What it takes, against what is at hand."""
