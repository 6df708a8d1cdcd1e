"""What is said alike of symmetrical halves is told once, with all places."""

from __future__ import annotations

import re
from dataclasses import replace
from math import isclose
from typing import TYPE_CHECKING

from coldcheck.drawing.wording import listed
from coldcheck.judge.finding import QUANTITY

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding

_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_WORD = re.compile(r"[A-Za-z][\w/+]*(?:\.[\w.]+)*")

POINT = "point"
"""A bare point is no half of anything: two loose ends are two."""


def told_once(circuit: Circuit, findings: Iterable[Finding]) -> list[Finding]:
    """The findings with those that differ only in their names made one.

    Rule, level and state have to be the same, every figure to a hundredth, and what stands at the
    places of the same kinds. A waived finding stays by itself, and so do one that a line asked for
    and one that is about points alone: each has its own line to look at.
    """
    groups: list[tuple[object, tuple[float, ...], list[Finding]]] = []
    for finding in findings:
        key = id(finding) if _alone(circuit, finding) else _key(circuit, finding)
        told = _figures(circuit, finding.message)
        for other, figures, group in groups:
            if key == other and _close(told, figures):
                group.append(finding)
                break
        else:
            groups.append((key, told, [finding]))
    return [_one(group) for _, _, group in groups]


def _figures(circuit: Circuit, message: str) -> tuple[float, ...]:
    return tuple(float(n) for n in _NUMBER.findall(_unnamed(circuit, message)))


def _close(some: tuple[float, ...], others: tuple[float, ...]) -> bool:
    """Whether figures are the same to a hundredth: halves differ by what the solver rounds."""
    pairs = zip(some, others, strict=False)
    return len(some) == len(others) and all(isclose(a, b, rel_tol=0.01) for a, b in pairs)


def _alone(circuit: Circuit, finding: Finding) -> bool:
    kept = finding.accepted is not None or QUANTITY in finding.evidence
    return kept or not finding.at or any(_kind(circuit, place) == POINT for place in finding.at)


def _key(circuit: Circuit, finding: Finding) -> object:
    kinds = tuple(_kind(circuit, place) for place in finding.at)
    return (
        finding.rule,
        finding.level,
        finding.state,
        finding.certainty,
        kinds,
        _NUMBER.sub("0", _unnamed(circuit, finding.message)),
    )


def _unnamed(circuit: Circuit, text: str) -> str:
    """A sentence without the names of the drawing, so that halves say the same."""
    return _WORD.sub(lambda m: "#" if _is_name(circuit, m.group()) else m.group(), text)


def _is_name(circuit: Circuit, word: str) -> bool:
    owner = word.rstrip(".").partition(".")[0]
    names = (circuit.points, circuit.branches, circuit.tubes, circuit.places)
    return any(owner in known or word in known for known in names)


def _kind(circuit: Circuit, place: str) -> str:
    """What stands at a place: the kind of part, the type of tube; figures tell values apart."""
    own = [b for b in circuit.branches.values() if place in (b.name, b.owner)]
    if own:
        return ", ".join(b.kind.value for b in own)
    owner = place.partition(".")[0]
    if place != owner and owner in circuit.transformers:
        return place  # one winding that several share
    section = next((s for s in circuit.sections() if owner in (s.name, s.tube)), None)
    return POINT if section is None else circuit.tubes[section.tube].type.name


def _one(group: list[Finding]) -> Finding:
    """The first, with the places of the others."""
    first, *others = group
    if not others:
        return first
    at = tuple(dict.fromkeys(place for f in group for place in f.at))
    also = listed(f.at[0] for f in others if f.at[0] not in first.at)
    if not also:
        return replace(first, at=at)
    said = "the same at"
    return replace(first, at=at, message=f"{first.message} ({said} {also})")
