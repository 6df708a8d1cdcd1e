"""Windings that are tied twice: the loop that shorts a part, and the tap with a resistor pair."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.neighbourhood import metal, nearest
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit, Winding

LOOP_OHMS = Threshold(
    "resistance below which two leads of a winding are shorted",
    10.0,
    "ohm",
    Citation("arithmetic", "more than half an ampere at 6.3 V"),
)
"""A loop of less than this carries more than half an ampere at 6.3 V: not an artificial tap."""

PAIR_OHMS = Threshold("resistance above which a resistor is no second tie", 10e3, "ohm", PRACTICE)
"""A resistor above this does not count as a second tie of a heater line."""


@dataclass(frozen=True, slots=True)
class Loop:
    """A shorted part of a winding: its leads, volts rms, ohms outside, ohms inside if known."""

    leads: tuple[str, str]
    emf: float
    path_ohms: float
    winding_ohms: float | None
    rating: float | None

    @property
    def spare(self) -> str:
        """The lead to free: an end, not the tap."""
        return next(lead for lead in reversed(self.leads) if not lead.endswith("ct"))

    @property
    def amperes(self) -> float | None:
        """The short-circuit current; ``None`` without the winding's resistance."""
        if self.winding_ohms is None:
            return None
        total = self.winding_ohms + self.path_ohms
        return self.emf / total if total > 0 else None


@dataclass(frozen=True, slots=True)
class Doubled:
    """A tied tap and, besides, ends tied through resistors.

    ``lifted`` says that the tap is tied elsewhere than straight to gnd, so that the resistors
    pull the lift down.
    """

    tap_net: str
    leads: tuple[str, ...]
    ohms: float
    lifted: bool

    @property
    def verb(self) -> str:
        """``is`` or ``are``."""
        return "is" if len(self.leads) == 1 else "are"


def shorted_loop(graph: nx.Graph[str], winding: Winding) -> Loop | None:
    """The shorted part with the highest voltage; ``graph`` is :func:`neighbourhood.metal`.

    A lamp across the winding is a load it is made for, however few ohms it has.
    """
    loops = []
    lamps = [(a, b) for a, b, branch in graph.edges.data("branch") if branch.kind is PartKind.LAMP]
    graph = nx.restricted_view(graph, [], lamps)
    numbered = list(enumerate(winding.leads))
    for (i, (lead_a, net_a)), (j, (lead_b, net_b)) in combinations(numbered, 2):
        outside = nearest(graph, net_a, net_b)
        if outside is not None and outside < LOOP_OHMS.value:
            leads = (f"{winding.name}.{lead_a}", f"{winding.name}.{lead_b}")
            loops.append(_loop(winding, i, j, leads, outside))
    return max(loops, key=lambda x: x.emf, default=None)


def _loop(winding: Winding, first: int, last: int, leads: tuple[str, str], outside: float) -> Loop:
    parts = winding.branches[first:last]
    emf = sum(si(b.value, "volt") or 0.0 for b in parts)
    inside = [si(b.resistance, "ohm") for b in parts]
    known = [r for r in inside if r is not None]
    total = sum(known) if len(known) == len(inside) else None
    return Loop(leads, emf, outside, total, si(winding.current, "ampere"))


def doubled_anchor(circuit: Circuit, winding: Winding) -> Doubled | None:
    """A tap that is tied, with ends tied through resistors as well; ``None`` if not so."""
    if len(winding.leads) != 3:
        return None
    graph = metal(circuit)
    (end_a, net_a), (_, tap), (end_b, net_b) = winding.leads
    tap_ohms = nearest(graph, tap, GROUND)
    if tap_ohms is None:
        return None
    tied = {end_a: nearest(graph, net_a, GROUND), end_b: nearest(graph, net_b, GROUND)}
    near = {lead: r for lead, r in tied.items() if r is not None and r < PAIR_OHMS.value}
    if not near:
        return None
    return Doubled(tap, tuple(near), min(near.values()), tap_ohms >= LOOP_OHMS.value)
