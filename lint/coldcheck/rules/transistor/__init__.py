"""Rules of the family transistor."""
