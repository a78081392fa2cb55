"""What is there, and how sure: measurements, clock, body, cavity, volume, plausible wounds."""
