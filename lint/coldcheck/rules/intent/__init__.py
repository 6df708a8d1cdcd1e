"""Rules of the family intent."""
