"""Parts that lead back from an output to an earlier stage, and the gain around the loop they close.

The return ratio of a part of admittance ``y`` between the output's net X and the earlier net Y is
worked out on the network without that part (Bode, "Network Analysis and Feedback Amplifier
Design", 1945, from memory): ``T = y (z_xy - z_yx) / (1 + y (z_xx + z_yy))``, where ``z_xy`` is the
volts at X for one ampere into Y. What the two ends pass to each other as a passive network is the
same both ways and drops out of the difference. T above zero adds to the input; at one and above
the loop sustains itself.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import networkx as nx
import numpy as np

from coldcheck.anatomy.neighbourhood import AMPLIFYING, metal
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.solve.signal.sweep import MID_BAND
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, OutputTransformer
    from coldcheck.solve.solution import Solution

NEAR_OHM = Threshold(
    "resistance within which a part hangs on the secondary itself", 20.0, "ohm", PRACTICE
)
"""What hangs on a secondary within this much metal counts as the secondary itself."""


@dataclass(frozen=True, slots=True)
class Back:
    """A part (or several side by side) from ``far``, an output, back to ``near``."""

    parts: tuple[Branch, ...]
    far: str
    near: str
    output: OutputTransformer | None

    @property
    def names(self) -> tuple[str, ...]:
        """The parts' names."""
        return tuple(dict.fromkeys(b.owner for b in self.parts))


def ways_back(circuit: Circuit) -> Iterator[Back]:
    """Parts from a secondary into the circuit, and from another section to a cathode."""
    for output in circuit.outputs.values():
        island = secondary(circuit, output)
        yield from _leaving(circuit, island, output)
    sections = [s for s in circuit.sections() if s.kind in AMPLIFYING]
    for net in dict.fromkeys(n for s in sections for n in s.cathode_nets):
        yield from _into_cathode(circuit, net)


def secondary(circuit: Circuit, output: OutputTransformer) -> frozenset[str]:
    """The nets of a secondary without gnd and the other landmarks."""
    graph = metal(circuit).copy()
    graph.remove_nodes_from(n for n in LANDMARKS if n in graph)
    found: set[str] = set()
    for _, end, _ in output.secondary_leads:
        if end in graph:
            found |= set(nx.single_source_dijkstra_path_length(graph, end, cutoff=NEAR_OHM.value))
    return frozenset(found)


def _leaving(circuit: Circuit, island: frozenset[str], output: OutputTransformer) -> Iterator[Back]:
    groups: dict[tuple[str, str], list[Branch]] = {}
    for branch in circuit.branches.values():
        ends = {branch.a, branch.b}
        if _couples(branch) and len(ends & island) == 1 and not ends & set(LANDMARKS):
            far = next(iter(ends & island))
            groups.setdefault((far, branch.other(far)), []).append(branch)
    for (far, near), parts in groups.items():
        yield Back(tuple(parts), far, near, output)


def _into_cathode(circuit: Circuit, cathode: str) -> Iterator[Back]:
    """Resistors between a cathode and another section, a capacitor between or not."""
    own = [b for b in circuit.at(cathode) if b.traits.steady]
    if cathode in LANDMARKS or len(own) == 1:
        return  # all of its current goes there: a load, or a tube that shares it
    for branch in circuit.at(cathode):
        far = branch.other(cathode)
        if (
            branch.kind is PartKind.RESISTOR
            and far not in LANDMARKS
            and _from_output(circuit, cathode, far)
        ):
            yield Back((branch,), far, cathode, None)


def _from_output(circuit: Circuit, cathode: str, net: str) -> bool:
    """Whether another section's plate, or a follower's cathode, is on a net or behind it."""
    behind = [b.other(net) for b in circuit.at(net) if b.kind is PartKind.CAPACITOR]
    return any(
        e in ("plate", "cathode") and cathode not in s.cathode_nets and s.kind in AMPLIFYING
        for n in (net, *behind)
        if n not in LANDMARKS
        for s, e in circuit.electrodes_at(n)
    )


def return_ratio(circuit: Circuit, solution: Solution, back: Back) -> complex | None:
    """The gain around the loop at 1 kHz; ``None`` where a value is not known.

    Raises Unsolvable or LinAlgError as :class:`~coldcheck.solve.signal.linearised.Linearised` does.
    """
    admittance = [_siemens(b) for b in back.parts]
    if None in admittance:
        return None
    y = sum(a for a in admittance if a is not None)
    linear = Linearised(circuit.without({b.name for b in back.parts}), solution)
    x, near = linear.network.at(back.far), linear.network.at(back.near)
    if x is None or near is None:
        return None
    drives = np.stack([linear.column({back.far: 1.0}), linear.column({back.near: 1.0})], axis=1)
    found = linear.solve(MID_BAND, drives)
    z_xx, z_yx, z_xy, z_yy = found[x, 0], found[near, 0], found[x, 1], found[near, 1]
    return complex(y * (z_xy - z_yx) / (1 + y * (z_xx + z_yy)))


def _siemens(branch: Branch) -> complex | None:
    if branch.kind is PartKind.CAPACITOR:
        farads = branch.farads
        return None if farads is None else 2j * math.pi * MID_BAND * farads
    ohms = branch.ohms
    return None if ohms is None else complex(1 / max(ohms, 0.01))


def _couples(branch: Branch) -> bool:
    return branch.traits.steady or branch.kind is PartKind.CAPACITOR
