"""The single faults a part can have, in the trade's terms: the list that a sweep goes through."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.circuit.kinds import Suffers
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.throws import switch_of
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import Fault, NoSuchPart
from coldcheck.solve.warmup import small

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit, Tube

GAS_A = {True: 1e-6, False: 10e-6}
"""Grid current of a gassy tube, small ones and output tubes (common practice, from memory)."""

LEAKY_OHM = {True: 10e3, False: 1e6}
"""A capacitor's leak that is well beyond the usual: electrolytics, and all others."""

WEAK_SHARE = 0.5
TOUCHING = (("grid", "cathode"), ("screen", "grid"), ("plate1", "cathode"), ("plate2", "cathode"))
"""Electrodes of a tube that may touch or flash over."""


def every_fault(circuit: Circuit) -> tuple[Fault, ...]:
    """Every part open and shorted, each capacitor leaking, every tube's own faults, every switch.

    In the order of the drawing's parts. A generator or bench supply is no part of the set.
    """
    found: dict[Fault, None] = {}
    for branch in circuit.branches.values():
        found.update(dict.fromkeys(_branch(circuit, branch)))
    for tube in circuit.tubes.values():
        found.update(dict.fromkeys(_tube(circuit, tube)))
    found.update(dict.fromkeys(_insulation(circuit)))
    return tuple(x for x in found if x.kind != f.BRIDGE or apart(circuit, x))


def _branch(circuit: Circuit, branch: Branch) -> Iterator[Fault]:
    name, looped = branch.name, branch.a == branch.b
    for suffered in branch.traits.suffers:
        match suffered:
            case Suffers.THROWN:
                if branch.owner not in circuit.tubes:
                    yield from (Fault(f.THROWN, throw) for throw in branch.thrown_by)
            case Suffers.OPEN:
                yield Fault(f.OPEN, name)
            case Suffers.SHORT:
                if not looped:
                    yield Fault(f.SHORT, name)
            case Suffers.LEAK:
                if not looped:
                    yield Fault(f.LEAK, name, LEAKY_OHM[branch.plus is not None])
            case Suffers.WIPER:
                if not looped:
                    yield from _possible(circuit, Fault(f.WIPER, branch.owner))
            case _:
                assert_never(suffered)


def _tube(circuit: Circuit, tube: Tube) -> Iterator[Fault]:
    yield Fault(f.PULLED, tube.name)
    if tube.type.cathode != "cold":
        yield Fault(f.WEAK, tube.name, WEAK_SHARE)
    for section in tube.sections:
        yield from _possible(circuit, Fault(f.HEATER_CATHODE, section.name))
        if "grid" in section.electrodes:
            yield Fault(f.GASSY, section.name, GAS_A[small(tube)])

        for a, b in TOUCHING:
            if a in section.electrodes and b in section.electrodes:
                yield Fault(f.BRIDGE, f"{section.name}.{a}~{section.name}.{b}")


def _insulation(circuit: Circuit) -> Iterator[Fault]:
    """What insulates windings: from each other, and those at high voltage from the core.

    A core is bolted to the metal: the chassis where one is drawn, else gnd.
    """
    core = "chassis" if "chassis" in circuit.points else GROUND
    for transformer in circuit.transformers.values():
        primary = transformer.primaries[0] if transformer.wired and transformer.primaries else None
        if primary is None:
            continue
        leads = [f"{primary.name}.{lead}" for lead, _ in primary.leads]
        for winding in transformer.secondaries:
            yield Fault(f.BRIDGE, f"{leads[0]}~{winding.name}.{winding.leads[0][0]}")
        yield from (Fault(f.BRIDGE, f"{lead}~{core}") for lead in (leads[0], leads[-1]))
    for output in circuit.outputs.values():
        leads = [lead for lead, _ in output.leads]
        if "s1" in leads:
            yield Fault(f.BRIDGE, f"{output.name}.{leads[0]}~{output.name}.s1")
        yield Fault(f.BRIDGE, f"{output.name}.{leads[0]}~{core}")
    for coil_set in circuit.coil_sets.values():
        lead, *others = [f"{coil.name}.{coil.leads[0][0]}" for coil in coil_set.coils]
        yield from (Fault(f.BRIDGE, f"{lead}~{other}") for other in others)


def apart(circuit: Circuit, fault: Fault) -> bool:
    """Whether the two points are points of the drawing, and not joined anyway."""
    try:
        a, b = f.bridged(circuit, fault.part)
    except NoSuchPart:
        return False
    return a != b


def _possible(circuit: Circuit, fault: Fault) -> Iterator[Fault]:
    """The fault, where such a part can have it."""
    try:
        if fault.kind == f.WIPER:
            f.pot_ends(circuit, fault.part)
        else:
            f.heater_and_cathode(circuit, fault.part)
    except NoSuchPart:
        return
    yield fault


def owners(circuit: Circuit, fault: Fault) -> set[str]:
    """The names a fault goes by: its part, what that belongs to, both ends of a bridge."""
    names = set()
    for part in fault.part.split("~"):
        branch = circuit.branches.get(part)
        names |= {part, branch.owner if branch is not None else part, part.partition(".")[0]}
        names.add(switch_of(part))
    return names | {s.tube for s in circuit.sections() if s.name in names}
