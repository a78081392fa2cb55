"""Where ports go."""
