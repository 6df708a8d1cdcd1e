"""Rules of the family capacitor."""
