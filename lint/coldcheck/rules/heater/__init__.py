"""Rules of the family heater."""
