"""Grids that stand above their cathodes: readings on both sides of each limit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.judge.finding import Blame, Finding
from coldcheck.rules.grid.positive import positive
from coldcheck.solve.solution import Solution, State, TubeReading

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIR = """tube V1 6V6GT
tube V2 6V6GT
B1 --+[E1 250 V]-- gnd
BIAS --+[E2 9 V]-- gnd
BIAS --[R1 100k]-- V1.grid
BIAS --[R2 100k]-- V2.grid
V1.cathode --[R3 270 ohm 5 W]-- gnd
V2.cathode --[R4 270 ohm 5 W]-- gnd
B1 --[R5 1k 5 W]-- V1.screen
B1 --[R6 1k 5 W]-- V2.screen
B1 --[R7 2k2 10 W]-- V1.plate
B1 --[R8 2k2 10 W]-- V2.plate
"""


def judged(review: Callable[[str], Review], *readings: TubeReading) -> list[Finding]:
    """What the rule says of invented readings of V1 and V2."""
    circuit = review(PAIR).circuit
    named = dict(zip(("V1", "V2"), (*readings, TubeReading()), strict=False))
    warm = Solution(State("warm", "warm"), True, 0.0, 1, "", circuit, readings=named)
    return [o for o in positive.judge(Case(circuit, {"warm": warm})) if isinstance(o, Finding)]


@pytest.mark.parametrize(
    ("volts", "micro", "plate", "certainty"),
    [
        (0.48, 0, 1.0, None),
        (0.52, 0, 1.0, "likely"),
        (0.52, 0, 0.0, None),  # no plate current
        (0.52, 0, 0.9e-3, None),  # nor what the tail of a law leaves of it
        (0.52, 0, 1.1e-3, "likely"),
        (-0.02, 22, 0.9e-3, None),
        (-0.02, 22, 1.1e-3, "likely"),
        (0.2, 19, 1.0, None),
        (0.2, 21, 0.0, "likely"),
        (0.2, 39, 1.0, "likely"),
        (0.2, 41, 1.0, "certain"),
    ],
)
def test_volts_and_microamperes(
    volts: float, micro: float, plate: float, certainty: str | None, review: Callable[[str], Review]
) -> None:
    found = judged(review, TubeReading(grid_v=volts, grid_ma=micro / 1e3, plate_ma=plate))
    assert [f.certainty for f in found] == ([] if certainty is None else [certainty])


def test_tubes_on_one_bias_are_one_finding(review: Callable[[str], Review]) -> None:
    one, other = (TubeReading(grid_v=v, grid_ma=0.1 * v, plate_ma=50.0) for v in (1.0, 2.0))
    (found,) = judged(review, one, other)
    assert found.at == ("V1", "V2")
    assert found.message.startswith("V2: ")
    assert found.message.endswith("(also V1)")


COUPLED = """B --+[E1 300 V]-- gnd
tube V1 12AX7
V1A.grid --[R9 1M]-- gnd
V1A.cathode --[R6 1k5]-- gnd
B --[R7 100k]-- V1A.plate
V1A.plate {by} EQ
EQ --[R10 2M2]-- gnd
EQ -- V1B.grid
V1B.cathode --[R11 {foot}]-- gnd
B --[R12 100k]-- V1B.plate
"""


def test_the_resistor_that_brings_a_plates_voltage_is_named(review) -> None:
    looked = review(COUPLED.format(by="--[R8 220k]--", foot="1k5"))
    (found,) = [f for f in looked.findings if f.rule == "grid.positive"]
    assert found.at == ("V1B", "R8")
    assert "R8 brings it the direct voltage of V1A.plate" in found.message
    assert found.remedy == "Put a capacitor between V1A.plate and R8, rated for the whole supply"
    blocked = review(COUPLED.format(by="--[C1 100 nF]-- X --[R8 220k]--", foot="1k5"))
    assert "grid.positive" not in {f.rule for f in blocked.findings}


RULE = "grid.positive"


def test_own_plate_brings_it_too(review: Callable[[str], Review]) -> None:
    """A tone network from a plate to its own grid, the blocking capacitor left out."""
    drawn = COUPLED.format(by="--[C1 100 nF]-- A --[R8 220k]--", foot="1k5")
    (found,) = [f for f in review(f"{drawn}V1B.plate --[R13 220k]-- EQ\n").findings
                if f.rule == RULE]  # fmt: skip
    assert (found.at, found.blame) == (("V1B", "R13"), Blame.SLIP)
    assert "R13 brings it the direct voltage of V1B.plate" in found.message


def test_a_stage_on_a_lifted_cathode_is_made_for_it(review: Callable[[str], Review]) -> None:
    """10 kohm make it a follower, which takes a plate on purpose: no part is named."""
    drawn = COUPLED.format(by="--[R8 220k]--", foot="10k 2 W")
    (found,) = [f for f in review(drawn).findings if f.rule == RULE]
    assert (found.at, found.blame) == (("V1B",), Blame.EFFECT)


def test_a_capacitor_left_out(
    sample: Callable[[str, str], Review], only: Callable[..., Finding]
) -> None:
    found = only(sample(f"{RULE}/from-plate", "wrong"), RULE)
    assert (found.at, found.blame, found.level) == (("V1B", "R4", "R5"), Blame.SLIP, "notice")
    assert found.evidence["grid"].value == pytest.approx(0.586, rel=0.02)
    assert found.remedy.startswith("Put a capacitor between V1A.plate and R4")
    assert not sample(f"{RULE}/from-plate", "right").findings


def test_a_leak_on_the_supply(
    sample: Callable[[str, str], Review], only: Callable[..., Finding]
) -> None:
    found = only(sample(f"{RULE}/led-to-supply", "wrong"), RULE)
    assert (found.at, found.blame) == (("V1B", "R4", "R5"), Blame.WIRING)
    assert found.evidence["grid_current"].value == pytest.approx(0.51e-3, rel=0.02)
    assert found.remedy == "Lead R4 to gnd, or to a negative bias, and not to B1"
    assert not sample(f"{RULE}/led-to-supply", "right").findings


def test_a_bias_that_came_out_positive_feeds_no_plate(review: Callable[[str], Review]) -> None:
    """Its leaks are right: what is wrong is in the bias supply."""
    drawn = PAIR.replace("E2 9 V", "E2 25 V").replace("270 ohm", "10 ohm")
    (found,) = [f for f in review(drawn).findings if f.rule == RULE]
    assert (found.at, found.blame) == (("V1", "V2"), Blame.EFFECT)
