"""Where coupled coils resonate, at least and at most."""

from __future__ import annotations

from math import inf, pi, sqrt

import pytest

from coldcheck.anatomy.cans import cans, resonance
from coldcheck.anatomy.coupling import still_nets
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

CAN = """transformer IF1 coupling 2 %
    winding pri 1.2 mH 12 ohm
    winding sec 1.2 mH 12 ohm
B1 --+[E1 200 V]-- gnd
IF1.pri.1 --[C1 100p 500 V]-- IF1.pri.2
IF1.pri.2 -- B1
IF1.sec.1 --[C2 60p 500 V]-- IF1.sec.2
IF1.sec.1 --[TC1 40p trimmer]-- IF1.sec.2
IF1.sec.1 --[C3 30p 500 V]-- gnd
IF1.sec.2 --[C4 60p 500 V]-- gnd
"""


def test_thomsons_formula() -> None:
    """In uH, pF and MHz: L C f^2 is 25330 (handbooks on radio, from memory)."""
    assert resonance(1.2e-3, 100e-12) == pytest.approx(459.4e3, rel=1e-4)
    assert resonance(1.2e-3, 0.0) == inf
    assert resonance(1e-6, 25330e-12) == pytest.approx(1e6, rel=1e-5)


def test_strays_trimmers_and_what_hangs_beside() -> None:
    """30 and 60 pF to gnd are 20 pF in series; 20 pF of strays; the trimmer open at most."""
    circuit = build_circuit(parse_drawing(CAN))
    ((_, (pri, sec)),) = cans(circuit, still_nets(circuit))
    assert (pri.coil.name, sec.coil.name) == ("IF1.pri", "IF1.sec")
    assert [b.name for b in sec.across] == ["C2", "TC1"]
    assert pri.hertz == pytest.approx(sec.hertz)
    assert pri.high == pytest.approx(pri.hertz)
    assert pri.low == pytest.approx(1 / (2 * pi * sqrt(1.2e-3 * 120e-12)))
    assert sec.low == pytest.approx(1 / (2 * pi * sqrt(1.2e-3 * 140e-12)))
    assert sec.high == pytest.approx(1 / (2 * pi * sqrt(1.2e-3 * 60e-12)))
    assert pri.apart(sec) < 1


def test_an_inductance_worked_out_from_turns_is_not_known() -> None:
    text = CAN.replace("pri 1.2 mH", "pri 90 turns 1.2 mH").replace("sec 1.2 mH", "sec 90 turns")
    circuit = build_circuit(parse_drawing(text))
    assert not circuit.problems
    ((_, (pri,)),) = cans(circuit, still_nets(circuit))
    assert pri.coil.name == "IF1.pri"


@pytest.mark.parametrize(
    ("written", "instead", "coils"),
    [
        ("coupling 2 %", "coupling 60 %", None),
        ("--[C1 100p 500 V]--", "--[C1 ?]--", ["IF1.sec"]),
        ("IF1.pri.1 --[C1 100p 500 V]-- IF1.pri.2", "IF1.pri.1 --[R9 1k]-- gnd", ["IF1.sec"]),
    ],
)
def test_what_is_no_can_or_not_known(written: str, instead: str, coils: list[str] | None) -> None:
    assert written in CAN
    circuit = build_circuit(parse_drawing(CAN.replace(written, instead)))
    assert not circuit.problems
    found = list(cans(circuit, still_nets(circuit)))
    assert [[t.coil.name for t in tuned] for _, tuned in found] == (
        [] if coils is None else [coils]
    )
