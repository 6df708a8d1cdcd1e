"""Plugs: a mains plug either way round, a connector between two chassis in and out.

Outside check: the mains by its landmarks, and Ohm's law.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.bench.chart.ohmmeter import Ohmmeter
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_states

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

SET = """mains 120 V 60 Hz
neutral -- earth
plug PL1
line -- PL1.line
neutral -- PL1.neutral
PL1.1 --[F1 500 mA 250 V]-- HOT --[R1 1k 20 W]-- COLD -- PL1.2
COLD -- gnd
"""
PAIR = """B1 --+[E1 250 V]-- gnd
connector P1 4{word}
B1 -- P1.a1
P1.b1 -- B2 --[R1 100k]-- P1.b2
P1.a2 -- gnd
"""


def circuit(text: str):
    built = build_circuit(parse_drawing(text))
    assert not built.problems, built.problems
    return built


def test_turned_it_has_the_common_on_the_line() -> None:
    made = circuit(SET)
    states = solve_states(made)
    earth = made.points["neutral"]
    for name, volts in (("warm", 0), ("turned PL1", 120)):
        found = states[name]
        assert found.converged
        assert found.between(made.points["COLD"], earth).rms == pytest.approx(volts, abs=0.1)
        assert found.current("R1").rms == pytest.approx(0.12, rel=1e-3)


METAL = """mains 120 V 60 Hz
plug PL1
line -- PL1.line
neutral -- PL1.neutral
neutral -- earth
PL1.1 --[F1 500 mA 250 V]-- HOT --[R1 1k 20 W]-- PL1.2
PL1.2 --[R2 {ohms}]-- chassis
chassis -- gnd
jack J1
J1.sleeve -- chassis
J1.tip --[R3 1M]-- chassis
"""


def test_what_hands_reach_is_judged_turned(review: Callable[[str], Review]) -> None:
    """A chassis on the neutral as drawn is on the line when it is turned."""
    (hit,) = [f for f in review(METAL.format(ohms="1k")).findings if f.rule == "mains.live-chassis"]
    assert hit.level == "danger"
    found = review(METAL.format(ohms="1k"))
    turned = found.solutions["turned PL1"]
    assert turned.converged
    made = turned.circuit
    drop = turned.between(made.points["chassis"], made.points["neutral"])
    assert drop.rms == pytest.approx(120, rel=0.01)


@pytest.mark.parametrize(
    ("word", "state", "other"),
    [("", "warm", "unplugged P1"), (" plugged", "warm", "unplugged P1"),
     (" unplugged", "plugged P1", "warm")],
)  # fmt: skip
def test_a_connector_in_and_out(word: str, state: str, other: str) -> None:
    states = solve_states(circuit(PAIR.format(word=word)))
    assert states[state].waves["B2"].dc == pytest.approx(250, rel=1e-3)
    assert states[state].current("R1").dc == pytest.approx(2.5e-3, rel=1e-3)
    assert "B2" not in states[other].waves or abs(states[other].waves["B2"].dc) < 1


def test_an_ohmmeter_goes_through_what_is_plugged() -> None:
    assert Ohmmeter(circuit(PAIR.format(word=""))).read("B1").nominal == pytest.approx(100e3)
    assert Ohmmeter(circuit(PAIR.format(word=" unplugged"))).read("B1").nominal == float("inf")


def test_a_plug_does_not_take_the_fuse_from_the_line(review: Callable[[str], Review]) -> None:
    """Drawn with the fuse in the lead of pin 1 it is in the line, and no lead is joined to both."""
    rules = {f.rule for f in review(SET).findings}
    assert not {r for r in rules if r.startswith("mains.fuse") or r == "mains.no-fuse"}


def test_heater_halves_in_parallel_by_a_wire() -> None:
    """A 12AX7 with 4 and 5 joined and 9 the other end: 6.3 V, 0.3 A (RC-30, from memory)."""
    text = (
        "transformer T1\n    primary pri 120 V\n    winding warm 6.3 V ct 2.5 A 0.001 ohm\n"
        "T1.warm.ct -- gnd\ntube V1 12AX7\nV1:4 -- V1:5 -- T1.warm.1\nV1:9 -- T1.warm.2\n"
    )
    made = circuit(text)
    assert made.tubes["V1"].heater.mode == "parallel"
    warm = solve_states(made)["warm"]
    amps = sum(warm.current(b.name).rms for b in made.tubes["V1"].heater.branches)
    assert amps == pytest.approx(0.3, rel=0.12)
    series = circuit(text.replace("V1:4 -- V1:5 -- T1.warm.1\n", "V1:4 -- T1.warm.1\n")
                     .replace("V1:9 -- T1", "V1:5 -- T1"))  # fmt: skip
    assert series.tubes["V1"].heater.mode != "parallel"
