"""DC path questions, answered on the graph alone: is there a path, which, through what.

No voltages are needed, so a drawing with unknown values gets an honest answer too. All functions
are pure; nets may be given by any point on them. V nets and E branches below are those that
conduct DC.
"""

from __future__ import annotations

from itertools import islice, pairwise, product
from math import inf
from typing import TYPE_CHECKING, Any

import networkx as nx
import numpy as np

from coldcheck.circuit.kinds import TRAITS, Contact, Ohms, Passage
from coldcheck.circuit.model import GROUND, Branch, Circuit
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, magnitude
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping

    from numpy.typing import NDArray

DC_KINDS = frozenset(
    kind for kind, t in TRAITS.items() if t.passage in (Passage.METAL, Passage.DRIVES)
)
"""Kinds of branch that conduct DC both ways."""

PASSIVE = DC_KINDS - {PartKind.SOURCE}
"""Those that an ohmmeter measures through."""

_IN_THE_TUBE = frozenset((PartKind.HEATER, PartKind.CONTACT))
_DENSE_UP_TO = 300


@dataclass(frozen=True, slots=True)
class Change:
    """What is different from the circuit as drawn.

    thrown
        Switches (and jacks: a plug is in) not in their operating position, by name.
    pulled
        Tubes out of their sockets.
    opened
        Parts that have gone open, by the part's name or the branch's.
    """

    thrown: frozenset[str] = frozenset()
    pulled: frozenset[str] = frozenset()
    opened: frozenset[str] = frozenset()

    def conducts(self, branch: Branch) -> bool:
        """Whether the branch still is what the drawing shows, and closed."""
        if branch.owner in self.pulled and branch.kind in _IN_THE_TUBE:
            return False
        if branch.name in self.opened or branch.owner in self.opened:
            return False
        contact = branch.traits.contact is not Contact.NONE
        return branch.closed_with(self.thrown) if contact else branch.closed


NO_CHANGE = Change()


@dataclass(frozen=True, slots=True)
class DcPath:
    """One path: ``len(nets) == len(branches) + 1``.

    ``ohms`` is the sum of the resistances on it, ``None`` if one of them is unknown.
    """

    nets: tuple[str, ...]
    branches: tuple[Branch, ...]
    ohms: float | None

    @property
    def steps(self) -> tuple[str, ...]:
        """One text for each branch: ``LIFT --R9 47 kohm-- gnd``."""
        return tuple(
            f"{a} {_link(branch)} {b}"
            for (a, b), branch in zip(pairwise(self.nets), self.branches, strict=True)
        )

    @property
    def text(self) -> str:
        """The whole path on one line."""
        links = [f"{_link(b)} {net}" for b, net in zip(self.branches, self.nets[1:], strict=True)]
        return " ".join((self.nets[0], *links))


def _link(branch: Branch) -> str:
    ohms = branch_ohms(branch)
    value = "?" if ohms is None else engineering(ohms, "ohm") if ohms else ""
    return f"--{branch.name} {value}".rstrip() + "--"


def branch_ohms(branch: Branch) -> float | None:
    """DC resistance of a branch, ohm; ``None`` if it should have one and it is not known.

    A coil without a stated resistance counts as 0, as do closed contacts, fuses and sources
    without a stated internal resistance. Heaters count hot.
    """
    if branch.traits.ohms is Ohms.COIL or branch.traits.ohms is Ohms.NIL:
        return 0.0 if branch.resistance is None else magnitude(branch.resistance, "ohm")
    for value in (branch.value, branch.resistance):
        if value is not None and value.is_compatible_with("ohm"):
            return magnitude(value, "ohm")
    return None


def dc_graph(
    circuit: Circuit, change: Change = NO_CHANGE, kinds: Collection[PartKind] = DC_KINDS
) -> nx.MultiGraph[str]:
    """All nets, and the branches of these kinds that conduct under ``change``; O(V + E)."""
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_nodes_from(circuit.graph.nodes)
    for branch in circuit.branches.values():
        if branch.kind in kinds and change.conducts(branch):
            graph.add_edge(branch.a, branch.b, key=branch.name, branch=branch)
    return graph


def references(
    circuit: Circuit,
    net: str,
    change: Change = NO_CHANGE,
    targets: Iterable[str] = (GROUND,),
    limit: int = 16,
) -> tuple[DcPath, ...]:
    """The DC paths from a net to the first target each meets, fewest parts first.

    No path visits a net twice. At most ``limit`` are returned (Yen's algorithm through
    networkx, O(limit * V * (V log V + E))). Raises KeyError for a net that does not exist.
    """
    start, ends = _known(circuit, net), _present(circuit, targets)
    if start in ends:
        return (DcPath((start,), (), 0.0),)
    graph = dc_graph(circuit, change)
    found = (p for end in ends for p in islice(_paths(graph, start, end, ends), limit))
    return tuple(sorted(found, key=lambda path: len(path.branches))[:limit])


def _paths(
    graph: nx.MultiGraph[str], start: str, end: str, ends: Collection[str]
) -> Iterator[DcPath]:
    """Simple paths that end at ``end`` and touch no other target on the way."""
    plain = _plain(graph)
    plain.remove_nodes_from([other for other in ends if other != end])
    if not nx.has_path(plain, start, end):
        return
    for nets in nx.shortest_simple_paths(plain, start, end):
        for branches in product(*(_between(graph, a, b) for a, b in pairwise(nets))):
            yield DcPath(tuple(nets), branches, _sum(branches))


def _plain(graph: nx.MultiGraph[str]) -> nx.Graph[str]:
    """Parallel branches as one edge, and no branch shorted on itself."""
    plain: nx.Graph[str] = nx.Graph(graph)
    plain.remove_edges_from(list(nx.selfloop_edges(plain)))
    return plain


def _between(graph: nx.MultiGraph[str], a: str, b: str) -> list[Branch]:
    return [data["branch"] for data in graph[a][b].values()]


def _sum(branches: Iterable[Branch]) -> float | None:
    total = 0.0
    for branch in branches:
        ohms = branch_ohms(branch)
        if ohms is None:
            return None
        total += ohms
    return total


def has_reference(
    circuit: Circuit,
    net: str,
    change: Change = NO_CHANGE,
    targets: Iterable[str] = (GROUND,),
) -> bool:
    """Whether any DC path leads from the net to a target; O(V + E). Raises KeyError."""
    start = _known(circuit, net)
    reached = nx.node_connected_component(dc_graph(circuit, change), start)
    return any(end in reached for end in _present(circuit, targets))


def islands(circuit: Circuit, change: Change = NO_CHANGE) -> tuple[frozenset[str], ...]:
    """The sets of nets joined by DC paths, in the order of the drawing; O(V + E)."""
    return tuple(map(frozenset, nx.connected_components(dc_graph(circuit, change))))


def floating_islands(circuit: Circuit, change: Change = NO_CHANGE) -> tuple[frozenset[str], ...]:
    """The islands that do not hold gnd: nothing but a tube or a diode sets their potential."""
    return tuple(island for island in islands(circuit, change) if GROUND not in island)


def hangs_on(
    circuit: Circuit, net: str, change: Change = NO_CHANGE, target: str = GROUND
) -> tuple[Branch, ...]:
    """The single branches without which no DC path is left, in order from the net.

    These are the bridges on a path; empty where there is no path at all, or no single one.
    O(V + E). Raises KeyError for a net that does not exist.
    """
    start, end = _known(circuit, net), _known(circuit, target)
    graph = dc_graph(circuit, change)
    if not nx.has_path(graph, start, end):
        return ()
    plain = _plain(graph)
    bridges = {frozenset(edge) for edge in nx.bridges(plain, start)}
    steps = pairwise(nx.shortest_path(plain, start, end))
    single = [_between(graph, a, b) for a, b in steps if frozenset((a, b)) in bridges]
    return tuple(branches[0] for branches in single if len(branches) == 1)


def resistance(
    circuit: Circuit, a: str, b: str = GROUND, change: Change = NO_CHANGE
) -> float | None:
    """What an ideal ohmmeter reads between two nets, ohm, every capacitor charged.

    Sources are taken out, coils count their winding resistance, tubes and diodes do not conduct.
    ``math.inf`` where there is no path; ``None`` where an unknown value lies on any path. The
    reduced Laplacian of the nets on paths between the two is solved directly (Kirchhoff):
    O(n^3) dense for small n, sparse above. Raises KeyError for a net that does not exist.
    """
    start, end = _known(circuit, a), _known(circuit, b)
    conducting = (x for x in circuit.branches.values() if x.kind in PASSIVE and change.conducts(x))
    edges = [(x.a, x.b, branch_ohms(x)) for x in conducting]
    merged = _merge((u, v) for u, v, ohms in edges if ohms == 0.0)
    start, end = merged.get(start, start), merged.get(end, end)
    if start == end:
        return 0.0
    left = [(merged.get(u, u), merged.get(v, v), ohms) for u, v, ohms in edges if ohms != 0.0]
    left = [edge for edge in left if edge[0] != edge[1]]
    on_path = _on_paths(left, start, end)
    known = [(u, v, ohms) for u, v, ohms in on_path if ohms is not None]
    if len(known) < len(on_path):
        return None
    return _driving_point(known, start, end) if known else inf


def _merge(shorts: Iterable[tuple[str, str]]) -> Mapping[str, str]:
    """Net that is shorted to others -> the net that stands for all of them."""
    short: nx.Graph[str] = nx.Graph(shorts)
    groups = nx.connected_components(short)
    return {net: first for group in groups for first in [min(group)] for net in group}


def _on_paths(
    edges: list[tuple[str, str, float | None]], start: str, end: str
) -> list[tuple[str, str, float | None]]:
    """The edges that lie on a simple path between the two.

    They are those that share a biconnected component with an edge added from start to end.
    """
    graph: nx.Graph[str] = nx.Graph((u, v) for u, v, _ in edges)
    graph.add_edge(start, end)
    blocks: Iterable[Any] = nx.biconnected_components(graph)
    for block in blocks:
        if start in block and end in block:
            return [edge for edge in edges if edge[0] in block and edge[1] in block]
    return []


def _driving_point(edges: list[tuple[str, str, float]], start: str, end: str) -> float:
    """Ohms between start and end of a resistive network: volts for one ampere, ``end`` at 0."""
    nets = dict.fromkeys(net for u, v, _ in edges for net in (u, v) if net != end)
    place = {net: index for index, net in enumerate(nets)}
    rows, columns, values = [], [], []
    for u, v, ohms in edges:
        for here, there in ((u, v), (v, u)):
            if here != end:
                rows += [place[here]] * (1 if there == end else 2)
                columns += [place[here]] if there == end else [place[here], place[there]]
                values += [1 / ohms] if there == end else [1 / ohms, -1 / ohms]
    drive = np.zeros(len(place))
    drive[place[start]] = 1.0
    volts = _solve(np.array(rows), np.array(columns), np.array(values), drive)
    return float(volts[place[start]])


def _solve(
    rows: NDArray[np.int_],
    columns: NDArray[np.int_],
    siemens: NDArray[np.float64],
    drive: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Solve G v = i for G (n, n) given as summed triplets, siemens; i and v of shape (n,)."""
    size = len(drive)
    if size <= _DENSE_UP_TO:
        dense = np.zeros((size, size))
        np.add.at(dense, (rows, columns), siemens)
        return np.asarray(np.linalg.solve(dense, drive), dtype=np.float64)
    from scipy.sparse import csc_array
    from scipy.sparse.linalg import splu

    matrix: Any = csc_array((siemens, (rows, columns)), shape=(size, size))
    solved: NDArray[np.float64] = splu(matrix).solve(drive)
    return solved


def _known(circuit: Circuit, net: str) -> str:
    """The net of a point or a net's own name; raises KeyError."""
    name = circuit.points.get(net, net)
    if name not in circuit.graph:
        raise KeyError(net)
    return name


def _present(circuit: Circuit, targets: Iterable[str]) -> tuple[str, ...]:
    """The nets of those targets that the drawing has."""
    nets = (circuit.points.get(target, target) for target in targets)
    return tuple(dict.fromkeys(net for net in nets if net in circuit.graph))
