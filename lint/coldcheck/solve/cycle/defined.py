"""Which nets have no number: nothing in the drawing fixes their potential.

A net is defined when conductors, diodes or the plate-cathode and screen-cathode paths of tubes
join it to gnd. Capacitors, insulation and control grids do not hold a potential.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.circuit.kinds import Holds
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import CONTROL, SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import branch_siemens
from coldcheck.solve.solution import Lost, NoNumber
from coldcheck.solve.warmup import emits

if TYPE_CHECKING:
    from collections.abc import Container

    from coldcheck.circuit.model import Branch, Circuit, Section, Winding
    from coldcheck.solve.solution import State

RECTIFIED_AMPS = 0.07
"""Rated for a rectifier whose rating is not on file; a 6X4's."""

FILAMENT_DROPS, CATHODE_DROPS = (70.0, 45.0, 25.0), (52.0, 20.0, 9.0)
"""Most, a middle and least volts across one plate of a vacuum rectifier at its rated current.

Heated directly (5U4GB 50, 80 60, 5R4GY 67) and by a cathode (6AX5GT 50, EZ80 20, 35W4 11): those of
the types whose law is on file, and room for the European ones between (memory).
"""

INDICATOR_PERVEANCES = (1e-7, 5e-7, 2e-6)
"""From half a milliampere to 8 mA at 250 V; targets on file take 1.1 (6FG6) and 4 mA (6E5)."""

BEAM_PERVEANCES = (0.0, 1e-9, 5e-9)
"""Dark, and up to 0.3 mA at 1500 V: beams of cathode-ray tubes are below that (memory)."""

ANY_PERVEANCES = (0.0, 1e-6, 1e-4)
"""Nothing, milliamperes, and 0.4 A at 250 V: more than any tube that is no supply's rectifier."""

IDLE = "suppressor"
"""No law has it: where it floats it is told, and whatever it does to the current is not known."""

FLOATS = NoNumber(Lost.FLOATING, "floating: nothing ties it to gnd")


def undefined_nets(circuit: Circuit, state: State) -> dict[str, NoNumber]:
    """Net -> why it has no number in this state."""
    joined = _holding(circuit, state)
    return {
        net: FLOATS
        for net in circuit.graph.nodes
        if GROUND not in joined.parent or not joined.same(net, GROUND)
    }


def floating_ends(circuit: Circuit, state: State) -> tuple[str, ...]:
    """One net of each island that nothing ties to gnd."""
    joined = _holding(circuit, state)
    islands: dict[str, list[str]] = {}
    for net in circuit.graph.nodes:
        islands.setdefault(joined.find(net), []).append(net)
    return tuple(min(island) for island in islands.values() if GROUND not in island)


def floating_grids(circuit: Circuit, state: State, floating: Container[str]) -> tuple[str, ...]:
    """Undefined nets that hold a gate, or a control grid of a tube in its socket and wired."""
    nets: dict[str, None] = {}
    for section in circuit.sections():
        if section.tube in state.pulled or not _used(circuit, section):
            continue
        for electrode in CONTROL:
            net = section.net(electrode)
            if net is not None and net in floating and electrode != IDLE:
                nets[net] = None
    gates = (q.nets["gate"] for q in circuit.transistors.values() if q.type.family.gated)
    nets |= {net: None for net in gates if net in floating}
    return tuple(nets)


def unknown_values(circuit: Circuit) -> tuple[Branch, ...]:
    """Branches whose main value is not known and matters.

    A winding that nothing is wired to does not. A coil of unknown size does where it has iron:
    those for radio frequencies have a reactance of nothing to the mains. What it does to a signal
    is left open in either case.
    """
    by_ratio = {b.name for o in circuit.outputs.values() for _, b in o.branches}
    by_ratio |= {b.name for s in circuit.coil_sets.values() for _, b in s.branches}
    by_ratio |= {b.name for w in circuit.windings() if _idle(circuit, w) for b in w.branches}
    unsized = {
        b.name for s in circuit.coil_sets.values() if s.iron and not s.springs
        for c in s.coils if c.unsized for _, b in c.parts
    }  # fmt: skip
    return tuple(
        b
        for b in circuit.branches.values()
        if b.name in unsized or (b.value is None and b.name not in by_ratio and _needs_value(b))
    )


def _idle(circuit: Circuit, winding: Winding) -> bool:
    """Whether nothing but its own parts is on the leads of a winding."""
    own = {b.name for b in winding.branches}
    return all(
        net not in LANDMARKS
        and all(b.name in own for b in circuit.at(net))
        and not circuit.electrodes_at(net)
        for net in winding.nets
    )


def lawless(circuit: Circuit, state: State) -> tuple[Section, ...]:
    """Sections that are wired and emit, and of whose current nothing is known."""
    return tuple(
        s
        for s in circuit.sections()
        if s.type.law is None and emits(circuit.tubes[s.tube], state) and _takes(circuit, s)
    )


def _takes(circuit: Circuit, section: Section) -> bool:
    """Whether a wire leads to an electrode that could take current from something."""
    idle = set(section.cathode_nets)
    nets = {n for e, n in section.electrodes.items() if e not in CONTROL} - idle
    return any(circuit.at(net) or len(circuit.electrodes_at(net)) > 1 for net in nets)


def trial_perveances(circuit: Circuit, section: Section) -> tuple[float, float, float]:
    """The least, a middle and the largest perveance of a section without a law, A/V^1.5."""
    match section.kind:
        case SectionKind.RECTIFIER:
            tube = circuit.tubes[section.tube]
            drops = FILAMENT_DROPS if tube.type.cathode == "filament" else CATHODE_DROPS
            rated = tube.type.rating("rectifier-current")
            amps = RECTIFIED_AMPS if rated is None else rated.value
            least, middle, most = (amps / volts**1.5 for volts in drops)
            return least, middle, most
        case SectionKind.INDICATOR:
            return INDICATOR_PERVEANCES
        case SectionKind.BEAM:
            return BEAM_PERVEANCES
        case (
            SectionKind.TRIODE | SectionKind.PENTODE | SectionKind.CONVERTER | SectionKind.MIXER
            | SectionKind.THYRATRON | SectionKind.DIODE | SectionKind.REGULATOR
            | SectionKind.UNKNOWN
        ):  # fmt: skip
            return ANY_PERVEANCES
        case _ as kind:
            assert_never(kind)


def no_law(section: Section) -> str:
    """What a number is said to depend on that hangs on such a section."""
    return f"the current of {section.name}, of which no law is on file"


def _needs_value(branch: Branch) -> bool:
    if branch.kind is PartKind.LAMP and branch.part is not None and not branch.glows:
        return not (branch.part.voltage and branch.part.current)
    return branch.traits.needs_value


@dataclass(slots=True)
class _Joined:
    """Sets of nets that grow together (union-find); ``parent`` holds every net."""

    parent: dict[str, str]

    def find(self, net: str) -> str:
        """The net that stands for the set."""
        parent = self.parent
        while parent[net] != net:
            parent[net] = parent[parent[net]]
            net = parent[net]
        return net

    def join(self, a: str, b: str) -> None:
        """Make one set of two; the later net goes under the earlier's."""
        self.parent[self.find(b)] = self.find(a)

    def same(self, a: str, b: str) -> bool:
        """Whether two nets are in one set."""
        return self.find(a) == self.find(b)


def _holds(branch: Branch, state: State) -> bool:
    holds = branch.traits.holds
    match holds:
        case Holds.ALWAYS:
            return branch.closed or branch.kind is not PartKind.SIGNAL
        case Holds.CLOSED:
            return branch_siemens(branch, state, assumed=1.0) > 0
        case Holds.NEVER:
            return False
        case _:
            assert_never(holds)


def _holding(circuit: Circuit, state: State) -> _Joined:
    joined = _Joined({net: net for net in circuit.graph.nodes})
    for branch in circuit.branches.values():
        if _holds(branch, state):
            joined.join(branch.a, branch.b)
    for a, b in (("line", "neutral"), ("neutral", "earth")):
        if a in circuit.points and b in circuit.points:
            joined.join(circuit.points[a], circuit.points[b])
    for section in circuit.sections():
        if section.tube not in state.pulled:
            _hold_section(joined, section)
    return joined


def _hold_section(joined: _Joined, section: Section) -> None:
    """Every electrode that takes current holds its net to the cathode's, where that is known."""
    if section.kind is SectionKind.UNKNOWN:
        return
    first = section.cathode_nets[0]
    for net in section.cathode_nets:
        joined.join(first, net)
    for electrode, net in section.electrodes.items():
        if electrode not in CONTROL:
            joined.join(first, net)


def _used(circuit: Circuit, section: Section) -> bool:
    """Whether the drawing wires this section's plate to anything."""
    return any(circuit.at(section.electrodes[e]) for e in section.plates)
