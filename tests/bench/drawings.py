"""Small drawings that several tests of readings go by."""

# The grid's coupling capacitor comes from a stiff 250 V; the cathode keeps the grid negative.
COUPLED = """\
drawing "Buoy: a coupling capacitor and a grid leak"
B1 --+[E1 250 V]-- gnd
tube V1 12AX7
B1 --[R1 100k]-- V1A.plate
V1A.cathode --[R4 10k]-- gnd
B1 --[C4 22 nF 400 V]-- DRV
DRV --[R6 470k]-- gnd
DRV -- V1A.grid
"""
