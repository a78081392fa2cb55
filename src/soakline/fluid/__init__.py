"""Where liquid goes: posture, settled level, reach."""
