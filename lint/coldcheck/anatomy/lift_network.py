"""What a heater line hangs on: its centre, the rail that lifts it, the resistors and capacitors.

The *core* of a line is the line with all that low resistances join to it: its tap, the middle of a
resistor pair or of a hum pot, the tap of its divider.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf, pi
from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import metal, nearest, ohms_between, sources_shorted
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.paths import Change, has_reference
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.heater_lines import HeaterLine
    from coldcheck.circuit.model import Branch, Circuit

CENTRE_OHMS = Threshold(
    "most resistance that only makes the centre of a winding",
    1e3,
    "ohm",
    Citation("practice", "two of 100 ohm"),
)
"""Resistors up to this only make the centre of a winding (common practice: 2 x 100 ohm)."""

RESERVOIR_FARADS = Threshold("least capacitance that holds a rail", 1e-6, "F", PRACTICE)
"""From this on a capacitor holds a rail."""

HELD = ("gnd", "chassis", "earth")

CATHODE_OHM = 470.0
"""As much shares the current of pass tubes in parallel: their cathodes are on the output."""


@dataclass(frozen=True, slots=True)
class Lift:
    """How a heater line is lifted.

    core
        Nets of the line and of what is joined to it by low resistances.
    upper
        The resistors (or half a pot) from the core towards a rail.
    rail
        The net of the rail.
    """

    core: frozenset[str]
    upper: tuple[Branch, ...]
    rail: str


def core_of(circuit: Circuit, line: HeaterLine, most: float) -> frozenset[str]:
    """Nets joined to a line by resistors, pots and coils of at most ``most`` ohm."""
    seen = [n for n in line.nets if n not in LANDMARKS]
    for net in seen:
        for branch in circuit.at(net):
            far = branch.other(net)
            joined = branch.kind in (PartKind.WINDING, PartKind.HEATER) or _small(branch, most)
            if joined and far not in seen and far not in LANDMARKS:
                seen.append(far)
    return frozenset(seen)


def _small(branch: Branch, most: float) -> bool:
    ohms = branch.ohms if branch.traits.steady else None
    return ohms is not None and ohms <= most


def lift_of(circuit: Circuit, line: HeaterLine) -> Lift | None:
    """The rail that a line is lifted from, through resistors; ``None`` where there is none."""
    core = core_of(circuit, line, CENTRE_OHMS.value)
    for net in sorted(core):
        for branch in circuit.at(net):
            if branch.traits.steady and branch.other(net) not in core:
                found = _up(circuit, core, branch, branch.other(net))
                if found is not None:
                    return found
    return None


def _up(circuit: Circuit, core: frozenset[str], first: Branch, net: str) -> Lift | None:
    """Follow resistors in series from the core to a rail."""
    chain = [first]
    while net not in LANDMARKS and net not in core:
        if is_rail(circuit, net):
            return Lift(core, tuple(chain), net)
        onward = [b for b in circuit.at(net) if b.traits.steady and b not in chain]
        if len(onward) != 1:
            return None
        chain.append(onward[0])
        net = onward[0].other(net)
    return None


def is_rail(circuit: Circuit, net: str) -> bool:
    """Whether a source, a rectifier or a reservoir capacitor to gnd holds a net up."""
    for branch in circuit.at(net):
        if branch.kind is PartKind.SOURCE and branch.a == net:
            return True
        if _reservoir(branch) and branch.plus in (net, None) and branch.other(net) in HELD:
            return True
    kinds = {s.kind for s, e in circuit.electrodes_at(net) if e in ("cathode", "f1", "f2")}
    return SectionKind.RECTIFIER in kinds


def _reservoir(branch: Branch) -> bool:
    farads = branch.farads if branch.kind is PartKind.CAPACITOR else None
    return farads is not None and farads >= RESERVOIR_FARADS.value


def bypasses(circuit: Circuit, core: Collection[str]) -> Iterator[Branch]:
    """The capacitors from a core to gnd."""
    for branch in circuit.branches.values():
        ends = {branch.a, branch.b}
        if branch.kind is PartKind.CAPACITOR and ends & set(core) and ends & set(HELD):
            yield branch


def source_ohms(circuit: Circuit, line: HeaterLine, core: Collection[str]) -> float | None:
    """What the line sees towards gnd, every rail but its own tap held there; ohms.

    ``inf`` without a path, ``None`` where a value on it is not known.
    """
    own = {b.name for b in bypasses(circuit, core)}
    held = {
        name: replace(b, kind=PartKind.FUSE, value=None)
        for name, b in circuit.branches.items()
        if name not in own and _reservoir(b) and {b.a, b.b} & set(HELD)
    }
    shorted = sources_shorted(replace(circuit, branches={**circuit.branches, **held}))
    return ohms_between(shorted, line.net)


def corner(ohms: float, farads: float) -> float:
    """Below this frequency (hertz) a bypass does not hold: 1 / (2 pi R C)."""
    return 1 / (2 * pi * ohms * farads) if ohms > 0 and farads > 0 else inf


def held_without(circuit: Circuit, line: HeaterLine, lift: Lift) -> bool:
    """Whether the line still has a way to gnd with the resistor from the rail open."""
    change = Change(opened=frozenset({lift.upper[0].name}))
    return has_reference(circuit, line.net, change, targets=HELD)


def regulated(circuit: Circuit, nets: Collection[str]) -> bool:
    """Whether a gas tube or a zener stands on one of the nets: it holds them like a capacitor."""
    gas = any(s.kind is SectionKind.REGULATOR for n in nets for s, _ in circuit.electrodes_at(n))
    return gas or any(b.kind is PartKind.ZENER for n in nets for b in circuit.at(n))


def highest(case: Case, net: str) -> tuple[float, str] | None:
    """The highest DC of a net and its state, over the states with all tubes in."""
    found = [
        (s.waves[net].dc, s.state.name)
        for s in case.solved()
        if net in s.waves and not s.state.pulled
    ]
    return max(found, key=lambda f: f[0], default=None)


def at_its_cathodes(circuit: Circuit, line: HeaterLine, lift: Lift) -> bool:
    """Whether a line is tied to where its tubes' cathodes are: it has to go where they go."""
    graph, core = metal(circuit), sorted(lift.core)
    ways = [[nearest(graph, n, c) for c in core if c in graph] for t in line.tubes
            for s in t.sections for n in s.cathode_nets if n in graph]  # fmt: skip
    near = [any(w is not None and w <= CATHODE_OHM for w in found) for found in ways]
    return bool(near) and all(near)


def rides_along(circuit: Circuit, line: HeaterLine, lift: Lift) -> bool:
    """Whether the rail is where all cathodes of the line are: its heaters have to be there too."""
    graph = metal(circuit)
    near = [nearest(graph, n, lift.rail) for t in line.tubes for s in t.sections
            for n in s.cathode_nets]  # fmt: skip
    return bool(near) and all(ohm is not None and ohm <= CATHODE_OHM for ohm in near)
