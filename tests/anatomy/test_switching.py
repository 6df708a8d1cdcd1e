"""Stages that are on or off by design."""

from __future__ import annotations

import pytest

from coldcheck.anatomy.switching import switches
from coldcheck.drawing import parse_drawing
from coldcheck.settings.apply import circuit_of

TRIGGER = """\
tube V1 12AU7
B1 --+[E1 200 V]-- gnd
IN --[R8 100k]-- V1A.grid
B1 --[R9 22k]-- V1A.plate
B1 --[R10 22k]-- V1B.plate
V1A.cathode -- {foot}
V1B.cathode --[R11 10k]-- gnd
V1A.plate --[R12 330k]-- {far}
V1B.grid --[R13 82k]-- gnd
"""


@pytest.mark.parametrize(
    ("foot", "far", "more", "halves"),
    [
        ("V1B.cathode", "V1B.grid", "", True),  # Schmitt
        ("gnd", "V1B.grid", "V1B.plate --[R14 330k]-- V1A.grid\n", True),  # Eccles and Jordan
        ("gnd", "V1B.grid", "", False),  # two stages of an amplifier
        ("V1B.cathode", "N", "N --[C1 100 nF 400 V]-- V1B.grid\n", False),
        (
            "gnd",
            "N",
            "relay K1 spst 24 V 5k released\nB1 -- K1.coil.1\nK1.coil.2 -- V1A.plate\n",
            None,
        ),
    ],
)
def test_triggers_and_tubes_of_relays(foot: str, far: str, more: str, halves: bool | None) -> None:
    circuit = circuit_of(parse_drawing(TRIGGER.format(foot=foot, far=far) + more))
    found = {s.name for s in circuit.sections() if switches(circuit, s)}
    assert found == ({"V1A", "V1B"} if halves else {"V1A"} if halves is None else set())
