"""A direct-coupled grid while its own cathode is cold."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.rules.grid.cold import positive_while_cold

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "grid.positive-while-cold"
SUPPLY = """
mains 120 V 60 Hz
transformer T1
    primary pri 120 V 4 ohm
    winding ht 200 V ct 200 V 200 ohm
    winding fil 5 V 0.02 ohm
    winding warm 6.3 V 0.02 ohm
T1.ht.ct -- gnd
T1.warm.2 -- gnd
B1 --+[C1 40 uF 450 V]-- gnd
B1 --[R9 220k 1 W]-- gnd
"""
SILICON = "T1.ht.1 --[D1 1N4007]-> B1\nT1.ht.2 --[D2 1N4007]-> B1\n"
TUBE = "tube V3 {} heater T1.fil\nT1.ht.1 -- V3.plate1\nT1.ht.2 -- V3.plate2\nV3:8 -- B1\n"
STAGES = """
tube V1 12AU7 heater T1.warm
B1 --[R1 8k2 5 W]-- V1A.plate
V1A.cathode --[R2 1k]-- gnd
V1A.grid --[R3 1M]-- gnd
B1 -- V1B.plate
V1B.cathode --[R4 100k 1 W]-- gnd
"""
WIRE = "V1A.plate -- V1B.grid\n"


def test_silicon_puts_the_full_supply_on_the_grid(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    looked = review(SUPPLY + SILICON + STAGES + WIRE)
    found = only(looked, RULE)
    assert (found.level, found.at, found.state) == ("notice", ("V1B",), "cold")
    # 200 V a half: 283 V of peak less two diodes' share and the bleeder's ripple; no plate current
    # in R1, none in R4.
    volts = found.evidence["grid_cathode"].value
    assert 200 * math.sqrt(2) - 5 < volts < 200 * math.sqrt(2)
    assert found.evidence["cathode"].value == pytest.approx(0, abs=0.01)
    assert found.excess == pytest.approx(volts / 50)
    assert "V1A.plate" in found.message


def test_a_filament_rectifier_does_the_same(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    found = only(review(SUPPLY + TUBE.format("5Y3GT") + STAGES + WIRE), RULE)
    assert (found.level, found.state) == ("notice", "cold")


def test_with_a_slow_rectifier_it_is_advice(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    found = only(review(SUPPLY + TUBE.format("GZ34") + STAGES + WIRE), RULE)
    assert (found.level, found.state) == ("advice", "warming: rectifier first")
    assert (found.certainty, "rectifier be hot first" in found.message) == ("possible", True)


@pytest.mark.parametrize(("load", "level"), [("9k9", "notice"), ("10k", "advice")])
def test_a_plate_load_feeds_no_arc(
    load: str, level: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    stages = STAGES.replace("R1 8k2 5 W", f"R1 {load} 5 W")
    assert only(review(SUPPLY + SILICON + stages + WIRE), RULE).level == level


def test_a_rectifier_that_holds_the_grid_is_named(review: Callable[[str], Review]) -> None:
    stages = STAGES.replace("R1 8k2", "R1 12k")
    looked = review(SUPPLY + SILICON + stages + "B1 --[R5 1k]-- V1B.grid\n")
    # The engine tells it with a grid that is positive when warm.
    (found,) = positive_while_cold.judge(Case(looked.circuit, looked.solutions))
    assert found.message.endswith("straight from D1 and D2")
    assert found.level == "notice"


@pytest.mark.parametrize(
    ("coupling", "count"),
    [
        ("V1A.plate --[R5 1k]-- V1B.grid\n", 1),
        ("V1A.plate --[R5 9k9]-- V1B.grid\n", 1),
        ("V1A.plate --[R5 10k]-- V1B.grid\n", 0),
        ("V1A.plate --[R5 220k]-- V1B.grid\n", 0),
        # Nothing but a capacitor: the grid stays at gnd.
        ("V1A.plate --[C5 22 nF 400 V]-- V1B.grid --[R5 1M]-- gnd\n", 0),
        (WIRE + "V1B.grid --[D3 1N4007]-> V1B.cathode\n", 0),
        # The diode the wrong way round holds nothing.
        (WIRE + "V1B.cathode --[D3 1N4007]-> V1B.grid\n", 1),
    ],
)
def test_what_stands_between(
    coupling: str, count: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    only(review(SUPPLY + SILICON + STAGES + coupling), RULE, count)


@pytest.mark.parametrize(("upper", "volts"), [("27k", 60), ("18k", None)])
def test_fifty_volts_is_the_line(
    upper: str, volts: float | None, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """A divider already holds the cathode up: 283 V x upper / (upper + 100k) is left.

    27k: 60 V. 18k: 43 V, which is let pass.
    """
    lift = f"B1 --[R6 {upper} 5 W]-- V1B.cathode\n"
    found = only(review(SUPPLY + SILICON + STAGES + WIRE + lift), RULE, 0 if volts is None else 1)
    if volts is not None:
        assert found.evidence["grid_cathode"].value == pytest.approx(volts, rel=0.04)
        assert found.evidence["cathode"].value == pytest.approx(223, rel=0.04)


def test_an_undrawn_heater_is_said(review: Callable[[str], Review]) -> None:
    text = "B1 --+[E1 300 V]-- gnd\n" + STAGES.replace(" heater T1.warm", "") + WIRE
    looked = review(text)
    assert RULE not in {f.rule for f in looked.findings}
    (said,) = [n for n in looked.not_judged if n.rule == RULE]
    assert (said.at, "not drawn" in said.reason) == (("V1B",), True)


def test_a_filament_tube_is_hot_before_anything_is_coupled_to_it(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """A 2A3 behind a 5U4G: both are filaments; its grid never stands above a cold cathode."""
    text = SUPPLY.replace("winding fil", "winding hot 2.5 V ct 0.02 ohm\n    winding fil")
    direct = (
        "tube V4 2A3 heater T1.hot\nT1.hot.ct --[R7 20k 10 W]-- gnd\nB1 -- V4.plate\n"
        "V1A.plate -- V4.grid\n"
    )
    only(review(text + TUBE.format("5U4G") + STAGES + direct), RULE, 0)
    # Behind silicon the first second is another matter.
    found = only(review(text + SILICON + STAGES + direct), RULE)
    assert (found.at, found.state, found.level) == (("V4",), "warming: silicon first", "notice")
