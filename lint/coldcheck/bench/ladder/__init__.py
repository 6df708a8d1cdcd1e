"""The potentials of a circuit as a ladder: height is volts."""
