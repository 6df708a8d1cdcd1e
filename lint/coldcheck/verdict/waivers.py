"""``accept`` statements: waive a finding with a reason, and report the ones that no longer fit."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, TypeAlias

from coldcheck.circuit.problems import nearest
from coldcheck.drawing.model import Accept
from coldcheck.drawing.wording import listed
from coldcheck.judge.finding import LEVELS, Finding
from coldcheck.records import dataclass
from coldcheck.rules.intent.expectations import EXPIRED, UNMATCHED
from coldcheck.sources.register import DRAWING
from coldcheck.verdict.change import Change, told

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.circuit.model import Circuit


Waiver: TypeAlias = tuple[str, str, str, date | None]
"""Rule, place, reason and last day of a waiver: what makes it the same in two revisions."""


@dataclass(frozen=True, slots=True)
class Trusted:
    """The waivers that a drawing has in the revision that is trusted: no others hold."""

    revision: str
    waivers: frozenset[Waiver]

    def __contains__(self, accept: Accept) -> bool:
        return waiver_of(accept) in self.waivers


def waiver_of(accept: Accept) -> Waiver:
    """What makes a waiver the same one."""
    return accept.rule, accept.place, accept.reason, accept.until


def apply_accepts(
    circuit: Circuit, findings: Sequence[Finding], today: date, rules: Sequence[str],
    trusted: Trusted | None = None,
) -> list[Finding]:  # fmt: skip
    """The findings with waived ones marked, followed by what is wrong with the waivers.

    A waiver holds through its last day. An expired one waives nothing. ``rules`` are those that
    ran: that nothing matches the waiver of a rule that is off says nothing about the waiver.
    Where a revision is ``trusted``, the waivers it does not have waive nothing.
    """
    waived = list(findings)
    complaints: list[Finding] = []
    for accept in (s for s in circuit.drawing.statements if isinstance(s, Accept)):
        if accept.until is not None and accept.until < today:
            complaints.append(_expired(accept))
            continue
        hits = [i for i, f in enumerate(waived) if matches(circuit, accept, f)]
        for i in hits if trusted is None or accept in trusted else ():
            waived[i] = replace(waived[i], accepted=accept.reason)
        if not hits and not _idle(accept.rule, rules):
            broken = [f.at[0] for f in waived if f.rule == accept.rule]
            complaints.append(_unmatched(circuit, accept, broken))
    return waived + [c for c in complaints if c.rule in rules]


def new_waivers(
    circuit: Circuit, findings: Sequence[Finding], today: date, trusted: Trusted
) -> Iterator[Finding]:
    """The waivers that a trusted revision does not have, and that would waive something."""
    for accept in (s for s in circuit.drawing.statements if isinstance(s, Accept)):
        hits = [f for f in findings if matches(circuit, accept, f)]
        over = accept.until is not None and accept.until < today
        if hits and not over and accept not in trusted:
            yield _added(accept, hits, trusted.revision)


def _added(accept: Accept, hits: Sequence[Finding], revision: str) -> Finding:
    """A waiver that the trusted revision does not have; of a danger, it holds by itself."""
    worst = max((f.level for f in hits), key=LEVELS.index)
    said = f"{accept.rule} at {accept.place} is waived, and {revision} does not waive it"
    return told(
        Change.NEW_WAIVER,
        revision,
        accept.span.file,
        f"{said}: it would accept a {worst}, and does not hold yet",
        at=(accept.place, accept.rule),
        span=accept.span,
        loosens=worst == LEVELS[-1],
        remedy=f"Mend it, or have the waiver put into {revision} by somebody who may decide it",
    )


def _known() -> tuple[str, ...]:
    """All rules there are (their list is made after this module)."""
    from coldcheck.verdict.added import all_rules

    return tuple(r.id for r in all_rules())


def _idle(rule: str, rules: Sequence[str]) -> bool:
    """Whether a rule exists and did not run."""
    return rule not in rules and rule in _known()


def matches(circuit: Circuit, accept: Accept, finding: Finding) -> bool:
    """Whether a waiver means this finding: same rule, and its place is one of the finding's.

    A place also stands for what belongs to it (``V2`` for ``V2A`` and ``V2.plate``, ``T1`` for
    ``T1.warm``) and for any other name of the same point.
    """
    return accept.rule == finding.rule and any(
        _same_place(circuit, accept.place, place) for place in finding.at
    )


def _same_place(circuit: Circuit, wanted: str, place: str) -> bool:
    if place == wanted or place.startswith(f"{wanted}."):
        return True
    owner = place.partition(".")[0]
    if wanted in circuit.tubes and owner in {s.name for s in circuit.tubes[wanted].sections}:
        return True
    net = circuit.points.get(wanted)
    return net is not None and net == circuit.points.get(place)


def _expired(accept: Accept) -> Finding:
    return Finding(
        rule=EXPIRED,
        level="notice",
        state="drawing",
        at=(accept.place, accept.rule),
        span=accept.span,
        message=f"the waiver of {accept.rule} at {accept.place} ran out on {accept.until}",
        remedy="Mend what it waived, or look at it again and give a new date and reason",
        evidence={"until": str(accept.until), "reason": accept.reason},
        certainty="certain",
        source=DRAWING.text,
        cites=(DRAWING,),
    )


def _unmatched(circuit: Circuit, accept: Accept, broken: Sequence[str]) -> Finding:
    """A waiver that waives nothing; ``broken`` are the places at which its rule fires."""
    message, remedy = _why_unmatched(circuit, accept)
    if accept.place in (*circuit.places, *circuit.points) and broken:
        remedy = f"That rule is broken at {listed(dict.fromkeys(broken))}: correct the place"
    return Finding(
        rule=UNMATCHED,
        level="notice",
        state="drawing",
        at=(accept.place, accept.rule),
        span=accept.span,
        message=message,
        remedy=remedy,
        evidence={"reason": accept.reason},
        certainty="certain",
        source=DRAWING.text,
        cites=(DRAWING,),
    )


def _why_unmatched(circuit: Circuit, accept: Accept) -> tuple[str, str]:
    """What is wrong with a waiver that waives nothing, and what to do: a slip of the pen first."""
    rule, place = accept.rule, accept.place
    known = _known()
    if rule not in known:
        near = nearest(rule, known)
        remedy = f"Write {near}" if near else "Correct the rule's name: coldcheck why lists them"
        return f"{rule} is waived at {place}, but there is no rule of that name", remedy
    places = (*circuit.places, *circuit.points)
    if place not in places:
        near = nearest(place, places)
        remedy = f"Write {near}, or take the line out" if near else "Correct the place"
        return f"{rule} is waived at {place}, but nothing on the drawing is called {place}", remedy
    return (
        f"{rule} is waived at {place}, but nothing there breaks that rule",
        "Take the line out, or correct the rule's name or the place",
    )
