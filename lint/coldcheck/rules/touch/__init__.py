"""Rules of the family touch."""
