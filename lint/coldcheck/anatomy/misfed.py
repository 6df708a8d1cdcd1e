"""A plate's feed drawn on the far side of the capacitor that takes the signal away from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import amplifiers
from coldcheck.anatomy.output_stage import stiff_nets
from coldcheck.anatomy.reach import Ways, reach
from coldcheck.anatomy.supplies import negative_lines
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Section

FEEDS = (PartKind.RESISTOR, PartKind.INDUCTOR)


@dataclass(frozen=True, slots=True)
class Misfed:
    """A plate that nothing feeds, and the feed beyond its capacitor.

    near, far
        The nets on the plate's side of ``capacitor`` and on the other, where ``feed`` is.
    """

    section: Section
    capacitor: Branch
    feed: Branch
    near: str
    far: str


def fed_past_capacitor(circuit: Circuit) -> Iterator[Misfed]:
    """Every plate without a feed, with each part that leads from a rail to behind its capacitor."""
    ways, rails = Ways.of(circuit), stiff_nets(circuit) - set(negative_lines(circuit))
    for _, section in amplifiers(circuit):
        plate = section.net("plate")
        if plate is None or plate in LANDMARKS or ways.fed(plate):
            continue
        own = [n for n in reach(circuit, [plate], LANDMARKS) if n not in LANDMARKS]
        for capacitor, near, far in _capacitors(circuit, own):
            for feed in circuit.at(far):
                if feed.kind in FEEDS and feed.other(far) in rails:
                    yield Misfed(section, capacitor, feed, near, far)


def _capacitors(circuit: Circuit, nets: list[str]) -> Iterator[tuple[Branch, str, str]]:
    """The capacitors from some nets to others that no metal joins to them."""
    for net in nets:
        for branch in circuit.at(net):
            far = branch.other(net)
            if branch.kind is PartKind.CAPACITOR and far not in (*nets, *LANDMARKS):
                yield branch, net, far
