"""Which states a circuit is solved in, from ``cold`` through ``warming`` to ``pulled``."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, assert_never

import networkx as nx

from coldcheck.circuit.throws import throws_among
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.relays import late
from coldcheck.solve.solution import COLD, HIGH, LOW, PULLED, STANDBY, WARM, WARMING, State
from coldcheck.solve.warmup import warming_states

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch, Circuit


LIT = "lit"
"""What a state begins with in which light falls on a photocell; it is judged as a position is."""


FIRED = "fired"
"""What a state begins with in which a thyristor or triac conducts, and its kind: of a crowbar it
lasts until a fuse opens, so only the rules of thyristors judge it."""


def states_of(circuit: Circuit) -> tuple[State, ...]:
    """Return the states worth solving, warm first (the others start from its answer)."""
    tolerance = circuit.mains_tolerance
    found = [State(WARM, WARM)]
    if circuit.tubes:
        found.append(State(COLD, COLD, warm=False))
        found += warming_states(circuit)
    if circuit.mains is not None or circuit.transformers:
        found.append(State(HIGH, HIGH, line=1 + tolerance))
        found.append(State(LOW, LOW, line=1 - tolerance))
    found += [_standby(throw) for throw in _throws(circuit)]
    found += [_lit(b) for b in circuit.branches.values() if _steered(b)]
    found += [
        State(f"{FIRED} {name}", FIRED, thrown=frozenset({name})) for name in circuit.thyristors
    ]
    found += [
        State(f"{word} {name}", STANDBY, thrown=frozenset({name}))
        for name, word in circuit.plugs.items()
    ]
    found += [State(f"{PULLED} {t}", PULLED, pulled=frozenset({t})) for t in circuit.tubes]
    held = late(circuit)
    return tuple(_before_it_closes(s, held) if s.kind in (COLD, WARMING) else s for s in found)


def _before_it_closes(state: State, held: frozenset[str]) -> State:
    """A state on the way to warm, with the contacts of late relays as they are until then."""
    return replace(state, thrown=state.thrown | held) if held else state


def _standby(switch: str) -> State:
    return State(f"{STANDBY} {switch}", STANDBY, thrown=frozenset({switch}))


def _steered(branch: Branch) -> bool:
    return branch.kind is PartKind.PHOTOCELL and branch.resistance is not None


def _lit(cell: Branch) -> State:
    """A photocell in the light of its lamp; in all other states it is in the dark."""
    (name,) = cell.thrown_by
    return State(f"{LIT} {name}", STANDBY, thrown=frozenset({name}))


def _throws(circuit: Circuit) -> tuple[str, ...]:
    switches = standby_switches(circuit)
    return throws_among(
        b for b in circuit.branches.values() if b.traits.by_hand and b.owner in switches
    )


def standby_switches(circuit: Circuit) -> tuple[str, ...]:
    """Switches that can be thrown with the mains on: those not joined to the mains wiring.

    A switch joined by conductors to ``line`` or ``neutral`` is a power switch; throwing it is
    the state ``off``, not ``standby`` - unless the whole set hangs on the mains (no
    transformer), where only a switch next to the line itself counts as the power switch.
    """
    mains_side = _mains_side(circuit)
    names = dict.fromkeys(
        b.owner
        for b in circuit.branches.values()
        if b.traits.by_hand and b.owner not in circuit.tubes and not {b.a, b.b} <= mains_side
    )
    return tuple(names)


def _in_lead(kind: PartKind) -> bool:
    """What may stand in a mains lead ahead of the primary and carry nothing else."""
    match kind:
        case (
            PartKind.FUSE | PartKind.SWITCH | PartKind.THERMISTOR | PartKind.BARRETTER
            | PartKind.CONTACT
            | PartKind.METER | PartKind.THYRISTOR | PartKind.PLUG
        ):  # fmt: skip
            return True
        case (
            PartKind.RESISTOR | PartKind.CAPACITOR | PartKind.INDUCTOR | PartKind.DIODE
            | PartKind.LED | PartKind.ZENER | PartKind.PHOTOCELL | PartKind.LAMP | PartKind.SPEAKER
            | PartKind.JACK | PartKind.SOURCE | PartKind.HEATER | PartKind.WINDING
            | PartKind.POT | PartKind.JACK_CONTACT
            | PartKind.PLUG | PartKind.SIGNAL | PartKind.RELAY
            | PartKind.ARRESTER | PartKind.TRIGGER | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return False
        case _:
            assert_never(kind)


def _mains_side(circuit: Circuit) -> frozenset[str]:
    """Nets that carry nothing but the incoming mains: line side of switches, fuses, primaries."""
    graph: nx.Graph[str] = nx.Graph()
    ends = [circuit.points[n] for n in ("line", "neutral") if n in circuit.points]
    graph.add_nodes_from(ends)
    primaries = {b.name for w in circuit.windings() if w.primary for b in w.branches}
    for branch in circuit.branches.values():
        if branch.name in primaries or _in_lead(branch.kind):
            graph.add_edge(branch.a, branch.b)
    sides = [nx.node_connected_component(graph, n) for n in ends]
    return frozenset().union(*sides)
