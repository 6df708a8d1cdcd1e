"""Rules of the family resistor."""
