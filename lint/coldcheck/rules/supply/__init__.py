"""Rules of the family supply."""
