"""Contacts that take a supply away once the set is at work."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import lifted_returns, supplies
from coldcheck.anatomy.cut_off import cut_off
from coldcheck.circuit.throws import switch_of, thrown_text
from coldcheck.drawing.wording import listed
from coldcheck.judge.finding import Blame, Unjudged
from coldcheck.judge.rule import Rule, rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.cut_off import CutOff
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome

TOLD = 6
"""So many points and electrodes are named."""


@rule(
    "supply.cut-off-at-work",
    title="Contact that takes the supply away at work",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring; relays are pulled in at work unless drawn `released`",
    criterion="No supply reaches plates or screens with the contacts as drawn at work, and one "
    "does with one relay or switch in its other position. Or a relay that has pulled in leaves "
    "every transformer with a winding of "
    f"{lifted_returns.HIGH_V.value:g} V or more without the mains. Advice for a switch, which may "
    "be drawn in standby.",
    why="The resting contact of a relay has been taken for the working one, or the other way: the "
    "supply is there while nothing is warm, and gone when it is wanted. What a delay is to keep "
    "from cold tubes is on them from the first moment.",
    source=PRACTICE,
    limits="One relay or switch at a time. A supply that several of them keep away is reported as "
    "part of the circuit that is not drawn.",
    thresholds=(lifted_returns.HIGH_V, supplies.FILTER_F, supplies.SERIES_OHMS),
)
def cut_off_at_work(case: Case) -> Iterator[Outcome]:
    """Every contact that is open as drawn and on the only way to a supply."""
    for found in cut_off(case.circuit):
        yield _cut(case, found)
        if found.throw not in case.circuit.relays:
            sections = tuple(n for i in found.islands for n in i.hanging)
            why = (
                f"what it does at work: {switch_of(found.throw)} is drawn so that nothing feeds it"
            )
            yield cut_off_at_work.not_judged(sections, why, Unjudged.NOT_FED)


def _cut(case: Case, found: CutOff) -> Finding:
    circuit, owner = case.circuit, switch_of(found.throw)
    leads = tuple(x for b in found.contacts if (x := _lead(circuit, b)) is not None)
    names = [n for i in found.islands for n in i.names]
    hanging = [f"{n}.{e}" for i in found.islands for n, es in i.hanging.items() for e in es]
    behind = (*(t.name for t in found.transformers), *names)
    sections = (n for i in found.islands for n in i.hanging)
    what = _few(behind) + (f" (with {_few(hanging)})" if hanging and behind else _few(hanging))
    return cut_off_at_work.finding(
        case,
        tuple(dict.fromkeys((owner, *leads, *(b.name for b in found.contacts), *behind,
                             *sections))),
        f"{_open(circuit, found, leads)}, and nothing else brings {what} "
        f"{'the mains' if found.transformers else 'a supply'}: "
        f"{_else(circuit, found.throw)}",
        _remedy(circuit, found, leads, behind or tuple(hanging)),
        level=None if owner in circuit.relays else "advice",
        certainty="certain",
    )  # fmt: skip


def _few(names: tuple[str, ...] | list[str]) -> str:
    more = [f"{len(names) - TOLD} more"] if len(names) > TOLD + 1 else []
    return listed([*names[: len(names) if not more else TOLD], *more])


def _open(circuit: Circuit, found: CutOff, leads: tuple[str, ...]) -> str:
    contacts = listed(leads or tuple(b.name for b in found.contacts))
    relay = circuit.relays.get(found.throw)
    if relay is None:
        return f"as drawn {contacts} is open"
    how = "at rest, as it is drawn at work," if relay.released else "at work, pulled in,"
    return f"{relay.name} {how} leaves {contacts} open"


def _else(circuit: Circuit, throw: str) -> str:
    relay = circuit.relays.get(throw)
    if relay is None:
        thrown = thrown_text([throw])
        return f"with {thrown} it is there, and what is behind was judged without"
    if relay.released:
        return "it is there only when the relay pulls in"
    first = f", the first {relay.delay:g} s after switch-on" if relay.delay else ""
    return f"it is there only while the relay rests{first}"


def _remedy(
    circuit: Circuit, found: CutOff, leads: tuple[str, ...], behind: tuple[str, ...]
) -> str:
    owner = switch_of(found.throw)
    if owner not in circuit.relays:
        return (
            f"Draw {owner} as it is at work; if it is so, look at the original again: which of its "
            f"contacts is {behind[0]} meant to be on?"
        )
    other = _partner(circuit, leads[0]) if len(leads) == 1 else None
    if other is not None:
        return (
            f"Wire to {other} what is on {leads[0]} now: the contact that is closed when {owner} "
            f"{'rests' if circuit.relays[owner].released else 'has pulled in'}"
        )
    how = "rests" if circuit.relays[owner].released else "has pulled in"
    return f"Take the supply of {behind[0]} over a contact that is closed when {owner} {how}"


def _lead(circuit: Circuit, contact: Branch) -> str | None:
    """The lead of a contact that is no common one: ``K1.nc``."""
    pole, _, ends = contact.name.rpartition(".")
    name = f"{pole}.{ends.rpartition('-')[2]}"
    return name if pole and name in circuit.points else None


def _partner(circuit: Circuit, lead: str) -> str | None:
    """The other throw of the same pole, where nothing is wired to it."""
    pole, _, end = lead.rpartition(".")
    other = f"{pole}.{'no' if end == 'nc' else 'nc'}"
    net = circuit.points.get(other)
    return other if net is not None and len(circuit.at(net)) == 1 else None


RULES: tuple[Rule, ...] = (cut_off_at_work,)
