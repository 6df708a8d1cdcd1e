"""One fault or many of a circuit, on the factors of the good one."""
