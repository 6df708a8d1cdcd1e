"""Rules of the family drawing."""
