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

BIAS = """\
tube V3 6L6GC
tube V4 6L6GC
output T2 6.6k ct : 8 ohm 150 ohm
BP --+[E1 450 V]-- gnd
BP -- T2.ct
T2.p1 -- V3.plate
T2.p2 -- V4.plate
BP --[R20 470 ohm 5 W]-- S
S -- V3.screen
S -- V4.screen
NEG --[E2 50 V]+-- gnd
NEG --[R30 15k]-- BL
BL --[C30 47 uF 100 V]+-- gnd
BL --[R31 33k]-- gnd
BL --[R3 220k]-- V3.grid
BL --[R4 220k]-- V4.grid
V3.cathode -- gnd
V4.cathode -- gnd
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
T2.s2 -- gnd
"""
"""A pair on fixed bias: 50 V behind 15 k and 33 k to gnd."""

LIVE = """\
mains 120 V 60 Hz tolerance 10 %
line --[F1 fuse 0.5 A]-- L1 --[R9 100 ohm 10 W]-- A --[D1 1N4007]-> B1
neutral -- gnd
chassis --[R10 220k]-- gnd
B1 --+[C1 40 uF 200 V]-- gnd
B1 --[R1 10k 5 W]-- gnd
"""
"""A common on the neutral; the metal held off by 220 k."""
