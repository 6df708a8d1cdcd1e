"""The list of leads says the whole wiring: the circuit's nets come back from its words alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldcheck.bench.parts.wires import wires
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing import read_drawing
from coldcheck.settings.apply import circuit_of

SAMPLES = Path(__file__).parents[3] / "samples"
DRAWINGS = [*SAMPLES.glob("*.tube"), *(SAMPLES / "mistakes").rglob("right.tube")]


def name(path):
    return path.relative_to(SAMPLES).as_posix()


def called(circuit, part, lead):
    if part.name in circuit.tubes:
        return f"{part.name}:{lead.label} {lead.electrode}".rstrip()
    if lead.label.endswith(" end"):
        return part.name
    declared = f"{part.name}.{lead.label}" in circuit.points
    return f"{part.name}{'.' if declared else ' '}{lead.label}"


def real(circuit):
    """(part, lead label) -> net, found from the circuit without the list."""
    for part in wires(circuit):
        tube, branch = circuit.tubes.get(part.name), circuit.branches.get(part.name)
        for lead in part.leads:
            if tube is not None:
                yield (part.name, lead.label), circuit.points.get(_pin(tube, lead.label))
            elif branch is not None and lead.label in ("one end", "anode", "tip"):
                yield (part.name, lead.label), branch.a
            elif branch is not None and lead.label in ("other end", "cathode", "sleeve"):
                yield (part.name, lead.label), branch.b
            elif lead.label == "+":
                yield (part.name, lead.label), branch.plus or branch.a
            elif lead.label == "-":
                yield (part.name, lead.label), branch.other(branch.plus or branch.a)
            elif f"{part.name}.{lead.label}" in circuit.points:
                yield (part.name, lead.label), circuit.points[f"{part.name}.{lead.label}"]


def _pin(tube, pin):
    section, electrode = tube.type.pins.get(pin, ("", ""))
    return f"{tube.name}{section}.{electrode}"


@pytest.mark.parametrize("path", DRAWINGS, ids=name)
def test_leads_on_one_net_are_said_to_meet_and_no_others(path) -> None:
    circuit = circuit_of(read_drawing(path))
    if circuit.problems:
        pytest.skip("cannot be read")
    nets: dict[str, set[tuple[str, str]]] = {}
    for lead, net in real(circuit):
        if net is not None:
            nets.setdefault(net, set()).add(lead)
    by_lead = {(p.name, x.label): (p, x) for p in wires(circuit) for x in p.leads}
    marks = {circuit.points[m] for m in LANDMARKS if m in circuit.points}
    for net, leads in nets.items():
        words = {(k, called(circuit, *by_lead[k])) for k in leads}
        for key, own in words:
            _, lead = by_lead[key]
            if net in marks:
                assert lead.point in LANDMARKS
            elif not lead.use or lead.use == "alone":
                others = sorted(w for k, w in words if k != key)
                # Pins that are not on file are all called "?": which is which the list alone says.
                told = [x for x in lead.joins if x != "the signal" and ":? " not in x]
                assert sorted(told) == others, (key, own)


def test_every_part_and_every_pin_is_there() -> None:
    circuit = circuit_of(read_drawing(SAMPLES / "harbour-light.tube"))
    found = {p.name: p for p in wires(circuit)}
    assert set(circuit.tubes) < set(found)
    assert {n for n, b in circuit.branches.items() if b.part is not None} <= set(found)
    assert [x.label for x in found["V1"].leads] == [str(n) for n in range(1, 10)]
    assert found["V1"].leads[0].use == "unwired"
    assert found["V2"].leads[0].use == "not connected"
    (top, wiper, bottom) = found["P1"].leads
    assert (top.point, top.joins) == ("IN", ("the signal",))
    assert wiper.joins == ("V1:7 A.grid",)
    assert bottom.point == "gnd"
    assert found["C1"].written == "C1 20 uF 500 V"
    assert [(x.label, x.point) for x in found["C1"].leads] == [("+", "RES"), ("-", "gnd")]
