"""Which nets direct current can get to, through conductors and through the tubes themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.rules.places import AMPLIFYING, METAL, METAL_TOO

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator

    from coldcheck.circuit.model import Branch, Circuit, Section

CONDUCTORS = frozenset((*METAL, *METAL_TOO, "winding", "heater", "speaker", "zener", "led"))
"""Kinds direct current can pass, whatever the value; diodes and sources are looked at apart."""

SUPPLIES = frozenset(("source", "diode"))


def passes(branch: Branch) -> bool:
    """Whether direct current passes in the operating state."""
    return branch.kind in CONDUCTORS and branch.closed


def reach(
    circuit: Circuit,
    start: Iterable[str],
    stop: Collection[str] = (),
    extra: Collection[str] = (),
) -> tuple[str, ...]:
    """Every net reached from ``start``; ``stop`` nets are reached but not passed.

    ``extra`` names kinds of branches that count as well (``source``, ``diode``).
    """
    seen = dict.fromkeys(start)
    todo = list(seen)
    while todo:
        net = todo.pop()
        if net in stop and net not in start:
            continue
        for branch in circuit.at(net):
            far = branch.other(net)
            if far not in seen and (passes(branch) or branch.kind in extra):
                seen[far] = None
                todo.append(far)
    return tuple(seen)


def _behind(
    circuit: Circuit, nets: Iterable[str], electrodes: Collection[str]
) -> Iterator[Section]:
    """The amplifying sections with one of these electrodes on one of these nets."""
    for net in nets:
        for section, electrode in circuit.electrodes_at(net):
            if electrode in electrodes and section.kind in AMPLIFYING:
                yield section


def is_fed(circuit: Circuit, net: str, seen: frozenset[str] = frozenset()) -> bool:
    """Whether DC gets from a supply to a net: a source, a rectifier, the mains, a winding's AC.

    A supply may stand behind another tube (the upper one of a stack feeds the lower).
    """
    stop = [n for n in LANDMARKS if n not in ("line", "neutral")]
    nets = [n for n in reach(circuit, [net], stop) if n not in stop]
    if any(_is_supply(circuit, n) for n in nets):
        return True
    uppers = {s.name: s for s in _behind(circuit, nets, ("cathode", "f1", "f2"))}
    return any(
        is_fed(circuit, s.electrodes["plate"], seen | uppers.keys())
        for s in uppers.values()
        if s.name not in seen and s.electrodes.get("plate") not in (None, *nets)
    )


def _is_supply(circuit: Circuit, net: str) -> bool:
    if net in ("line", "neutral"):
        return True
    if any(b.kind in SUPPLIES or _mains_winding(circuit, b) for b in circuit.at(net)):
        return True
    return any(s.kind == "rectifier" for s, _ in circuit.electrodes_at(net))


def _mains_winding(circuit: Circuit, branch: Branch) -> bool:
    return branch.kind == "winding" and branch.owner.partition(".")[0] in circuit.transformers


def is_returned(
    circuit: Circuit, nets: Collection[str], seen: frozenset[str] = frozenset()
) -> bool:
    """Whether cathode current finds its way to gnd, if need be through the tube below."""
    found = reach(circuit, nets, (), SUPPLIES)
    if GROUND in found or "neutral" in found:
        return True
    lowers = {s.name: s for s in _behind(circuit, found, ("plate",))}
    return any(
        is_returned(circuit, s.cathode_nets, seen | lowers.keys())
        for s in lowers.values()
        if s.name not in seen and not set(s.cathode_nets) & set(found)
    )
