"""The use cases: load, compute, save."""
