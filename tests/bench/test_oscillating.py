"""Charts and readings of stages that oscillate: what is not known is not said."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tests.anatomy.oscillating import COLPITTS, circuit, pair

from coldcheck.anatomy.running import swinging, unforetold
from coldcheck.bench.chart.chart import Bench
from coldcheck.bench.diagnosis.channels import channels_of
from coldcheck.bench.diagnosis.judged import HIGH, LOW, UNKNOWN, WITHIN, JudgeReadings
from coldcheck.bench.diagnosis.readings import AC, DC, Reading
from coldcheck.bench.instruments.instruments import DC_METER
from coldcheck.solve.engine import solve_state
from coldcheck.solve.faults.spread import SpreadSolver

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit


def judged(of: Circuit, point: str, value: float, kind: str = DC) -> str:
    reading = Reading(point, of.points[point], kind, value)
    return JudgeReadings(of).one(reading).verdict


def test_the_chart_says_what_it_cannot_know() -> None:
    of = circuit(COLPITTS.format(leak="47k"))
    expected = Bench(of).expected
    assert expected.voltages("V1.grid") is None
    assert expected.reason("V1.grid") == (
        "V1 oscillates, and its grid makes its own bias: -23.5 to -2.35 V by practice (0.05 to "
        "0.5 mA through R3); about 0 V says that it stands still"
    )
    assert expected.reason("V1.plate") == (
        "V1 oscillates, and takes less than at rest: how much is not known"
    )
    assert expected.reason("REG") == ""
    (row,) = [r for r in Bench(of).chart().rows() if r.pin.lead == "grid"]
    assert row.volts is None
    assert "no-voltage" in [n.kind for n in row.notes]
    pulled = Bench(of, "pulled V1").expected
    assert pulled.voltages("V1.plate") is not None


def test_a_leak_outside_practice_gives_no_range() -> None:
    expected = Bench(circuit(COLPITTS.format(leak="1M"))).expected
    assert expected.reason("V1.grid") == "V1 oscillates, and its grid makes its own bias"
    assert expected.practice("V1.grid") is None


@pytest.mark.parametrize(
    ("value", "verdict"),
    [(-12.0, WITHIN), (-23.4, WITHIN), (-23.6, LOW), (-2.4, WITHIN), (-2.3, HIGH), (0.0, HIGH)],
)
def test_a_grid_is_judged_by_practice(value: float, verdict: str) -> None:
    """A working oscillator is right, one that stands still is not."""
    assert judged(circuit(COLPITTS.format(leak="47k")), "V1.grid", value) == verdict


def test_what_else_hangs_on_it_is_not_judged() -> None:
    of = circuit(COLPITTS.format(leak="47k"))
    assert judged(of, "V1.plate", 170.0) == UNKNOWN
    assert judged(of, "V1.grid", 3.0, AC) == UNKNOWN
    assert judged(of, "REG", 200.0) == WITHIN


def test_a_ladder_swings_and_its_grid_charges() -> None:
    of = pair("signal.oscillator-too-weak")
    (swing,) = swinging(solve_state(of))
    assert (swing.section.name, swing.grid) == ("V1A", "V1A.grid")
    assert swing.hertz == pytest.approx(15.25, rel=0.01)
    expected = Bench(of).expected
    assert expected.voltages("V1A.grid") is None
    assert expected.reason("V1A.grid") == "V1A oscillates at 15.2 Hz, and its grid charges itself"
    assert expected.voltages("V1A.plate") is not None
    notes = {r.pin.lead: [n.kind for n in r.notes] for r in Bench(of).chart().rows()}
    assert "swings" in notes["A.plate"]
    rest = expected.voltages("V1A.plate")
    assert rest is not None
    assert judged(of, "V1A.plate", rest.dc.value) == WITHIN
    assert judged(of, "V1A.plate", rest.dc.value + 60) == UNKNOWN
    assert judged(of, "V1A.grid", -1.5) == UNKNOWN


def test_one_that_stands_still_is_as_at_rest() -> None:
    of = pair("signal.oscillator-too-weak", "wrong")
    assert swinging(solve_state(of)) == ()
    assert Bench(of).expected.voltages("V1A.grid") is not None
    assert judged(of, "V1A.plate", 20.0) == LOW


def test_a_lamp_holds_the_swing_and_so_the_mean() -> None:
    of = pair("signal.lamp-levels-backwards")
    assert unforetold(of) == frozenset()
    assert Bench(of).expected.voltages("V1A.plate") is not None


def test_the_diagnosis_leaves_out_what_an_oscillator_makes() -> None:
    of = circuit(COLPITTS.format(leak="47k"))
    good = SpreadSolver(of).shown(())
    assert not isinstance(good, str)
    found = {(c.kind, c.point) for c in channels_of(of, good, DC_METER)}
    assert {k for k, p in found if p in ("V1.grid", "V1.plate", "V1.cathode")} == {"ohm"}
    assert (DC, "REG") in found


@pytest.mark.parametrize("side", ["right", "wrong"])
def test_a_grid_of_a_stage_too_weak_is_at_rest(side: str) -> None:
    of = pair("signal.oscillator-too-weak/coil", side)
    assert (Bench(of).expected.voltages("V1.grid") is None) is (side == "right")
