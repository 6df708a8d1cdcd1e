"""Single faults of a circuit: what can be wrong with one part, and the circuit that has it.

A fault is said in the trade's terms (``R9 open``, ``V2 gassy``). :func:`altered` draws the circuit
that has it, for everything that looks at the drawing; :mod:`coldcheck.solve.faults.change` says the
same as a small change of the equations.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.circuit.model import GROUND
from coldcheck.circuit.throws import thrown_text
from coldcheck.circuit.tracks import halves
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, quantity
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import CONTACT_OHM

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from coldcheck.circuit.model import Branch, Circuit, Tube
    from coldcheck.solve.solution import State

OPEN, SHORT, DRIFT, LEAK = "open", "short", "drift", "leak"
PULLED, HEATER_CATHODE, GASSY, WEAK, DEAD = "pulled", "heater-cathode", "gassy", "weak", "dead"
THROWN, WIPER, BRIDGE, SERIES = "thrown", "wiper", "bridge", "series"
KINDS = (
    *(OPEN, SHORT, DRIFT, LEAK, SERIES, PULLED, HEATER_CATHODE, GASSY, WEAK, DEAD),
    *(THROWN, WIPER, BRIDGE),
)  # fmt: skip

SHORT_OHM = CONTACT_OHM
OPEN_OHM = 1e12
HEATER_CATHODE_OHM = 10.0
"""A heater that touches its cathode: far below anything else in the cathode's circuit."""

_WORDS = {
    OPEN: "open", SHORT: "shorted", PULLED: "pulled", HEATER_CATHODE: "heater-cathode short",
    DEAD: "dead", WIPER: "wiper open", GASSY: "gassy",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with one part.

    kind
        One of ``KINDS``.
    part
        The name of a branch (``R9``, ``T1.ht.1-ct``), of a tube (``pulled``, ``dead``,
        ``weak``), of a tube's section or tube (``gassy``, ``heater-cathode``), of a switch
        (``thrown``), of a pot (``wiper``); two points with ``~`` between them (``bridge``:
        V2.grid~V2.cathode).
    magnitude
        ``drift``: the value over the drawn one. ``series``: ohms in a contact or fuse.
        ``leak``: ohms across the part. ``gassy``: grid current, amperes. ``weak``: emission over
        that of a good tube. ``short``, ``bridge`` and ``heater-cathode``: ohms where they differ
        from the usual (0 for the usual).
    """

    kind: str
    part: str
    magnitude: float = 0.0

    @property
    def name(self) -> str:
        """``R9 open``, ``C4 leaking 1 Mohm``, ``R4 at 2 times its value``."""
        if self.kind == BRIDGE:
            return self.part.replace("~", " joined to ")
        if self.kind == THROWN:
            return thrown_text((self.part,))
        return f"{self.part} {self._words()}"

    def _words(self) -> str:
        if self.kind == DRIFT:
            return f"at {self.magnitude:.4g} times its value"
        if self.kind == SERIES:
            return f"with {engineering(self.magnitude, 'ohm')} in it"
        if self.kind == LEAK:
            return f"leaking {engineering(self.magnitude, 'ohm')}"
        if self.kind == WEAK:
            return f"weak ({100 * self.magnitude:.3g} %)"
        if self.kind == GASSY and self.magnitude:
            return f"gassy ({1e6 * self.magnitude:.3g} µA)"
        return _WORDS.get(self.kind, self.kind)


class NoSuchPart(ValueError):  # noqa: N818 - a condition, reported in words
    """A fault of a part that the circuit does not have, or that such a part cannot have."""


def sections_of(circuit: Circuit, part: str) -> list[str]:
    """The sections that a tube's or a section's name means; raises NoSuchPart for none."""
    found = [s.name for s in circuit.sections() if part in (s.name, s.tube)]
    if not found:
        raise NoSuchPart(f"the circuit has no tube {part}")
    return found


def tube_of(circuit: Circuit, part: str) -> Tube:
    """The tube a name or a section's name means; raises NoSuchPart."""
    if part in circuit.tubes:
        return circuit.tubes[part]
    tube = next((s.tube for s in circuit.sections() if s.name == part), None)
    if tube is None:
        raise NoSuchPart(f"the circuit has no tube {part}")
    return circuit.tubes[tube]


def branch_of(circuit: Circuit, part: str) -> Branch:
    """The branch of that name; raises NoSuchPart."""
    if part not in circuit.branches:
        raise NoSuchPart(f"the circuit has no part {part}")
    return circuit.branches[part]


def state_with(state: State, faults: Sequence[Fault]) -> State:
    """The state while the faults last: named after them, switches thrown and tubes pulled."""
    thrown = state.thrown ^ {f.part for f in faults if f.kind == THROWN}
    pulled = state.pulled | {f.part for f in faults if f.kind == PULLED}
    name = "failed " + " and ".join(f.name for f in faults)
    return replace(state, name=name, thrown=thrown, pulled=pulled)


def altered(circuit: Circuit, faults: Iterable[Fault], *, graph: bool = True) -> Circuit:
    """The circuit as it is with the faults. Raises NoSuchPart. Without ``graph`` that stays as is.

    Open branches are gone, shorted ones have a resistor across them, which is ``of_a_fault`` and
    has a name that a reader may see (``the short across R9``). A transformer still lists a winding
    that is open; :class:`coldcheck.solve.faults.solver.FaultParts` cuts its current. Gas, emission,
    thrown switches and pulled tubes are not part of a drawing.
    """
    branches = dict(circuit.branches)
    for fault in faults:
        _alter(circuit, fault, branches)
    wired = _graph(circuit, branches) if graph else circuit.graph
    return replace(circuit, branches=branches, graph=wired)


def _alter(circuit: Circuit, fault: Fault, branches: dict[str, Branch]) -> None:
    kind, part = fault.kind, fault.part
    if kind == OPEN:
        del branches[branch_of(circuit, part).name]
    elif kind in (SHORT, LEAK):
        branch = branch_of(circuit, part)
        _across(branches, branch, branch.a, branch.b, _said(fault), fault.magnitude or SHORT_OHM)
    elif kind == DRIFT:
        branch = branch_of(circuit, part)
        value = None if branch.value is None else branch.value * fault.magnitude
        branches[part] = replace(branch, value=value)
    elif kind == SERIES:
        as_resistor = quantity(fault.magnitude, "ohm")
        branch = branch_of(circuit, part)
        branches[part] = replace(branch, kind=PartKind.RESISTOR, value=as_resistor)
    elif kind == BRIDGE:
        a, b = bridged(circuit, part)
        like = next(iter(circuit.branches.values()))
        ohms = fault.magnitude or SHORT_OHM
        _across(branches, replace(like, span=circuit.span(part)), a, b, _said(fault), ohms)
    elif kind == HEATER_CATHODE:
        heater, cathode = heater_and_cathode(circuit, part)
        like = next(iter(tube_of(circuit, part).heater.branches))  # type: ignore[union-attr]
        ohms = fault.magnitude or HEATER_CATHODE_OHM
        _across(branches, like, heater, cathode, _said(fault), ohms)
    elif kind == WIPER:
        outer, ohms = pot_ends(circuit, part)
        like = next(b for b in branches.values() if b.owner == part)
        for side in beside_wiper(circuit, part):
            del branches[side.name]
        _across(branches, like, *outer, _said(fault), ohms)


def _said(fault: Fault) -> str:
    """What a fault puts into the circuit, as a reader may see it named."""
    if fault.kind == BRIDGE:
        return f"the bridge from {fault.part.replace('~', ' to ')}"
    if fault.kind == WIPER:
        return f"the track of {fault.part}"
    if fault.kind == HEATER_CATHODE:
        return f"the touch of heater and cathode in {fault.part}"
    return f"the {fault.kind} across {fault.part}"


def _across(
    branches: dict[str, Branch], like: Branch, a: str, b: str, name: str, ohms: float
) -> None:
    """A resistor between two nets, written where ``like`` is."""
    value = quantity(ohms, "ohm")
    branches[name] = replace(
        like,
        name=name,
        owner=name,
        kind=PartKind.RESISTOR,
        a=a,
        b=b,
        value=value,
        plus=None,
        part=None,
        glows=False,
        of_a_fault=True,
    )


def heater_and_cathode(circuit: Circuit, part: str) -> tuple[str, str]:
    """The heater's first end and the cathode it can touch; raises NoSuchPart."""
    tube = tube_of(circuit, part)
    insulated = [s for s in tube.sections if "cathode" in s.electrodes and part in (s.name, s.tube)]
    if tube.heater is None or not tube.heater.branches or not insulated or tube.directly_heated:
        raise NoSuchPart(f"{part} has no cathode insulated from a drawn heater")
    return tube.heater.nets[0], insulated[0].electrodes["cathode"]


def bridged(circuit: Circuit, part: str) -> tuple[str, str]:
    """The nets of two points ``A~B``; raises NoSuchPart."""
    a, _, b = part.partition("~")
    for point in (a, b):
        if point not in circuit.points:
            raise NoSuchPart(f"the circuit has no point {point}")
    return circuit.points[a], circuit.points[b]


def pot_ends(circuit: Circuit, part: str) -> tuple[tuple[str, str], float]:
    """The ends of the track, or the taps, on either side of a pot's wiper, and the ohms between.

    Raises NoSuchPart.
    """
    sides = beside_wiper(circuit, part)
    ohms = [None if b.value is None else float(b.value.m_as("ohm")) for b in sides]
    if len(sides) != 2 or None in ohms:
        raise NoSuchPart(f"{part} is no pot of known value with both halves wired")
    upper, lower = sides
    return (upper.a, lower.b), sum(r for r in ohms if r is not None)


def beside_wiper(circuit: Circuit, pot: str) -> tuple[Branch, ...]:
    """The parts of a pot's track that the wiper is on: what an open wiper joins to one."""
    above, below = halves(circuit, pot)
    return (*above[-1:], *below[:1])


def _graph(circuit: Circuit, branches: Mapping[str, Branch]) -> nx.MultiGraph[str]:
    """The nets joined by these branches, in the form the circuit has its graph in."""
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_nodes_from((GROUND, *circuit.graph.nodes))
    for branch in branches.values():
        graph.add_edge(branch.a, branch.b, key=branch.name, branch=branch)
    return graph
