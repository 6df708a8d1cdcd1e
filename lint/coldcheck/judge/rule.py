"""What a rule is: one small function from a case to outcomes, with its documentation beside it.

Rules are pure: they see the circuit and the solved states, and keep nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.judge.figure import Figure
from coldcheck.judge.finding import Blame, Finding, NotJudged, Unjudged
from coldcheck.records import dataclass
from coldcheck.sources.register import Cited, cited_by

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.threshold import Threshold
    from coldcheck.sources.register import Citation


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule: an identifier, its documentation as data, and the function that judges.

    id
        ``family.defect``: names the defect in the trade's words.
    needs
        What it must have to judge, in plain words.
    criterion
        The numeric or structural criterion, in plain words.
    limits
        What the rule assumes and what it does not see, in plain words.
    thresholds
        The limits and factors it goes by, each with its source.
    cites
        The places in the register's entries that ``source`` names.
    blame
        How near to the slip its findings are.
    """

    id: str
    title: str
    level: str
    states: str
    needs: str
    criterion: str
    why: str
    source: str
    judge: Callable[[Case], Iterable[Outcome]]
    limits: str = ""
    thresholds: tuple[Threshold, ...] = ()
    cites: tuple[Citation, ...] = ()
    blame: Blame = Blame.EFFECT

    @property
    def family(self) -> str:
        """The part before the dot."""
        return self.id.partition(".")[0]

    def finding(
        self,
        case: Case,
        at: tuple[str, ...],
        message: str,
        remedy: str,
        *,
        state: str = "drawing",
        level: str | None = None,
        evidence: Mapping[str, Figure | str] | None = None,
        limit: Figure | None = None,
        certainty: str = "likely",
        source: str | Citation | tuple[Citation, ...] | Cited | None = None,
        excess: float = 1.0,
        path: tuple[str, ...] = (),
        blame: Blame | None = None,
    ) -> Finding:
        """Build a finding of this rule at its main place's line.

        A figure named ``limit`` among the evidence is the limit, where none is given apart.
        """
        known = dict(evidence or {})
        held = known.pop("limit", None)
        if limit is None and isinstance(held, Figure):
            limit = held
        cited = Cited(self.source, self.cites) if source is None else cited_by(source)
        return Finding(
            rule=self.id,
            level=level or self.level,
            state=state,
            at=at,
            span=case.circuit.span(at[0]),
            message=message,
            remedy=remedy,
            evidence=known,
            limit=limit,
            certainty=certainty,
            source=cited.text,
            excess=excess,
            path=path,
            cites=cited.cites,
            blame=self.blame if blame is None else blame,
        )

    def not_judged(
        self, at: tuple[str, ...], reason: str, kind: Unjudged = Unjudged.MISSING_DATA
    ) -> NotJudged:
        """Say that this rule could not decide at a place."""
        return NotJudged(self.id, at, reason, kind)


def rule(
    identifier: str,
    *,
    title: str,
    level: str,
    states: str,
    needs: str,
    criterion: str,
    why: str,
    source: str | Citation | tuple[Citation, ...] | Cited,
    limits: str = "",
    thresholds: tuple[Threshold, ...] = (),
    blame: Blame = Blame.EFFECT,
) -> Callable[[Callable[[Case], Iterable[Outcome]]], Rule]:
    """Turn a function into a :class:`Rule`; the function's name becomes the rule object."""
    cited = cited_by(source)

    def wrap(judge: Callable[[Case], Iterable[Outcome]]) -> Rule:
        return Rule(
            *(identifier, title, level, states, needs, criterion, why, cited.text, judge),
            *(limits, thresholds, cited.cites, blame),
        )

    return wrap
