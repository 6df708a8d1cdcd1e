"""Test points with numbers: each stands once a panel at its own net, in every sample."""

from __future__ import annotations

from itertools import pairwise
from math import hypot
from pathlib import Path

import pytest

from coldcheck.bench.points_drawn import points_drawn
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing, read_drawing
from coldcheck.picture.devices import MARKS

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.tube"))
BESIDE = 8
"""Cells: a number further off would be taken for another's."""


def _at(panel, net):
    """The cells of a net's wires and leads on a panel."""
    wired = [cell for wire in panel.wires if wire.net == net for cell in _along(wire.points)]
    leads = [
        item.port(lead.name).cell
        for item in panel.items
        for lead in item.device.leads
        if lead.net == net
    ]
    return wired + leads


def _along(points):
    for (x, y), (u, v) in pairwise(points):
        yield from (
            (a, b) for a in range(min(x, u), max(x, u) + 1) for b in range(min(y, v), max(y, v) + 1)
        )


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda p: p.stem)
def test_every_number_stands_at_its_net(sample):
    circuit = build_circuit(read_drawing(sample))
    points = [p for p in circuit.points if p not in MARKS]
    drawn = points_drawn(circuit, points)
    by_number = {n: net for net, n in drawn.numbers.items()}
    shown = set()
    for panel in drawn.picture.panels:
        for call in panel.calls:
            net = by_number[call.number]
            assert call.about == net
            spots = _at(panel, net)
            assert min(hypot(x - call.word.x, y - call.word.y) for x, y in spots) < BESIDE
            shown.add(call.number)
    drawn_nets = {
        lead.net for p in drawn.picture.panels for i in p.items for lead in i.device.leads
    }
    missing = {by_number[n] for n in by_number if n not in shown} & drawn_nets
    assert missing == set()


def test_points_of_one_net_have_one_number_in_the_order_given():
    circuit = build_circuit(
        parse_drawing("B1 --[R1 1k]-- OUT\nOUT --[R2 1k]-- gnd\nB1 --+[E1 9 V]-- gnd\n", "a")
    )
    drawn = points_drawn(circuit, ["OUT", "R1.b", "B1", "gnd", None, "nowhere"])
    assert drawn.numbers == {"OUT": 1, "B1": 2}
    assert [drawn.number(p) for p in ("OUT", "B1", "gnd", "nowhere", None)] == [
        "1",
        "2",
        "",
        "",
        "",
    ]


def test_a_circuit_that_cannot_be_laid_out_has_no_numbers():
    star = "".join(f"HUB --[R{n} 1k]-- N{n}\n" for n in range(300))
    assert points_drawn(build_circuit(parse_drawing(star, "a")), ["HUB"]) is None
