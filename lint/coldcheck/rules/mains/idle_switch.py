"""A switch in the mains with nothing behind it: what it was to switch off stays on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.galvanic import poles, upstream
from coldcheck.anatomy.neighbourhood import own_text
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.spread import spread
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.judge.finding import Blame
from coldcheck.judge.limits import SUPPLY_WINDING_V
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Transformer
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "mains.switch-cuts-nothing",
    title="Mains switch with nothing behind it",
    level="danger",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the mains side on the drawing",
    criterion="A switch of one make contact has one lead in the line's or the neutral's lead and "
    "nothing at its other lead, and from the same point a transformer with a winding of "
    f"{SUPPLY_WINDING_V.value:g} V or more is fed.",
    why="The switch of a lid or a door, or the one that was to take the plate voltage off, is in "
    "no circuit: whoever opens it and reaches in believes that the set is dead.",
    source=(PRACTICE, Citation("iec-61010-1", "interlocks of covers")),
    limits="Which of the parts ahead of it was to be behind it is a guess: the one that leads to "
    "the highest voltage. Changeover switches with a free throw are left alone.",
    thresholds=(SUPPLY_WINDING_V,),
)
def switch_cuts_nothing(case: Case) -> Iterator[Outcome]:
    """Look at each contact that works by hand, alone on its pole, in a mains lead."""
    circuit = case.circuit
    live = [upstream(circuit, n, through_fuses=True) for n in poles(circuit)]
    for branch in _single(circuit):
        for net in (branch.a, branch.b):
            ahead = branch.other(net)
            bare = len(circuit.at(net)) == 1 and not circuit.electrodes_at(net)
            if bare and net not in LANDMARKS and any(ahead in nets for nets in live):
                fed = _fed(circuit, branch, ahead)
                if fed is not None:
                    yield _finding(case, branch, (ahead, net), fed)


def _single(circuit: Circuit) -> list[Branch]:
    """The contacts worked by hand whose leads have no other contact of the same switch."""
    hand = [b for b in circuit.branches.values() if b.traits.by_hand]
    on = [(b.owner, n) for b in hand for n in (b.a, b.b)]
    return [b for b in hand if all(on.count((b.owner, n)) == 1 for n in (b.a, b.b))]


def _fed(circuit: Circuit, switch: Branch, net: str) -> tuple[str, str] | None:
    """The part or lead at a net that leads to the highest winding, and that transformer."""
    found: list[tuple[float, str, str]] = []
    for branch in circuit.at(net):
        if branch is switch:
            continue
        nets = _onward(circuit, branch, net)
        for transformer in circuit.transformers.values():
            own = {b.name for w in transformer.primaries for b in w.branches}
            most = _highest(transformer)
            if most >= SUPPLY_WINDING_V.value and (
                branch.name in own or any(b.name in own for n in nets for b in circuit.at(n))
            ):
                found.append((most, branch.owner, transformer.name))
    best = max(found, default=None)
    return None if best is None else best[1:]


def _highest(transformer: Transformer) -> float:
    return max((si(w.volts, "volt") or 0.0 for w in transformer.secondaries), default=0.0)


def _onward(circuit: Circuit, first: Branch, net: str) -> set[str]:
    """What a part leads to through fuses and contacts, closed or not, away from a net."""
    if not (first.traits.opens or first.kind is PartKind.FUSE):
        return set()
    ends = {circuit.points[p] for p in ("line", "neutral") if p in circuit.points}
    start = {first.other(net)} - {net, *ends}

    def leads(branch: Branch, here: str) -> bool:
        through = branch.traits.opens or branch.kind is PartKind.FUSE
        return through and branch.other(here) not in {net, *ends}

    return set(spread(circuit, start, leads))


def _finding(case: Case, switch: Branch, nets: tuple[str, str], fed: tuple[str, str]) -> Finding:
    ahead, bare = (own_text(case.circuit, n) for n in nets)
    part, transformer = fed
    return switch_cuts_nothing.finding(
        case,
        (part, switch.owner, bare, ahead),
        f"{switch.owner} has nothing behind it at {bare}: {part}, which leads to {transformer}, is "
        f"on {ahead}, ahead of it, and stays on the mains when {switch.owner} opens",
        f"Take {part} from {ahead} to {bare}, behind {switch.owner}, and with it whatever else "
        f"{switch.owner} is to cut off",
        evidence={"feeds": transformer},
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (switch_cuts_nothing,)
