"""TOML ↔ model, with findings that name their key."""
