"""What a rule says: a finding with its evidence, or that it could not judge."""

from __future__ import annotations

from dataclasses import field
from enum import Enum
from typing import TYPE_CHECKING, TypeAlias

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.drawing.model import Span
    from coldcheck.judge.figure import Figure
    from coldcheck.sources.register import Citation

LEVELS = ("advice", "notice", "caution", "warning", "danger")
"""From mild to grave. caution, warning and danger are for harm to persons (ANSI Z535.6)."""

POSSIBLE = "possible"
REACH = "reach"
"""The evidence of a finding of which only the edge of a figure's range is beyond the limit."""

QUANTITY = "quantity"
"""The evidence of a finding that its line asked for: there is one to a line, not one to a place."""

PACKAGES = "packages"
"""The ``rule`` of a NotJudged about what another package brings."""

CHANGE = "change"
"""The evidence of a finding that names the one change which makes it, and more, go away."""

ABOUT_THE_CHANGE = "change."
"""What the names of findings about the change itself begin with: they are no rule's, no waiver,
ledger or setting is about them, and above advice they count at every gate."""

EXPLAINS = "explains"
"""The evidence that lists the findings told with this one."""

CERTAINTIES = (POSSIBLE, "likely", "certain")


class Blame(Enum):
    """How near to the slip a finding is, from what comes of it to the slip itself."""

    EFFECT = "effect"
    LIKELY_SLIP = "likely slip"
    """A slip that is as likely as any that a search would find elsewhere."""
    VALUE = "value"
    """The part whose value it is: no guess at a decade in another goes before it."""
    WIRING = "wiring"
    """Leads that are on the wrong points, if not which to change: it goes before guessed values."""
    SLIP = "slip"
    """The very lead or part: no guess at another goes before it."""

    @property
    def first(self) -> bool:
        """Whether it goes before what may only come of it."""
        return self in (Blame.WIRING, Blame.SLIP)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong, with its evidence.

    at
        Parts, tubes or points, the main one first.
    message
        One sentence with the numbers and units in it.
    evidence
        Name -> figure or a short text.
    limit
        What a figure of the evidence is held against, where there is one.
    limit_source
        Where the limit comes from, with "memory" where it was recalled.
    excess
        How far beyond the limit (value / limit); the state with the largest is the one reported.
    path
        The DC path traced, as text steps, where there is one.
    fingerprint, shape
        What makes it the same finding: by the names of its places, and by the circuit alone.
    standing
        Whether a ledger of older findings knows it: it is reported, and does not count at the gate.
    source
        What it goes by, in words.
    cites
        The places in the register's entries that ``source`` names.
    blame
        How near to the slip it is.
    """

    rule: str
    level: str
    state: str
    at: tuple[str, ...]
    span: Span
    message: str
    remedy: str
    evidence: Mapping[str, Figure | str] = field(default_factory=dict)
    limit: Figure | None = None
    certainty: str = "likely"
    source: str = "common practice"
    excess: float = 1.0
    path: tuple[str, ...] = ()
    also_in: tuple[str, ...] = ()
    fingerprint: str = ""
    shape: str = ""
    accepted: str | None = None
    standing: bool = False
    cites: tuple[Citation, ...] = ()
    blame: Blame = Blame.EFFECT

    @property
    def family(self) -> str:
        """The part of the rule's name before the dot."""
        return self.rule.partition(".")[0]

    @property
    def reaches_hands(self) -> bool:
        """Whether it is about what hands or the mains reach."""
        return self.family in ("mains", "touch")

    @property
    def only_edge(self) -> bool:
        """Whether the figure is within its limit as predicted, and only its range is not."""
        return self.certainty == POSSIBLE and REACH in self.evidence

    @property
    def loosens(self) -> bool:
        """Whether it is about a change that would let through more than before."""
        return self.rule.startswith(ABOUT_THE_CHANGE) and self.level != LEVELS[0]

    @property
    def is_cause(self) -> bool:
        """Whether it names the one thing to change."""
        return CHANGE in self.evidence


class Unjudged(Enum):
    """What kind of thing stood in the way of a verdict. The values are kept in files."""

    MISSING_DATA = "missing-data"
    """The drawing, the data on file or the solution does not say what the rule needs."""
    NO_VOLTAGE = "no-voltage"
    """A place has no number in a state that is solved."""
    STATE_NOT_SOLVED = "state-not-solved"
    SOURCES_FIGHT = "sources-fight"
    """A state has no answer, since sources are shorted or fight one another."""
    UNKNOWN_VALUES = "unknown-values"
    """Everything depends on values that are not written."""
    NOTHING_DRAWN = "nothing-drawn"
    NOTHING_POWERED = "nothing-powered"
    NO_REFERENCE = "no-reference"
    """Nothing is on gnd, so that no voltage is measured from anywhere."""
    NO_VOLTAGES = "no-voltages"
    """Not one point that is drawn has a voltage."""
    NOT_FED = "not-fed"
    """Nothing that is drawn feeds a tube."""
    UNKNOWN_TYPE = "unknown-type"
    """A tube's type is not on file: its wiring is judged, what hangs on its currents is not."""
    NO_LAW = "no-law"
    """Nothing is on file of what a tube draws: what hangs on it is not judged."""
    EXPECTATION = "expectation"
    """There is no figure to hold against what the drawing expects."""
    UNREADABLE = "unreadable"
    """The drawing has lines that could not be read, so nothing was worked out."""
    ASSUMED = "assumed"
    """Something the drawing does not say was taken from the settings, or from a like type."""
    RULE_OFF = "rule-off"
    REFUSED = "refused"
    """A rule or tube data of another package that is out of form, and is not used."""
    PACKAGE_FAILED = "package-failed"
    """What another package brings could not be read."""
    ADDED_RULE_FAILED = "added-rule-failed"
    """A rule of another package broke down."""
    RULE_FAILED = "rule-failed"
    SOLVER_FAILED = "solver-failed"
    REVIEW_FAILED = "review-failed"
    """Reading the drawing or the review as a whole broke down."""
    REPORT_FAILED = "report-failed"

    @property
    def broken(self) -> bool:
        """Whether something broke down, so that silence is no verdict."""
        return self.foreign or self in (
            Unjudged.RULE_FAILED,
            Unjudged.SOLVER_FAILED,
            Unjudged.REVIEW_FAILED,
            Unjudged.REPORT_FAILED,
        )

    @property
    def foreign(self) -> bool:
        """Whether what broke down came with another package."""
        return self in (Unjudged.PACKAGE_FAILED, Unjudged.ADDED_RULE_FAILED)


@dataclass(frozen=True, slots=True)
class NotJudged:
    """Something a rule could not decide, and why. Never a silent pass."""

    rule: str
    at: tuple[str, ...]
    reason: str
    kind: Unjudged = Unjudged.MISSING_DATA


Outcome: TypeAlias = "Finding | NotJudged"
