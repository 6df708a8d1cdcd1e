"""Where a part stands, by which its usual values go."""

from __future__ import annotations

import pytest

from coldcheck.anatomy.ordinary import Place, oddness, place_of
from coldcheck.drawing import parse_drawing
from coldcheck.settings.apply import circuit_of

DIRECT = """\
tube V1 12AX7
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k 1 W]-- V1A.plate -- V1B.grid
B1 --[R2 47k 1 W]-- V1B.plate
V1B.cathode --[R3 1k5 0.5 W]-- gnd
V1A.cathode --[R4 1k5 0.5 W]-- gnd
V1A.grid --[R5 1M 0.5 W]-- gnd
"""
LEAK = "V1B.grid --[R6 470k 0.5 W]-- gnd\n"


@pytest.mark.parametrize(("leak", "place"), [("", Place.TAIL), (LEAK, Place.SMALL_CATHODE)])
def test_a_grid_with_a_leak_was_not_meant_to_hang_on_a_plate(leak: str, place: Place) -> None:
    """The short of a coupling capacitor made the next stage's cathode resistor look like a slip."""
    circuit = circuit_of(parse_drawing(DIRECT + leak))
    assert place_of(circuit, circuit.branches["R3"]) is place


@pytest.mark.parametrize(
    ("wire", "place"),
    [
        ("WARM --+[C9 10000 uF 25 V]-- gnd", Place.LOW_RESERVOIR),
        ("WARM --+[C9 10000 uF 40 V]-- gnd", Place.RESERVOIR),
        ("gnd --+[C9 100 uF 25 V]-- BIAS", Place.RESERVOIR),
    ],
)
def test_the_dc_of_heaters_has_reservoirs_of_its_own(wire: str, place: Place) -> None:
    circuit = circuit_of(parse_drawing(DIRECT + wire))
    assert place_of(circuit, circuit.branches["C9"]) is place


CHOKE_INPUT = """\
mains 120 V 60 Hz
transformer T1
primary pri 120 V 3 ohm
winding ht 300 V ct 300 V 200 mA 60 ohm
T1.ht.ct -- gnd
T1.ht.1 --[D1 1N4007]-> RAW
T1.ht.2 --[D2 1N4007]-> RAW
RAW --[L1 10 H 100 ohm]-- B1
B1 --+[C1 40 uF 600 V]-- gnd
B1 --[R1 82k 3 W]-- gnd
"""


@pytest.mark.parametrize(
    ("text", "place", "decades"),
    [
        # 6 pi 60 Hz 10 H = 11.31 kohm; 82 kohm is log10(82 / 11.31) decades above it.
        (CHOKE_INPUT, Place.CHOKE_BLEEDER, 0.860),
        (CHOKE_INPUT.replace("60 Hz", "50 Hz"), Place.CHOKE_BLEEDER, 0.940),
        (CHOKE_INPUT.replace("L1 10 H 100 ohm", "R9 100 ohm 5 W"), Place.ACROSS_RAIL, 0.0),
    ],
)
def test_a_bleeder_behind_an_input_choke_has_its_critical_load(
    text: str, place: Place, decades: float
) -> None:
    circuit = circuit_of(parse_drawing(text))
    branch = circuit.branches["R1"]
    assert place_of(circuit, branch) is place
    assert oddness(circuit, branch, 82e3) == pytest.approx(decades, abs=1e-3)


def test_a_resistor_from_a_plate_to_the_next_grid_is_its_stopper() -> None:
    text = DIRECT.replace("V1A.plate -- V1B.grid", "V1A.plate --[R7 470]-- V1B.grid")
    circuit = circuit_of(parse_drawing(text))
    assert place_of(circuit, circuit.branches["R7"]) is Place.GRID_STOPPER
    assert place_of(circuit, circuit.branches["R1"]) is Place.SMALL_PLATE


def test_what_sets_an_adjustable_regulator() -> None:
    text = "regulator U1 LM317\nIN -- U1.in\nU1.out --[R1 220]-- U1.adj --[R2 820]-- gnd\n"
    circuit = circuit_of(parse_drawing(text))
    assert place_of(circuit, circuit.branches["R1"]) is Place.REGULATOR_SET
    assert place_of(circuit, circuit.branches["R2"]) is None


PORTABLE = """\
tube V4 DL92
AP --+[E1 1.5 V]-- gnd
AP -- V4:1 -- V4:7
V4:5 -- gnd
BP --+[E2 67.5 V]-- BM
BM --[S1 switch]-- BN --[R1 390 ohm]-- gnd
V4.grid --[R2 2M2]-- BN
BP -- V4.screen
BP --[R3 1k]-- V4.plate
"""


def test_the_resistor_in_a_supply_s_return_makes_a_bias() -> None:
    circuit = circuit_of(parse_drawing(PORTABLE))
    branch = circuit.branches["R1"]
    assert place_of(circuit, branch) is Place.BACK_BIAS
    assert oddness(circuit, branch, 390.0) == 0
    assert oddness(circuit, branch, 3900.0) == pytest.approx(0.415, abs=1e-3)  # log10(3900 / 1500)
    shunted = circuit_of(parse_drawing(PORTABLE + "BN --[R9 390 ohm]-- gnd\n"))
    assert place_of(shunted, shunted.branches["R1"]) is not Place.BACK_BIAS
