"""Sound drawings for the tests of causes; each wrong one is one of these with one slip in it."""

from __future__ import annotations

SINGLE_ENDED = """mains 230 V 50 Hz
transformer T1
    primary  pri   230 V  18 ohm
    winding  ht    265 V ct 265 V  100 mA  240 ohm
    winding  fil   5 V    2 A  0.1 ohm
    winding  warm  6.3 V ct  2 A  0.15 ohm
tube V1 12AX7   heater T1.warm
tube V2 6V6GT   heater T1.warm
tube V3 5Y3GT   heater T1.fil
output T2 5k : 8 ohm  210 ohm  12 H  gapped 60 mA
pot P1 500k at 50 %
line --[F1 fuse 0.5 A slow]-- FUSED --[S1 switch]-- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis
chassis -- gnd
T1.ht.1 -- V3.plate1
T1.ht.2 -- V3.plate2
T1.ht.ct --[F2 fuse 0.2 A slow]-- gnd
V3.f2 -- RES --[L1 8 H 250 ohm]-- B1 --[R1 10k 2 W]-- B2
RES --+[C1 20 uF 500 V]-- gnd
B1 --+[C2 40 uF 500 V]-- gnd
B2 --+[C3 20 uF 500 V]-- gnd
B1 --[R9 150k 2 W]-- gnd
T1.warm.ct -- gnd
signal IN 0.4 V 1 kHz
IN -- P1.top
P1.bottom -- gnd
P1.wiper -- V1A.grid
B2 --[R3 100k 0.5 W]-- PA
PA -- V1A.plate
PA --[C4 22 nF 630 V film]-- DRV
DRV --[R6 470k 0.5 W]-- gnd
V1A.cathode --[R4 1k5 0.5 W]-- gnd
V1A.cathode --+[C5 25 uF 25 V]-- gnd
V1B.grid -- gnd
V1B.cathode -- gnd
DRV --[R5 1k5 0.5 W]-- V2.grid
V2.cathode --[R7 270 ohm 5 W]-- gnd
V2.cathode --+[C7 25 uF 50 V]-- gnd
B1 --[R2 470 ohm 1 W]-- V2.screen
B1 -- T2.p1
T2.p2 -- V2.plate
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
T2.s2 -- gnd
"""

PUSH_PULL = """mains 230 V 50 Hz
transformer T1
    primary  pri   230 V  12 ohm
    winding  ht    225 V ct 225 V  150 mA  270 ohm
    winding  warm  6.3 V ct  4 A  0.1 ohm
    winding  neg   22 V  50 mA  30 ohm
tube V1 12AX7   heater T1.warm
tube V2 EL84    heater T1.warm
tube V3 EL84    heater T1.warm
tube V4 EZ81    heater T1.warm
output T2 8k ct : 8 ohm  250 ohm  60 H
line --[F1 fuse 0.63 A slow]-- FUSED --[S1 switch]-- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis
chassis -- gnd
T1.warm.ct -- gnd
T1.ht.1 -- V4.plate1
T1.ht.2 -- V4.plate2
T1.ht.ct --[F2 fuse 0.25 A slow]-- gnd
V4.cathode -- B1
B1 --+[C1 47 uF 500 V]-- gnd
B1 --[R20 150k 2 W]-- gnd
B1 --[R1 4k7 2 W]-- B2
B2 --+[C2 32 uF 500 V]-- gnd
B2 --[R2 22k 1 W]-- B3
B3 --+[C3 32 uF 500 V]-- gnd
T1.neg.2 -- gnd
T1.neg.1 <-[D1 1N4007]-- NEG
NEG --[C10 100 uF 63 V]+-- gnd
NEG --[R21 10k 0.5 W]-- BIAS
BIAS --[R22 6k8 0.5 W]-- gnd
BIAS --[C11 100 uF 63 V]+-- gnd
signal IN 0.3 V 1 kHz
IN -- V1A.grid
IN --[R3 1M 0.5 W]-- gnd
B3 --[R4 220k 0.5 W]-- V1A.plate
V1A.cathode --[R5 1k0 0.5 W]-- gnd
V1A.plate -- V1B.grid
B3 --[R6 68k 0.5 W]-- V1B.plate
V1B.cathode --[R7 68k 0.5 W]-- gnd
V1B.plate --[C4 100 nF 630 V film]-- G2
V1B.cathode --[C5 100 nF 630 V film]-- G3
G2 --[R8 220k 0.5 W]-- BIAS
G3 --[R9 220k 0.5 W]-- BIAS
G2 --[R10 2k2 0.5 W]-- V2.grid
G3 --[R11 2k2 0.5 W]-- V3.grid
V2.cathode --[R12 10 ohm 1 W]-- gnd
V3.cathode --[R13 10 ohm 1 W]-- gnd
B2 --[R14 220 ohm 1 W]-- V2.screen
B2 --[R15 220 ohm 1 W]-- V3.screen
B1 -- T2.ct
T2.p1 -- V2.plate
T2.p2 -- V3.plate
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
T2.s2 -- gnd
"""

REGULATED = """mains 230 V 50 Hz
transformer T1
    primary  pri   230 V  40 ohm
    winding  ht    250 V  60 mA  300 ohm
    winding  warm  6.3 V ct  2 A  0.2 ohm
tube V1 0A2
tube V2 12AU7  heater T1.warm
line --[F1 fuse 0.25 A slow]-- FUSED --[S1 switch]-- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis
chassis -- gnd
T1.warm.ct -- gnd
T1.ht.2 -- gnd
T1.ht.1 --[D1 1N4007]-> --[F2 fuse 0.1 A slow]-- B1
B1 --+[C1 33 uF 500 V]-- gnd
B1 --[R9 220k 2 W]-- gnd
B1 --[R1 8k2 7 W]-- REG
REG -- V1.plate
V1.cathode -- gnd
signal IN 0.3 V 1 kHz
IN --[R2 470k 0.5 W]-- gnd
IN -- V2A.grid
REG --[R3 47k 0.5 W]-- V2A.plate
V2A.cathode --[R4 1k5 0.5 W]-- gnd
V2A.plate --[C4 47 nF 400 V film]-- G2
G2 --[R5 470k 0.5 W]-- gnd
G2 -- V2B.grid
REG -- V2B.plate
V2B.cathode --[R6 15k 1 W]-- gnd
V2B.cathode --[C5 470 nF 400 V film]-- OUT
OUT --[R7 100k 0.5 W]-- gnd
expect OUT between -1 V and 1 V
"""

PENTODE = """B1 --+[E1 300 V 1 ohm]-- gnd
tube V1 EF86
tube V2 12AU7
V1.h1 --+[E2 6.3 V 0.1 ohm]-- V1.h2
V1.h2 -- gnd
V2.h1 -- V1.h1
V2.h2 -- V1.h1
V2.tap -- gnd
signal IN 0.05 V 1 kHz
IN --[R1 1M 0.5 W]-- gnd
IN -- V1.grid
B1 --[R2 220k 0.5 W]-- V1.plate
B1 --[R3 1M 0.5 W]-- V1.screen
V1.screen --[C3 220 nF 400 V film]-- K
V1.suppressor -- K
V1.cathode -- K
K --[R4 2k2 0.5 W]-- gnd
K --+[C4 47 uF 25 V]-- gnd
V1.plate --[C1 47 nF 400 V film]-- G2
G2 --[R5 1M 0.5 W]-- gnd
G2 -- V2A.grid
B1 --[R6 47k 1 W]-- V2A.plate
V2A.cathode --[R7 2k2 0.5 W]-- gnd
V2A.plate --[C2 220 nF 400 V film]-- OUT
OUT --[R8 470k 0.5 W]-- gnd
"""

SPLIT_LOAD = """mains 230 V 50 Hz tolerance 10 %
transformer T1
    primary  pri   230 V  9 ohm
    winding  ht    280 V ct 280 V  150 mA  120 ohm
    winding  fil   5 V    2 A  0.08 ohm
    winding  warm  6.3 V ct  3 A  0.08 ohm
output T2 8k ct : 8 ohm 14 H
tube V1 12AX7 heater T1.warm
tube V2 6V6GT heater T1.warm
tube V3 6V6GT heater T1.warm
tube V4 5Y3GT heater T1.fil
line --[F1 fuse 0.5 A slow]-- FUSED --[S1 switch]-- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis
chassis -- gnd
T1.ht.1 -- V4.plate1
T1.ht.2 -- V4.plate2
T1.ht.ct --[F2 fuse 0.25 A slow]-- gnd
V4:8 -- B1 --[L1 8 H 200 ohm 120 mA]-- B2 --[R1 10k 2 W]-- B3
B1 --+[C1 16 uF 500 V]-- gnd
B2 --+[C2 32 uF 500 V]-- gnd
B3 --+[C3 16 uF 450 V]-- gnd
B2 --[R2 100k 3 W]-- gnd
T1.warm.ct -- gnd
signal IN 0.2 V 1 kHz
IN -- V1A.grid --[R3 1M]-- gnd
V1A.cathode --[R4 1k5]-- gnd
V1A.cathode --+[C4 22 uF 25 V]-- gnd
B3 --[R5 100k 1 W]-- V1A.plate --[C5 22n 630 V film]-- V1B.grid --[R6 1M]-- TAIL
B3 --[R7 56k 1 W]-- V1B.plate
V1B.cathode --[R8 1k5]-- TAIL --[R9 56k 1 W]-- gnd
V1B.plate --[C6 100n 630 V film]-- G2 --[R10 220k]-- gnd
TAIL --[C7 100n 630 V film]-- G3 --[R11 220k]-- gnd
G2 --[R12 1k]-- V2.grid
G3 --[R13 1k]-- V3.grid
V2.cathode -- K -- V3.cathode
K --+[C8 100 uF 50 V]-- gnd
K --[R14 270 5 W]-- gnd
T2.p1 -- V2.plate
T2.p2 -- V3.plate
T2.ct -- B2
B2 --[R15 470 1 W]-- SG
SG -- V2.screen
SG -- V3.screen
T2.s1 --[LS1 speaker 8 ohm]-- T2.s2
T2.s2 -- gnd
"""

CHOKE_INPUT = """mains 120 V 60 Hz
transformer T1
    primary pri 120 V 3 ohm
    winding ht 300 V ct 300 V 200 mA 60 ohm
line --[F1 fuse 0.5 A slow]-- --[S1 switch 250 Vac 2 A]-- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis -- gnd
T1.ht.ct -- gnd
T1.ht.1 --[D1 silicon 1600 V 1 A]-> RAW
T1.ht.2 --[D2 silicon 1600 V 1 A]-> RAW
RAW --[L1 10 H 100 ohm]-- B1 --+[C1 40 uF 500 V]-- gnd
B1 --[R1 8k2 25 W wirewound]-- gnd
"""

PAIR = """tube V2 12AU7
tube V3 12AU7
B1 --+[E1 300 V]-- gnd
signal IN 1 V 1 kHz
IN --[C8 47 nF 630 V film]-- V2A.grid --[R14 1M]-- TJ
V2B.grid --[R15 1M]-- TJ
V2B.grid --[C9 47 nF 400 V film]-- gnd
V2A.cathode -- V2B.cathode --[R12 820 ohm]-- TJ --[R13 33k 1 W]-- gnd
B1 --[R16 100k 0.5 W]-- V2A.plate --[C10 47 nF 630 V film]-- V3A.grid --[R18 330k]-- gnd
B1 --[R17 100k 0.5 W]-- V2B.plate --[C11 47 nF 630 V film]-- V3B.grid --[R19 330k]-- gnd
V3A.cathode --[R20 1k]-- gnd
V3B.cathode --[R21 1k]-- gnd
B1 --[R22 47k 1 W]-- V3A.plate
B1 --[R23 47k 1 W]-- V3B.plate
"""

CAN = """transformer IF1 coupling 1.2 %
    winding pri 1.2 mH 14 ohm
    winding sec 1.2 mH 14 ohm
tube V1 6BA6
tube V2 6BA6
B1 --+[E1 200 V]-- gnd
signal IN 1 mV 455 kHz
IN --[C1 100 pF mica]-- V1.grid --[R1 1M]-- gnd
V1.cathode --[R2 68 ohm]-- gnd
V1.suppressor -- gnd
B1 --[R3 33k 1 W]-- V1.screen --[C2 50 nF 400 V]-- gnd
V1.plate -- IF1.pri.1 --[C3 100 pF mica]-- IF1.pri.2
V2.grid -- IF1.sec.1 --[C4 100 pF mica]-- IF1.sec.2
IF1.pri.2 -- B1
IF1.sec.2 -- AVC
AVC --[R4 1M]-- gnd
AVC --[C5 50 nF 200 V]-- gnd
V2.cathode --[R5 68 ohm]-- gnd
V2.suppressor -- gnd
B1 --[R6 33k 1 W]-- V2.screen --[C6 50 nF 400 V]-- gnd
B1 --[R7 10k 2 W]-- V2.plate
"""

PORTABLE = """tube V2 DF91
tube V3 DAF91
tube V4 DL92
output T2 5k : 3.2 ohm 400 ohm 8 H gapped 12 mA
AP --+[E1 1.5 V 0.5 A]-- gnd
AP -- V3:7
V3:1 -- gnd
AP -- V4:1 -- V4:7
V4:5 -- gnd
BP --+[E2 67.5 V 20 mA]-- BN --[R1 390 ohm 0.5 W]-- gnd
AP -- V2:7
V2:1 -- gnd
BP -- V2.plate
BP -- V2.screen
IF -- V2.grid --[R9 1M]-- gnd
gnd --+[C1 25 uF 50 V]-- BN
BP --+[C2 8 uF 150 V]-- BN
signal IN 0.1 V 1 kHz
IN --[C3 4.7n 200 V]-- V3.grid --[R2 10M]-- gnd
BP --[R3 3M3]-- V3.screen --[C4 47n 200 V]-- gnd
BP --[R4 1M]-- V3.plate --[C5 4.7n 200 V]-- V4.grid --[R5 2M2]-- BN
V4.screen -- BP
T2.p1 -- BP
T2.p2 -- V4.plate
T2.s1 --[LS1 speaker 3.2 ohm 1 W]-- T2.s2
T2.s2 -- gnd
"""

LIFTED = """tube V1 6CG7
tube V2 6CG7
B1 --+[E1 380 V]-- gnd
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 8 ohm
    winding h1 6.3 V ct 1 A
    winding h2 6.3 V ct 1 A
line --[F1 fuse 0.5 A slow]-- --[S1 switch 250 Vac 2 A]-- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis -- gnd
T1.h1.1 -- V1:4
T1.h1.2 -- V1:5
T1.h2.1 -- V2:4
T1.h2.2 -- V2:5
T1.h1.ct -- gnd
T1.h2.ct -- LIFT
B1 --[R3 330k 2 W 500 V]-- LIFT --[R4 82k]-- gnd
LIFT --+[C3 10 uF 160 V]-- gnd
signal IN 1 V 1 kHz
IN --[R6 1k]-- V1A.grid --[R5 470k]-- gnd
V1A.cathode --[R7 620 ohm]-- gnd
V1A.plate -- ML --[R8 10k 2 W]-- JL --[R9 1k]-- V2A.cathode
ML --[C5 100n 400 V film]-- GUL --[R10 1M]-- JL
GUL --[R11 1k]-- V2A.grid
V2A.plate -- B1
V2A.cathode --[C6 470n 630 V film]-- OUTL --[R12 150k]-- gnd
"""

TOTEM = """tube V2 6CG7
B1 --+[E1 250 V]-- gnd
signal IN 0.5 V 1 kHz
IN --[R12 1k]-- V2A.grid --[R11 470k]-- gnd
V2A.cathode --[R13 680 ohm]-- gnd
V2A.plate --[R14 680 ohm]-- V2B.cathode
V2A.plate --[R15 1k]-- V2B.grid
V2B.plate -- B1
V2B.cathode --[C7 2.2 uF 400 V film]-- OUT --[R17 220k]-- gnd
B1 --[R1 220k 1 W]-- LIFT --[R2 82k]-- gnd
LIFT --+[C1 10 uF 160 V]-- gnd
HEAT --+[E2 6.3 V 1 A]-- LIFT
HEAT --[V2 heater]-- LIFT
"""

STRING = """tube V1 6BE6
tube V2 6BA6
tube V3 6AV6
tube V4 6AQ5
AB --+[E1 battery 12.6 V 3 A]-- gnd
B1 --+[E2 200 V]-- gnd
AB --[V1 heater]-- HM
AB --[V2 heater]-- HM
AB --[R30 43 ohm 3 W]-- HM
HM --[V3 heater]-- gnd
HM --[V4 heater]-- gnd
"""
