"""Tube data: one TOML file a type, and the index of their names."""
