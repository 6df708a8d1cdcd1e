"""Rules of the family mains."""
