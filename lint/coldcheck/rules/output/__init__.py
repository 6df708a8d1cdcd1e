"""Rules of the family output."""
