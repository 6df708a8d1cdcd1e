"""Relays that mute an output, with the sound at the wrong one of their two positions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import GIVES, coupled, still_nets
from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.neighbourhood import AMPLIFYING
from coldcheck.anatomy.output_stage import thrown_circuit
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.rule import rule
from coldcheck.solve.solution import STANDBY
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Relay
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "output.muted-at-work",
    title="Relay that lets the sound through at rest and cuts it off at work",
    level="notice",
    states="the drawing; warm and standby, where they are solved, say where the relay is",
    needs="a relay that is pulled in at work, and a speaker, phones or a jack behind its contacts",
    criterion="No signal gets from a tube, a transistor or a transformer to the speaker or jack "
    "with the relay as it is at work, because a contact is open or shorts it to gnd; and it does "
    "with the relay at rest.",
    why="A relay that mutes while a set warms up is at rest then, and pulled in from there on. "
    "With make and break contact exchanged what is plugged in takes the surge that charges the "
    "capacitors, and then the set is silent.",
    source=PRACTICE,
    limits="Looked at are relays with a delay, and those that are pulled in for as long as the set "
    "is on; one that a switch, a tube or a transistor lets go may be meant to mute when it pulls "
    "in. A relay that gives the signal to another speaker or jack at work is left alone, and one "
    "that shorts it through a resistor is not seen.",
)
def muted_at_work(case: Case) -> Iterator[Outcome]:
    """Throw each such relay, and look at what the signal gets to then."""
    for relay in case.circuit.relays.values():
        if not _pulled_in(case, relay) or not _steady(case, relay):
            continue
        now = _thrown(case)
        at_work = _driven(thrown_circuit(case.circuit, now))
        at_rest = _driven(thrown_circuit(case.circuit, now ^ {relay.name}))
        if at_rest > at_work:
            yield _finding(case, relay, sorted(at_rest - at_work))


def _thrown(case: Case) -> frozenset[str]:
    """What stands otherwise than drawn while the set works."""
    warm = case.solutions.get("warm")
    return warm.state.thrown if warm is not None and warm.converged else frozenset()


def _pulled_in(case: Case, relay: Relay) -> bool:
    return relay.released is (relay.name in _thrown(case))


def _steady(case: Case, relay: Relay) -> bool:
    """Whether nothing but the mains and time has a say in where a relay is."""
    if relay.delay is not None:
        return True
    near = {relay.coil.a, relay.coil.b} - set(LANDMARKS)
    near |= {b.other(n) for n in near for b in case.circuit.at(n) if b.kind is PartKind.RESISTOR}
    valves = any(case.circuit.electrodes_at(n) for n in near - set(LANDMARKS))
    steered = any(
        not one.type.family.regulates and not near.isdisjoint({*one.nets.values()} - set(LANDMARKS))
        for one in case.circuit.transistors.values()
    )
    return not valves and not steered and not _let_go_by_hand(case, relay)


def _let_go_by_hand(case: Case, relay: Relay) -> bool:
    now = _thrown(case)
    return any(
        (relay.name in s.state.thrown) is not (relay.name in now)
        for s in case.solved(STANDBY)
        if s.state.name != f"standby {relay.name}"
    )


def _driven(circuit: Circuit) -> frozenset[str]:
    """The speakers, and the tips and rings of jacks, that a signal gets to."""
    still = still_nets(circuit) | _shorted(circuit)
    ends: dict[str, tuple[str, ...]] = {
        b.name: (b.a, b.b) for b in circuit.branches.values() if b.kind is PartKind.SPEAKER
    }
    ends |= {f"{j.name}.tip": (j.tip,) for j in jacks(circuit)}
    ends |= {f"{j.name}.ring": (j.ring,) for j in jacks(circuit) if j.ring is not None}
    return frozenset(
        name for name, nets in ends.items() if _gets(circuit, name, set(nets) - still, still)
    )


def _gets(circuit: Circuit, name: str, nets: set[str], still: frozenset[str]) -> bool:
    """Whether something gives a signal to each of these nets, of which there is one at least."""
    each = (coupled(circuit, [n], still, (name,)) for n in nets)
    return bool(nets) and all(any(_gives(circuit, n) for n in found) for found in each)


def _gives(circuit: Circuit, net: str) -> bool:
    if any(e in GIVES and s.kind in AMPLIFYING for s, e in circuit.electrodes_at(net)):
        return True
    wound = {*circuit.outputs, *circuit.coil_sets}
    return any(b.traits.steered or b.owner.split(".")[0] in wound for b in circuit.at(net))


def _shorted(circuit: Circuit) -> set[str]:
    """The nets that closed contacts join to gnd or another landmark."""
    closed = [
        {b.a, b.b}
        for b in circuit.branches.values()
        if b.kind is PartKind.CONTACT and b.closed and {b.a, b.b} & set(LANDMARKS)
    ]
    return set().union(*closed)


def _finding(case: Case, relay: Relay, cut: list[str]) -> Finding:
    name, late = relay.name, "" if relay.delay is None else f" from {relay.delay:g} s on"
    return muted_at_work.finding(
        case,
        (name, *cut),
        f"{name} is pulled in at work{late}, and cuts {listed(cut)} off then: a signal gets there "
        f"only while {name} is at rest",
        f"Exchange what is on the make and the break contact of {name} (`no` and `nc`): at rest it "
        "is to mute, pulled in to let the signal through",
        state="warm",
        certainty="certain" if relay.delay is not None else "likely",
    )


RULES: tuple[Rule, ...] = (muted_at_work,)
