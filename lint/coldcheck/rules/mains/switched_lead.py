"""The mains switch in the wrong lead."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.anatomy import galvanic
from coldcheck.anatomy.galvanic import (
    loads_at,
    mains_drawn,
    mains_leads,
    transformerless,
    upstream,
)
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.wording import listed
from coldcheck.judge.rule import rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Outcome


@rule(
    "mains.switch-in-neutral",
    title="Mains switch in the neutral alone",
    level="warning",
    states="the drawing alone",
    needs="both mains leads on the drawing",
    criterion=(
        "A switch parts the set from `neutral`, and from `line` none does. In a set without a "
        "mains transformer it is a danger."
    ),
    why=(
        "Switched off, the whole set still carries line voltage: whoever changes a fuse or a "
        "tube with the switch off works on the mains. Without a transformer the line comes "
        "through the heaters to the common, and everything on it is live."
    ),
    source=Citation("practice", "switch and fuse belong in the line conductor"),
    limits=(
        "The drawing's line and neutral are trusted; a plug that fits both ways makes a switch "
        "in one lead a matter of chance, and wants one in both. A set without any switch is left "
        "alone."
    ),
    thresholds=(galvanic.SERIES_OHM,),
)
def switch_in_neutral(case: Case) -> Iterator[Outcome]:
    """Open every switch and see which lead still reaches the set."""
    circuit = case.circuit
    leads = mains_leads(circuit)
    if not mains_drawn(circuit) or len(leads) < 2 or leads["line"] & leads["neutral"]:
        return
    opened = _all_open(circuit)
    line, neutral = (_reach(opened, pole) for pole in ("line", "neutral"))
    if not line or neutral:
        return
    switches = _switches_to(circuit, opened)
    if switches:
        bare = transformerless(circuit)
        yield switch_in_neutral.finding(
            case,
            (*switches, "neutral"),
            f"{listed(switches)} is in the neutral alone: switched off, {listed(line)} "
            f"{'and the set behind it are' if bare else 'is'} still on the line",
            f"Move {switches[0]} into the line lead, behind the fuse, or use one that breaks both "
            "leads (dpst)",
            level="danger" if bare else "warning",
            evidence={"live_when_off": listed(line)},
            certainty="certain",
        )


def _all_open(circuit: Circuit) -> Circuit:
    kept = {n: b for n, b in circuit.branches.items() if not b.traits.by_hand}
    return replace(circuit, branches=kept)


def _reach(opened: Circuit, pole: str) -> tuple[str, ...]:
    """What draws power and is reached from a pole with every switch open."""
    return loads_at(opened, upstream(opened, opened.points[pole], through_fuses=True))


def _switches_to(circuit: Circuit, opened: Circuit) -> tuple[str, ...]:
    """The switches that stand next to what the neutral still reaches, and lead to a load."""
    neutral = upstream(opened, opened.points["neutral"], through_fuses=True)
    beside = [b for b in circuit.branches.values() if b.traits.by_hand and {b.a, b.b} & neutral]
    far = {n for b in beside for n in (b.a, b.b)} - neutral
    reached = {b.owner for b in beside if _loaded(circuit, far & {b.a, b.b})}
    return tuple(dict.fromkeys(b.owner for b in beside if b.owner in reached))


def _loaded(circuit: Circuit, nets: set[str]) -> bool:
    behind = (upstream(circuit, n, through_fuses=True) for n in nets - {GROUND})
    return GROUND in nets or any(loads_at(circuit, reached) for reached in behind)


RULES = (switch_in_neutral,)
