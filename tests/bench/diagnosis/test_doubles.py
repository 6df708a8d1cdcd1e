"""Two faults at once are found where one does not explain the readings, and not where one does."""

from __future__ import annotations

import pytest
from tests.bench.drawings import BIAS

from coldcheck.bench.diagnosis.account import Evening
from coldcheck.bench.diagnosis.doubles import wanted
from coldcheck.bench.diagnosis.ranked import RARE, SELDOM, chance
from coldcheck.bench.diagnosis.readings import Reading
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve.faults.fault import Fault
from coldcheck.solve.faults.spread import SpreadSolver

POINTS = ("BP", "S", "NEG", "BL", "V3.grid", "V4.grid", "V3.plate", "V4.plate")


@pytest.fixture(scope="module")
def pair():
    return build_circuit(parse_drawing(BIAS, "pair.tube"))


def evening(circuit, *faults):
    shown = SpreadSolver(circuit).shown(faults)
    found = Evening(circuit)
    for point in POINTS:
        net = circuit.points[point]
        value = float(shown.volts[shown.nets.index(net)])
        found.readings.append(Reading(point, net, "dc", value))
    return found


@pytest.mark.parametrize(
    ("deviations", "count", "table"),
    # chi-square tables: 0.1 % and 5 % points (Abramowitz and Stegun, table 26.8)
    [(RARE, 1, 10.83), (RARE, 10, 29.59), (SELDOM, 1, 3.84), (SELDOM, 10, 18.31)],
)
def test_what_chance_exceeds_that_seldom(deviations, count, table):
    assert chance(count, deviations) == pytest.approx(table, rel=0.04)


def test_one_fault_is_one(pair):
    diagnosis, _ = evening(pair, Fault("drift", "R30", 2.0)).diagnosis()
    assert not wanted(diagnosis)
    assert "R30 high" in {r.suspect.key for r in diagnosis.groups()[0]}
    assert all(r.suspect.kind != "two" for r in diagnosis.ranked())


def test_two_are_found_where_one_explains_half(pair):
    found = evening(pair, Fault("drift", "R30", 2.0), Fault("drift", "R20", 6.0))
    account = found.account()
    assert account.explained
    first = account.leading[0].members[0]
    assert first.suspect.kind == "two"
    assert set(first.suspect.parts) == {"R20", "R30"}
    assert not first.refuted
    assert first.said.startswith("two faults: ")
    assert all(w.off < 3 for w in account.leading[0].weighed)
