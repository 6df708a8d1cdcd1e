"""A tapped supply winding of which only one half reaches the rectifier."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import wired
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed
from coldcheck.judge.finding import Blame
from coldcheck.judge.limits import SUPPLY_WINDING_V
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Winding
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "supply.half-not-wired",
    title="Half of a tapped supply winding is not wired",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the wiring",
    criterion=f"A winding of {SUPPLY_WINDING_V.value:g} V or more has its tap and one end wired, "
    "and nothing at the other end.",
    why="The rectifier then works on one half: less voltage, twice the hum at half the frequency, "
    "and a direct current through the transformer's core, which saturates it and heats it.",
    source=PRACTICE,
    limits="Whether the other half is left over on purpose cannot be seen: an `accept` says so.",
    thresholds=(SUPPLY_WINDING_V,),
)
def half_not_wired(case: Case) -> Iterator[Outcome]:
    """Look at the ends of every tapped winding."""
    for winding in case.circuit.windings():
        leads = dict(winding.leads)
        if winding.primary or not {"1", "ct", "2"} <= set(leads):
            continue
        if (si(winding.volts, "volt") or 0.0) < SUPPLY_WINDING_V.value or not _used(
            case.circuit, winding, "ct"
        ):
            continue
        bare = [end for end in ("1", "2") if not _used(case.circuit, winding, end)]
        if len(bare) == 1:
            yield _half(case, winding, bare[0])


def _used(circuit: Circuit, winding: Winding, end: str) -> bool:
    """Whether anything but the winding's own halves is on a lead."""
    net = dict(winding.leads)[end]
    own = {b.name for b in winding.branches}
    if any(b.name not in own for b in circuit.at(net)) or circuit.electrodes_at(net):
        return True
    return net in ("gnd", "chassis", "earth") or any(
        n != f"{winding.name}.{end}" for n in circuit.names.get(net, ())
    )


def _half(case: Case, winding: Winding, end: str) -> Finding:
    plates = [
        f"{s.name}.{p}"
        for s in case.circuit.sections()
        if s.kind is SectionKind.RECTIFIER
        for p in s.plates
        if not wired(case.circuit, s.net(p))
    ]
    to = f" (to {listed(plates)}, which is free)" if plates else ""
    return half_not_wired.finding(
        case,
        (
            winding.name,
            f"{winding.name}.{end}",
            *dict.fromkeys(p.partition(".")[0] for p in plates),
        ),
        f"{winding.name}: its tap and one end are wired, {winding.name}.{end} is not: the supply "
        "works on one half of it",
        f"Wire {winding.name}.{end} to the rectifier as well{to}",
        evidence={"free_lead": f"{winding.name}.{end}"},
    )


RULES: tuple[Rule, ...] = (half_not_wired,)
