"""Both tuned circuits of a frequency changer, by hand."""

from __future__ import annotations

from math import pi, sqrt

import pytest

from coldcheck.anatomy.superhets import changers, has_changer
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

SET = """transformer L1
    winding sec 200 uH 4 ohm
transformer L2
    winding tank 100 uH 3 ohm
tube V1 6BE6
L1.sec.1 --[C9 100p]-- V1.grid3 --[R1 1M]-- gnd
L1.sec.1 --[VC1A 300p variable ganged]-- gnd
L1.sec.1 --[TC1 40p trimmer]-- gnd
L1.sec.2 -- AVC --[C1 50n 200 V]-- gnd
L2.tank.1 --[C2 50p]-- V1.grid --[R2 22k]-- gnd
L2.tank.1 --[VC1B 300p variable ganged]-- gnd
L2.tank.2 --[C3 600p padder]-- gnd
V1.cathode -- gnd
V1.screen -- V1.plate -- B1
"""


def hertz(henry: float, farad: float) -> float:
    """Thomson, with 20 pF of strays across the coil."""
    return 1 / (2 * pi * sqrt(henry * (farad + 20e-12)))


def series(*farads: float) -> float:
    return 1 / sum(1 / f for f in farads)


def test_gang_trimmer_bypass_and_padder_are_reckoned_in_series_and_beside() -> None:
    (found,) = changers(build_circuit(parse_drawing(SET)))
    for name, gang in (("closed", 300e-12), ("open", 10e-12)):
        full = hertz(200e-6, series(gang + 40e-12, 50e-9))
        none = hertz(200e-6, series(gang, 50e-9))
        assert getattr(found.signal, name) == pytest.approx((full, none), rel=1e-5)
        padded = hertz(100e-6, series(gang, 600e-12))
        assert getattr(found.oscillator, name) == pytest.approx((padded, padded), rel=1e-5)
    assert (found.signal.coil, found.oscillator.coil) == ("L1.sec", "L2.tank")


def test_a_set_without_a_changer_has_none() -> None:
    circuit = build_circuit(parse_drawing(SET.replace("6BE6", "6BA6").replace("grid3", "grid")))
    assert not has_changer(circuit)
    assert list(changers(circuit)) == []
