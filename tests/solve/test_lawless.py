"""A tube of whose current nothing is on file: what hangs on it has no number, the rest has."""

from __future__ import annotations

import pytest

from coldcheck import review_text
from coldcheck.circuit import build_circuit
from coldcheck.circuit.tubes import known_types, tube_type
from coldcheck.drawing import parse_drawing
from coldcheck.solve.cycle.defined import trial_perveances

BENCH = """B --+[E1 250 V]-- gnd
tube V1 12AX7
tube V2 2D21
V1B.plate -- V1B.grid -- V1B.cathode -- gnd
V2.cathode -- V2.grid2 -- gnd
V2.grid --[R7 100k]-- gnd
B --[R1 1k]-- B1 --[R2 100k]-- V1A.plate
V1A.cathode --[R3 1k5]-- gnd
V1A.grid --[R4 1M]-- gnd
"""
ALONE = BENCH + "B1 --[R5 {}]-- V2.plate\n"
OPEN = BENCH + "B1 --[R5 {}]-- gnd\nB2 --[R6 1]-- V2.plate\n"


def test_the_type_has_no_law() -> None:
    assert tube_type("2D21").sections[0].law is None


def test_what_hangs_on_it_has_no_number_and_the_rest_a_range(solved) -> None:
    solution = solved(ALONE.format("47k"))
    assert "V2.plate" not in solution.waves
    assert "V2, of which no law is on file" in solution.why_lost("V2.plate")
    assert "V2" not in solution.readings
    lit, dark = solved(BENCH + "B1 --[R5 47k]-- gnd"), solved(BENCH)
    spread = solution.spread()
    for net in ("B1", "V1A.plate"):
        low, high = sorted((lit.waves[net].dc, dark.waves[net].dc))
        at, off = solution.waves[net].dc, spread.volts(net)
        assert low - 0.5 <= at <= high + 0.5, net
        assert at - off <= low, net
        assert high <= at + off, net
    assert "V2" in spread.causes[-1]


def test_near_it_nothing_has_a_number(solved) -> None:
    """Through 100 ohm the unknown current could take the rail down by most of its volts."""
    solution = solved(ALONE.format("100"))
    assert not {"B1", "V1A.plate"} & set(solution.waves)
    assert solution.waves["B"].dc == pytest.approx(250)


def test_another_supply_does_not_notice(solved) -> None:
    aside = "C --+[E2 200 V]-- gnd\nC --[R8 10k]-- D --[R9 10k]-- gnd\n"
    solution = solved(ALONE.format("100") + aside)
    assert solution.waves["D"].dc == pytest.approx(100)


def test_a_socket_that_nothing_feeds_disturbs_nothing(solved) -> None:
    lines = [line for line in BENCH.splitlines() if "V2" not in line]
    bare, with_it = solved("\n".join(lines)), solved(BENCH)
    assert with_it.waves["V1A.plate"].dc == pytest.approx(bare.waves["V1A.plate"].dc)
    assert with_it.readings["V1A"].plate_ma == pytest.approx(bare.readings["V1A"].plate_ma)


def test_pulled_and_cold_all_is_known(solved) -> None:
    for state in ("pulled V2", "cold"):
        assert "V2.plate" in solved(ALONE.format("47k"), state).waves


def test_the_verdict_is_undecided_and_says_why() -> None:
    review = review_text(ALONE.format("47k"))
    assert review.verdict() == "undecided"
    (said,) = [n for n in review.not_judged if n.kind.value == "no-law"]
    assert said.at == ("V2",)
    assert "no law on file for V2 (2D21)" in said.reason
    assert not [n for n in review_text(BENCH).not_judged if n.kind.value == "no-law"]


RECTIFIED = """mains 230 V 50 Hz
transformer T1
    primary pri  230 V  15 ohm
    winding ht   260 V ct 260 V  110 mA  200 ohm
    winding fil    4 V  2 A
tube V1 {} heater T1.fil
line -- T1.pri.1
T1.pri.2 -- neutral
T1.ht.1 -- V1.plate1
T1.ht.2 -- V1.plate2
T1.ht.ct -- gnd
T1.fil.1 -- RES --+[C1 32 uF 450 V]-- gnd
RES --[R1 4k7 20 W]-- gnd
"""


@pytest.mark.parametrize("like", ["5Y3GT", "5R4GY"])
def test_a_rectifier_without_a_law_lies_about_those_of_its_kind(like: str, solved) -> None:
    """What sheets give for filament types of its size: a 5Y3GT drops 37 V at an AZ1's 60 mA.

    (60 V at 125 mA, three-halves power; the 5R4GY's 67 V at 250 mA are 26 V there.)
    """
    assert tube_type("AZ1").sections[0].law is None
    solution = solved(RECTIFIED.format("AZ1"))
    other = solved(RECTIFIED.replace("fil    4 V", "fil    5 V").format(like))
    apart = abs(other.waves["RES"].dc - solution.waves["RES"].dc)
    assert 0.0 < apart <= solution.spread().volts("RES")


def test_the_range_is_said_and_the_rest_is_judged() -> None:
    review = review_text(RECTIFIED.format("AZ1"))
    (said,) = [n for n in review.not_judged if "no law on file for V1" in n.reason]
    assert said.kind.value == "assumed"
    assert not [n for n in review.not_judged if n.kind.value == "no-law"]


@pytest.mark.parametrize("kind", ["rectifier", "indicator"])
def test_the_ranges_hold_every_law_on_file(kind: str) -> None:
    """Vacuum types only: gas and mercury rectifiers drop 10 to 15 V whatever the cathode."""
    found = [(t, s) for t in map(tube_type, known_types()) for s in t.sections
             if s.kind.value == kind and s.law is not None and t.name not in GAS]  # fmt: skip
    assert len(found) > (30 if kind == "rectifier" else 2)
    for tube, section in found:
        text = f"tube V1 {tube.name}\n"
        circuit = build_circuit(parse_drawing(text))
        least, middle, most = trial_perveances(circuit, next(circuit.sections()))
        law = section.law.parameters
        own = law["target-perveance" if kind == "indicator" else "perveance"]
        assert least < middle < most
        assert 0.9 * least <= own <= 1.1 * most, tube.name


GAS = ("82", "83", "816", "866A", "872A", "3B28")
