"""A bleeder that is cut off from its capacitor when a fuse blows."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from coldcheck.anatomy import galvanic
from coldcheck.anatomy.galvanic import mains_leads, transformerless
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.rules.supply.charge import LIMIT_S
from coldcheck.rules.supply.unsettled import charging_states
from coldcheck.solve.off.discharge import slowest
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.off.discharge import Decay
    from coldcheck.solve.solution import Solution


@rule(
    "supply.bleeder-behind-fuse",
    title="Bleeder on the far side of a fuse",
    level="warning",
    states="off, each fuse blown in turn; charged in any solved state",
    needs="a solved state, and the values of the capacitors and of what drains them",
    criterion=(
        "A capacitor that falls to 60 V within a minute of switch-off does not when one fuse is "
        "blown: what drains it is on the other side of the fuse."
    ),
    why=(
        "The set goes dead because the fuse blew, somebody opens it to find out why, and the "
        "capacitor ahead of the fuse still has everything the rectifier put there. A bleeder "
        "belongs right across the capacitor it is to drain."
    ),
    source=Citation("practice", "60 V and the charge as for supply.no-bleeder"),
    limits=(
        "One fuse at a time, switches as drawn. A capacitor that is not drained with all fuses "
        "whole is reported as supply.no-bleeder; a bleeder behind a switch is reported there too. "
        "What the fault that blew the fuse drains is not counted on."
    ),
    thresholds=(
        LIMIT_S,
        galvanic.SERIES_OHM,
    ),
)
def bleeder_behind_fuse(case: Case) -> Iterator[Outcome]:
    """Time the discharge again with every fuse out."""
    if unsolved(case) is not None:
        return
    circuit, charging = case.circuit, charging_states(case)
    leads = frozenset[str]() if transformerless(circuit) else _mains_side(circuit)
    blown = [
        b.name
        for b in circuit.branches.values()
        if b.kind is PartKind.FUSE and b.a != b.b and not {b.a, b.b} <= leads
    ]
    without = {fuse: _slow(circuit.without({fuse}), charging) for fuse in blown}
    if not any(without.values()):
        return
    slow = {d.capacitor.name for d in _slow(circuit, charging)}
    for fuse, found in without.items():
        left = [d for d in found if d.capacitor.name not in slow and not d.undrawn]
        if left:
            yield _cut_off(case, fuse, sorted(left, key=lambda d: -d.joules))


def _slow(circuit: Circuit, charging: Iterable[Solution]) -> list[Decay]:
    return [d for d in slowest(circuit, charging) if d.seconds > LIMIT_S.value]


def _mains_side(circuit: Circuit) -> frozenset[str]:
    return frozenset().union(*mains_leads(circuit).values())


def _cut_off(case: Case, fuse: str, left: list[Decay]) -> Finding:
    main = left[0]
    names = tuple(d.capacitor.name for d in left)
    never = math.isinf(main.seconds)
    how = "nothing drains it" if never else f"it takes {main.seconds:.0f} s to fall to 60 V"
    return bleeder_behind_fuse.finding(
        case,
        (*names, fuse),
        f"with {fuse} blown {main.capacitor.name} is left with {volts(abs(main.volts))} "
        f"({main.joules:.2g} J) and {how}",
        f"Put the bleeder right across {listed(names)}, ahead of {fuse}",
        state=f"off, {fuse} blown",
        evidence={
            "voltage": figure(abs(main.volts), "V"),
            "energy": figure(main.joules, "J"),
            "time": "never" if never else figure(main.seconds, "s"),
        },
        limit=LIMIT_S.figure,
        certainty="certain",
        excess=1e3 if never else main.seconds / LIMIT_S.value,
    )


RULES = (bleeder_behind_fuse,)
