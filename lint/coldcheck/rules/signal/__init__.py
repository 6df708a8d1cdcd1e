"""Rules of the family signal."""
