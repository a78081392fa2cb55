"""One picture for page, paper and terminal."""
