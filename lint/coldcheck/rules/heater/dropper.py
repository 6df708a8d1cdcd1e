"""What a heater string on the mains needs in series: resistor, capacitor or diode and resistor.

A capacitor's drop stands at right angles to that of the heaters, so squares add; a diode passes
every other half wave, whose rms is the line's over root 2 (not its average).
"""

from __future__ import annotations

from itertools import pairwise
from math import log10, pi, sqrt
from typing import TYPE_CHECKING, assert_never

import networkx as nx

from coldcheck.anatomy.heater_lines import HeaterLine, heater_branches, tube_amps
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import amperes, ohms, volts, watts
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch, Circuit


ALIKE = 1.05
"""Heaters in one string have one current."""

A_DECADE = 0.15
"""Decades off a whole one that are still one: tolerances, and values from a row."""


@dataclass(frozen=True, slots=True)
class Dropper:
    """A string on the line: volts of the line and of the string, its amperes, what is in series."""

    line_v: float
    hertz: float
    string_v: float
    amps: float
    parts: tuple[Branch, ...]

    def part(self, kind: PartKind) -> Branch | None:
        """The first series part of a kind."""
        return next((p for p in self.parts if p.kind is kind), None)


def dropper_of(circuit: Circuit, line: HeaterLine) -> Dropper | None:
    """The series parts between the mains and a string; ``None`` where there is no such string."""
    mains = circuit.mains
    if line.windings or mains is None or "line" not in circuit.points:
        return None
    parts = _series(circuit, line)
    rated = [si(t.heater.volts, "volt") or 0.0 for t in line.tubes if t.heater]
    amps = max((tube_amps(t) for t in line.tubes), default=0.0)
    line_v, hertz = si(mains.voltage, "volt"), si(mains.frequency, "hertz")
    if not parts or not amps or not line_v or not hertz:
        return None
    return Dropper(line_v, hertz, sum(rated), amps, parts)


def _series(circuit: Circuit, line: HeaterLine) -> tuple[Branch, ...]:
    """The parts in series from the line to the string, with what feeds the plates beside them."""
    graph: nx.Graph[str] = nx.Graph()
    for branch in circuit.branches.values():
        inner = {branch.a, branch.b} - {circuit.points["line"]}
        if _drops(branch.kind) and not inner & set(LANDMARKS):
            graph.add_edge(branch.a, branch.b, part=branch)
    start = circuit.points["line"]
    ends = [n for n in line.nets if start in graph and n in graph and nx.has_path(graph, start, n)]
    ways = [nx.shortest_path(graph, start, n) for n in ends]
    way: list[str] = min(ways, key=len, default=[])
    return tuple(graph.edges[pair]["part"] for pair in pairwise(way))


def _drops(kind: PartKind) -> bool:
    """What may stand between the mains and a series string."""
    match kind:
        case (
            PartKind.RESISTOR | PartKind.CAPACITOR | PartKind.DIODE | PartKind.FUSE
            | PartKind.SWITCH | PartKind.THERMISTOR | PartKind.BARRETTER | PartKind.CONTACT
            | PartKind.METER
        ):  # fmt: skip
            return True
        case (
            PartKind.INDUCTOR | PartKind.LED | PartKind.ZENER | PartKind.PHOTOCELL | PartKind.LAMP
            | PartKind.SPEAKER | PartKind.JACK | PartKind.SOURCE | PartKind.HEATER
            | PartKind.WINDING | PartKind.POT | PartKind.JACK_CONTACT
            | PartKind.PLUG | PartKind.SIGNAL
            | PartKind.RELAY
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return False
        case _:
            assert_never(kind)


def dropper_remedy(circuit: Circuit, line: HeaterLine) -> str | None:
    """The worked value of the series part of a string; ``None`` where it is none of these."""
    found = dropper_of(circuit, line)
    if found is None:
        return None
    capacitor, diode = found.part(PartKind.CAPACITOR), found.part(PartKind.DIODE)
    resistor = found.part(PartKind.RESISTOR)
    if capacitor is not None:
        return _capacitor(found, capacitor)
    if diode is not None:
        return _resistor(found, resistor, found.line_v / sqrt(2), f" behind {diode.owner}")
    return None if resistor is None else _resistor(found, resistor, found.line_v, "")


def _capacitor(found: Dropper, part: Branch) -> str | None:
    """C = I / (2 pi f sqrt(V^2 - Vh^2))."""
    if found.line_v <= found.string_v:
        return None
    drop = sqrt(found.line_v**2 - found.string_v**2)
    farads = found.amps / (2 * pi * found.hertz * drop)
    return (
        f"Make {part.owner} {engineering(farads, 'F')}: the drop of a capacitor is at right angles "
        f"to that of the heaters, root({found.line_v:g}^2 - {found.string_v:.4g}^2) = "
        f"{volts(drop)} at {amperes(found.amps)}"
    )


def _resistor(found: Dropper, part: Branch | None, supply: float, where: str) -> str | None:
    """R = (V - Vh) / I with the rms that is really there."""
    drop = supply - found.string_v
    if drop <= 0:
        return None
    value = drop / found.amps
    name = part.owner if part is not None else "the dropper"
    rms = f"the string sees {volts(supply)} rms{where}, " if where else ""
    return (
        f"Make {name} {ohms(value)} ({watts(drop * found.amps)}): {rms}"
        f"{volts(drop)} to drop at {amperes(found.amps)}"
    )


@dataclass(frozen=True, slots=True)
class Series:
    """A resistor that a line of heaters has its current through, and what it should have been.

    ``ohms`` and ``wanted`` in ohms, ``power`` in watts at the wanted value.
    """

    name: str
    ohms: float
    wanted: float
    power: float

    @property
    def said(self) -> str:
        """What it has and what it should have; a decade is said to be one."""
        slip = log10(self.wanted / self.ohms)
        decade = abs(abs(slip) - 1) < A_DECADE
        looks = ", which looks like a decade lost" if decade else ""
        return f"{self.name} is {ohms(self.ohms)} and should be {ohms(self.wanted)}{looks}"

    @property
    def remedy(self) -> str:
        """The value, and the heat in it."""
        return f"Make {self.name} {ohms(self.wanted)}, which turns {watts(self.power)} into heat"


def sole_feed(circuit: Circuit, line: HeaterLine) -> Branch | None:
    """The resistor that feeds a line of heaters one after the other, with nothing beside them."""
    row: nx.MultiGraph[str] = nx.MultiGraph()
    row.add_edges_from((b.a, b.b) for b in heater_branches(line))
    ends = [n for n, joined in row.degree if joined == 1]
    if len(ends) != 2 or not nx.is_connected(row) or any(d > 2 for _, d in row.degree):
        return None
    own = {n for n in row if n not in LANDMARKS}
    beside = [b for n in own for b in circuit.at(n) if _carries(b)]
    resistor = len(beside) == 1 and beside[0].kind is PartKind.RESISTOR
    return beside[0] if resistor and any(e in (beside[0].a, beside[0].b) for e in ends) else None


def _carries(branch: Branch) -> bool:
    """Whether a part at a heater takes or gives current that lasts."""
    return branch.kind not in (PartKind.HEATER, PartKind.CAPACITOR) and branch.a != branch.b


def series_of(
    line: HeaterLine, feed: Branch, drop: float, known: list[tuple[float, float]]
) -> Series | None:
    """What a resistor with ``drop`` volts across it has to be; ``known`` is (rms, rated) each.

    R = (V + drop - Vh) / I with the rated Vh and I of heaters one after the other. ``None`` where
    they differ in I, or where no resistor would do.
    """
    value, amps = feed.ohms, [tube_amps(t) for t in line.tubes]
    left = sum(rms for rms, _ in known) + drop - sum(rated for _, rated in known)
    if not value or max(amps) > ALIKE * min(amps) or left <= 0:
        return None
    return Series(feed.owner, value, left / max(amps), left * max(amps))
