"""A signal at an electrode or a coil: what comes in there, no generator wired to it."""

from __future__ import annotations

import pytest

from coldcheck.anatomy.touchable import touchables
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

AVC = """B --+[E1 200 V]-- gnd
NEG --[E2 3 V]+-- gnd
tube V1 6BA6
transformer L1
    winding ant 200 uH 4 ohm
signal {} 1 mV 1 MHz
V1.grid -- L1.ant.1
L1.ant.2 -- AVC --[R1 1M]-- NEG
AVC --[C1 50n 200 V]-- gnd
V1.cathode --[R2 68]-- gnd
V1.suppressor -- V1.cathode
B --[R3 33k]-- V1.screen
B --[R4 10k]-- V1.plate
V1.grid -- IN
"""


@pytest.mark.parametrize(("point", "volts"), [("V1.grid", -3.0), ("L1.ant.1", -3.0), ("IN", 0.0)])
def test_it_does_not_tie_an_avc_line_to_gnd(point: str, volts: float, solved) -> None:
    """3 V behind a megohm, no current: 3 V at the grid; a generator on a lead holds it at gnd."""
    solution = solved(AVC.format(point))
    assert solution.waves[solution.circuit.points["V1.grid"]].dc == pytest.approx(volts, abs=0.02)


@pytest.mark.parametrize(("point", "reached"), [("V1.grid", False), ("IN", True)])
def test_it_is_no_terminal(point: str, reached: bool) -> None:
    circuit = build_circuit(parse_drawing(AVC.format(point)))
    assert any(t.name == point for t in touchables(circuit)) is reached


def test_the_stage_has_the_same_gain(solved) -> None:
    """The signal is there all the same."""
    from coldcheck.solve.signal.small_signal import small_signal

    gains = []
    for point in ("V1.grid", "IN"):
        circuit = build_circuit(parse_drawing(AVC.format(point).replace("NEG --[E2 3 V]+-- gnd",
                                                                       "NEG -- gnd")))  # fmt: skip
        found = small_signal(circuit)
        assert found is not None
        assert found.solved, found.reason
        gains.append(next(iter(found.sources.values())).stages[0].gain.mid)
    assert abs(gains[0]) == pytest.approx(abs(gains[1]), rel=0.02)
