"""Rules of the family tube."""
