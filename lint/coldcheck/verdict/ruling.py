"""The verdict: what is held up, what is let through, and what could not be decided.

A :class:`Gate` is applied once to what a review found; nothing after that asks for it again.
"""

from __future__ import annotations

from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING, Protocol

from coldcheck.judge.finding import LEVELS, Unjudged
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.judge.finding import Finding, NotJudged
    from coldcheck.settings.model import Settings
    from coldcheck.verdict.document.content import Document


FORMER = MappingProxyType({"pass": "let through", "fail": "held"})
"""Words that verdicts had before -> those they have now."""


class Verdict(StrEnum):
    """What becomes of a drawing. A gate lets through or holds; it never vouches.

    A verdict equals its word. Comparing it with one of the former words raises ValueError: a
    script that waits for ``fail`` must not take silence for consent.
    """

    LET_THROUGH = "let through"
    """Nothing that was judged counts at the gate, and everything drawn could be judged."""
    HELD = "held"
    UNDECIDED = "undecided"
    """Nothing that was judged counts at the gate, but something drawn could not be judged."""
    UNREADABLE = "unreadable"

    def __eq__(self, other: object) -> bool:
        if isinstance(other, str) and other in FORMER:
            raise ValueError(f"no verdict is called {other!r} any more: it is {FORMER[other]!r}")
        return str.__eq__(self, other) if isinstance(other, str) else False

    def __ne__(self, other: object) -> bool:
        return not self == other

    __hash__ = str.__hash__


DECIDED_BY: Mapping[Unjudged, tuple[str, str]] = MappingProxyType(
    {
        Unjudged.NOTHING_DRAWN: ("nothing is drawn", "draw the circuit"),
        Unjudged.SOURCES_FIGHT: (
            "sources are shorted or fight",
            "draw what stands between them, or take one out",
        ),
        Unjudged.STATE_NOT_SOLVED: (
            "a state has no numbers",
            "look there for a wrong value or wire, or for feedback on its own rail",
        ),
        Unjudged.UNKNOWN_VALUES: (
            "everything hangs on what is not written",
            "write the values that are ?, and give each grid its return",
        ),
        Unjudged.NO_REFERENCE: ("nothing is on gnd", "draw the wire to gnd"),
        Unjudged.NOTHING_POWERED: (
            "nothing is powered",
            "draw what feeds it: a transformer, or a source such as [E1 250 V]",
        ),
        Unjudged.NO_VOLTAGES: ("no point has a voltage", "draw what ties the points to gnd"),
        Unjudged.NOT_FED: ("a tube is fed by nothing", "draw what feeds it"),
        Unjudged.UNKNOWN_TYPE: (
            "a tube's type is not on file",
            "write it as one that is, or give it a data file: coldcheck tubes --new",
        ),
        Unjudged.NO_LAW: (
            "what a tube draws is not known",
            "add a point of its data sheet: coldcheck tubes --new",
        ),
        Unjudged.EXPECTATION: (
            "an expect line could not be checked",
            "name a state and a point that have a figure",
        ),
        Unjudged.RULE_FAILED: ("a rule broke down", "report it with the drawing"),
        Unjudged.SOLVER_FAILED: ("the solver broke down", "report it with the drawing"),
        Unjudged.REVIEW_FAILED: (
            "the review broke down, and nothing was judged",
            "report it with the drawing",
        ),
        Unjudged.REPORT_FAILED: ("a report broke down", "report it with the drawing"),
        Unjudged.ADDED_RULE_FAILED: ("a package's rule broke down", "mend that package"),
        Unjudged.PACKAGE_FAILED: ("a package could not be read", "mend that package"),
    }
)
"""The kinds that leave a review undecided: what is wrong, and what would decide it.

A kind that is not here is told and leaves the verdict alone: that no limit is on file for a
heater says nothing against the rest of the drawing.
"""


@dataclass(frozen=True, slots=True)
class Gate:
    """What counts: the mildest level that holds a drawing, and whether doubt holds it too."""

    level: str = "notice"
    holds_undecided: bool = True

    @classmethod
    def of(cls, settings: Settings, level: str | None = None) -> Gate:
        """The gate of a drawing's settings, with the level of the command line if it gave one."""
        holds = settings.undecided != Verdict.LET_THROUGH.value
        return cls(level or settings.gate, holds)


USUAL = Gate()
"""What holds where no settings say otherwise."""


class Judged(Protocol):
    """What a verdict is made of: a live review, or the document of one."""

    @property
    def readable(self) -> bool: ...  # noqa: D102
    @property
    def findings(self) -> tuple[Finding, ...]: ...  # noqa: D102
    @property
    def not_judged(self) -> tuple[NotJudged, ...]: ...  # noqa: D102


def counting(judged: Judged, level: str) -> tuple[Finding, ...]:
    """Findings that count: neither accepted nor standing, and as grave as the level.

    That a change loosens what it is judged by counts at every level.
    """
    floor = LEVELS.index(level)
    return tuple(
        f
        for f in judged.findings
        if f.loosens or (f.accepted is None and not f.standing and LEVELS.index(f.level) >= floor)
    )


def undecided(judged: Judged) -> tuple[NotJudged, ...]:
    """What was not judged and leaves the review undecided."""
    return tuple(item for item in judged.not_judged if item.kind in DECIDED_BY)


def verdict_of(judged: Judged, level: str) -> Verdict:
    """The verdict at a level; what is held stays held, whatever else could not be decided."""
    if not judged.readable:
        broken = any(item.kind.broken for item in judged.not_judged)
        return Verdict.UNDECIDED if broken else Verdict.UNREADABLE
    if counting(judged, level):
        return Verdict.HELD
    return Verdict.UNDECIDED if undecided(judged) else Verdict.LET_THROUGH


@dataclass(frozen=True, slots=True)
class Ruling:
    """A document with the gate applied to it: all that a report needs."""

    document: Document
    gate: Gate
    verdict: Verdict
    counting: tuple[Finding, ...]
    undecided: tuple[NotJudged, ...]

    @property
    def stops(self) -> bool:
        """Whether the drawing does not get through the gate."""
        match self.verdict:
            case Verdict.LET_THROUGH:
                return False
            case Verdict.UNDECIDED:
                return self.gate.holds_undecided or self.document.broken
            case Verdict.HELD | Verdict.UNREADABLE:
                return True


def ruled(document: Document, gate: Gate) -> Ruling:
    """Apply a gate to a document."""
    return Ruling(
        document,
        gate,
        verdict_of(document, gate.level),
        counting(document, gate.level) if document.readable else (),
        undecided(document),
    )
