"""How it goes on: is it smaller than before."""
