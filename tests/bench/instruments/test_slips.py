"""What a tip that slips does: figures by hand."""

from math import inf

import pytest
from tests.bench.conftest import circuit_of
from tests.bench.drawings import BIAS, LIVE

from coldcheck.bench.chart.chart import Bench
from coldcheck.bench.instruments import slips
from coldcheck.bench.instruments.clipped import ClipSolver
from coldcheck.bench.instruments.slips import slips_at


def slipped(bench, point, other="gnd"):
    circuit, expected = bench.circuit, bench.expected
    solver = ClipSolver(circuit, expected.state.name)
    return slips_at(circuit, point, other, expected.solution, solver)


DIVIDER = (
    "B1 --+[E1 100 V]-- gnd\n"
    "B1 --[R1 500 ohm 50 W]-- M --[R2 2k 50 W]-- N --[R3 100 ohm 1 W]-- gnd\n"
)


def test_a_bridge_by_hand(bench):
    """M to N: 100 V over 600 ohm, 167 mA, all through the tip; R3 turns 2.78 W into heat."""
    found = slipped(bench(DIVIDER), "M")
    [worst] = found.harmful
    assert worst.to == "the other lead of R2"
    assert worst.done.dc_amps == pytest.approx(100 / 600, rel=1e-3)
    [over] = [x for x in worst.done.findings if x.rule == "resistor.over-power"]
    assert over.at[0] == "R3"
    assert over.evidence["power"].value == pytest.approx(100 * (100 / 600) ** 2, rel=1e-3)


def test_without_harm_it_is_said_so(bench):
    """M to gnd: R1 turns 20 W into heat, and is made for 50; M to B1: R3 0.23 W."""
    found = slipped(bench(DIVIDER), "M")
    assert set(found.quiet) == {"gnd", "the other lead of R1"}
    assert found.unknown == ()


def test_from_a_grid_to_the_screen_the_tube_runs_away(bench):
    found = slipped(bench(BIAS), "V3.grid")
    assert [s.to for s in found.harmful] == ["V3:4 (screen)", "gnd"]
    worst = found.harmful[0].done
    [lost] = worst.unbiased
    assert lost.section == "V3"
    assert lost.after > 0
    assert "grid.positive" in {x.rule for x in worst.findings}
    [more] = [x for x in worst.findings if x.rule == "tube.plate-dissipation" and "V3" in x.at]
    assert more.excess > 2


def test_the_other_tip_is_beside_it(bench):
    """Measured from B1 the tips can touch: all 100 V on R3, 1 A through the tips."""
    found = slipped(bench(DIVIDER), "N", "B1")
    assert found.harmful[0].to == "B1"
    assert found.harmful[0].done.dc_amps == pytest.approx(1.0, rel=1e-3)


def test_a_short_of_the_mains_ahead_of_the_fuse_is_no_harmless_one(bench):
    """No part passes a limit: what is shorted is the house."""
    found = slipped(bench(LIVE), "line")
    [short] = [s for s in found.harmful if s.to == "gnd"]
    assert short.shorts
    assert short.done.fuses == ()


@pytest.mark.parametrize(("volts", "burns"), [("19.9 V", False), ("20.3 V", True)])
def test_where_a_tip_burns(bench, volts, burns):
    """Behind 1 ohm (10 mohm of the tip) that may turn 1 kW into heat: no part passes a limit."""
    text = f"B1 --+[E1 {volts}]-- gnd\nB1 --[R1 1 ohm 1000 W]-- M --[R2 1k 1 W]-- gnd\n"
    found = slipped(bench(text), "M")
    assert ("gnd" in found.quiet) is not burns
    assert bool(found.harmful) is burns


def test_metal_that_goes_live(bench):
    """Held off by 220 k: 120 V on it with the tip between."""
    found = slipped(bench(LIVE), "A")
    [live] = [s for s in found.harmful if s.to == "chassis"]
    assert "fault.live-terminal" in {x.rule for x in live.done.findings}
    assert found.harmful[0] is live


UNEARTHED = (
    "mains 120 V 60 Hz\ntransformer T1\n    primary pri 120 V 5 ohm\n    winding low 12 V 1 ohm\n"
    "line -- T1.pri.1\nneutral -- T1.pri.2\nT1.low.1 --[R1 100 ohm 5 W]-- T1.low.2\n"
    "T1.low.2 -- gnd\n"
)


def test_mains_without_an_earth_are_not_called_harmless(bench):
    found = slipped(bench(UNEARTHED), "line")
    assert "gnd" in found.mains
    assert "gnd" not in found.quiet
    earthed = slipped(bench(f"{UNEARTHED}earth -- chassis -- gnd\n"), "line")
    assert earthed.mains == ()
    assert "gnd" in {s.to for s in earthed.harmful}


def test_what_is_not_solved_is_said(bench):
    text = "B1 --+[E1 100 V]-- gnd\nB1 --[R1 1k]-- M --[R2 1k]-- gnd\nB1 --[R3 ?]-- gnd\n"
    found = slipped(bench(text), "M")
    assert {to for to, _ in found.unknown} == {"gnd", "the other lead of R1"}
    assert all("value" in why for _, why in found.unknown)


def test_bounded(bench, monkeypatch):
    """The highest voltage first; the rest is named."""
    text = "B1 --+[E1 100 V]-- gnd\n"
    text += "".join(f"B1 --[R{k} {k}k 20 W]-- M{k} --[R1{k} 1k 20 W]-- gnd\n" for k in range(1, 5))
    monkeypatch.setattr(slips, "SOLVED", 2)
    found = slipped(bench(text), "B1")
    solved = {s.to for s in found.harmful} | set(found.quiet)
    assert solved == {"gnd", "the other lead of R4"}
    assert len(found.left_out) == 3


def test_a_point_that_has_no_volts_comes_first():
    text = "B1 --+[E1 9 V]-- gnd\nB1 --[R1 1k]-- gnd\nX1 --[R2 1k]-- X2\n"
    bench = Bench(circuit_of(text))
    assert slips._volts(bench.expected.solution, "X1", "gnd") == inf
