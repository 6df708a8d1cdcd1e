"""The mains switch in the wrong lead."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import galvanic
from coldcheck.anatomy.galvanic import (
    LAMP_SHARE,
    loads_at,
    mains_drawn,
    mains_lamps,
    mains_leads,
    transformerless,
    upstream,
)
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed
from coldcheck.judge.rule import rule
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
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
    return circuit.without({n for n, b in circuit.branches.items() if b.traits.by_hand})


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


@rule(
    "mains.lamp-switched-in-neutral",
    title="Lamp on the mains switched in the neutral",
    level="warning",
    states="the drawing alone",
    needs="both mains leads on the drawing, and the lamp's voltage",
    criterion=(
        f"A lamp for more than {LAMP_SHARE:.0%} of the mains has one end on the line, and a switch "
        "or a relay's contact between its other end and the neutral."
    ).replace("%", " %"),
    why=(
        "Dark, the lamp and both contacts of its holder are at line voltage. Who changes the bulb "
        "with the switch off, or the relay at rest, has the line in his hand."
    ),
    source=Citation("practice", "what switches a lamp belongs in the line conductor"),
    limits=(
        "The drawing's line and neutral are trusted. That a switch ahead of all takes the line "
        "away is no help to one who relies on this one."
    ),
    thresholds=(galvanic.SERIES_OHM,),
)
def lamp_switched_in_neutral(case: Case) -> Iterator[Outcome]:
    """Leave out each switch in turn and see what each lamp is left on."""
    circuit = case.circuit
    leads = mains_leads(circuit)
    if not mains_drawn(circuit) or len(leads) < 2 or leads["line"] & leads["neutral"]:
        return
    whole = upstream(circuit, circuit.points["neutral"], through_fuses=True)
    for owner in dict.fromkeys(b.owner for b in circuit.branches.values() if _switches(b)):
        contacts = {n for n, b in circuit.branches.items() if b.owner == owner and _switches(b)}
        line, neutral = _poles(circuit.without(contacts))
        for lamp in mains_lamps(circuit):
            for hot, cold in ((lamp.a, lamp.b), (lamp.b, lamp.a)):
                if hot in line and cold in whole - neutral:
                    yield _still_live(case, owner, lamp.owner)


def _switches(branch: Branch) -> bool:
    return branch.traits.by_hand or branch.kind is PartKind.CONTACT


def _poles(circuit: Circuit) -> tuple[frozenset[str], frozenset[str]]:
    """The nets of the line's and the neutral's lead."""
    line, neutral = (upstream(circuit, circuit.points[p], through_fuses=True)
                     for p in ("line", "neutral"))  # fmt: skip
    return line, neutral


def _still_live(case: Case, owner: str, lamp: str) -> Outcome:
    return lamp_switched_in_neutral.finding(
        case,
        (owner, lamp, "neutral"),
        f"{owner} parts {lamp} from the neutral and leaves it on the line: its holder is live",
        f"Wire {owner} between the line's fuse and {lamp}, and {lamp}'s other end to the neutral",
        evidence={"live_when_off": lamp},
        certainty="certain",
    )


RULES = (switch_in_neutral, lamp_switched_in_neutral)
