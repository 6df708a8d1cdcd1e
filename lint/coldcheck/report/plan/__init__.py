"""The plan of a first power-up, in its forms."""
