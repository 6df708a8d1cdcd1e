"""``accept`` statements: waive a finding with a reason, and report the ones that no longer fit."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.drawing.model import Accept
from coldcheck.rules.model import Finding

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from coldcheck.circuit.model import Circuit

UNMATCHED, EXPIRED = "intent.accept-unmatched", "intent.accept-expired"


def apply_accepts(circuit: Circuit, findings: Sequence[Finding], today: date) -> list[Finding]:
    """The findings with waived ones marked, followed by what is wrong with the waivers.

    A waiver holds through its last day. An expired one waives nothing.
    """
    waived = list(findings)
    complaints: list[Finding] = []
    for accept in (s for s in circuit.drawing.statements if isinstance(s, Accept)):
        if accept.until is not None and accept.until < today:
            complaints.append(_expired(accept))
            continue
        hits = [i for i, f in enumerate(waived) if matches(circuit, accept, f)]
        for i in hits:
            waived[i] = replace(waived[i], accepted=accept.reason)
        if not hits:
            complaints.append(_unmatched(accept))
    return waived + complaints


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
        source="the drawing itself",
    )


def _unmatched(accept: Accept) -> Finding:
    return Finding(
        rule=UNMATCHED,
        level="notice",
        state="drawing",
        at=(accept.place, accept.rule),
        span=accept.span,
        message=f"{accept.rule} is waived at {accept.place}, but nothing there breaks that rule",
        remedy="Take the line out, or correct the rule's name or the place",
        evidence={"reason": accept.reason},
        certainty="certain",
        source="the drawing itself",
    )
