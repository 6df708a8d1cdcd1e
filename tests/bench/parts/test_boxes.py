"""Parts in one box: what to buy of them, and every lead of theirs with what it meets."""

from __future__ import annotations

from coldcheck.bench.parts.items import items
from coldcheck.bench.parts.wires import wires
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

TEXT = """B --+[E1 100 V]-- gnd
B --[R1 100 ohm 200 W]-- SCR1.a
SCR1.k -- gnd
SCR1.g --[R2 1k]-- P1.b1
P1.a1 -- B
thyristor SCR1 C106D gate 1 mA
connector P1 2
vibrator VB1 6 V synchronous
VB1.s1 -- B
optocoupler OC1 led 20 mA cell 1M 1k
OC1.a -- B
"""


def made():
    built = build_circuit(parse_drawing(TEXT))
    assert not built.problems
    return built


def test_their_leads_and_what_they_meet() -> None:
    found = {w.name: w for w in wires(made())}
    gate = next(lead for lead in found["SCR1"].leads if lead.label == "gate")
    assert gate.joins == ("R2",)
    assert found["SCR1"].written == "SCR1 C106D gate 1 mA"
    ways = {lead.label: (lead.point, lead.joins) for lead in found["P1"].leads}
    assert ways["b1"] == ("", ("R2",))
    assert ways["a1"][0] == "B"
    assert "SCR1.main" not in found
    assert "P1.b1" in next(lead for lead in found["R2"].leads if lead.joins[:1] == ("P1.b1",)).joins


def test_contacts_of_a_vibrator_are_not_bought() -> None:
    names = [item.name for item in items(made())]
    assert "VB1.s1" not in names
    assert "SCR1.main" in names
    assert names.count("OC1.lamp") == names.count("OC1.cell") == 1
