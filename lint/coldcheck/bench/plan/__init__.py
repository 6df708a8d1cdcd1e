"""The plan of a careful first power-up."""
