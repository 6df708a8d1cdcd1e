"""The most a part sees in any of some states, and the finding that it is beyond a rating."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.judge.figure import Figure
from coldcheck.judge.ranges import BARELY, certainty
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Finding
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution
    from coldcheck.sources.register import Cited


@dataclass(frozen=True, slots=True)
class Use:
    """A figure and the state it is reached in."""

    figure: Figure
    state: str

    def beyond(self, limit: float) -> bool:
        """Whether it is more than a limit, in the figure's plain unit."""
        return self.figure.value > limit * BARELY


def most(
    case: Case, kinds: tuple[str, ...], measure: Callable[[Solution], Figure | None]
) -> Use | None:
    """The largest of a figure over the solved states of these kinds; ``None`` without a number."""
    found = [Use(f, s.state.name) for s in case.solved(*kinds) if (f := measure(s)) is not None]
    return max(found, key=lambda use: use.figure.value, default=None)


def over(rule: Rule, case: Case, at: tuple[str, ...], use: Use, limit: float,
         words: tuple[str, str], *, level: str | None = None,
         source: Cited | None = None) -> Finding:  # fmt: skip
    """The finding that ``use`` is beyond ``limit``; ``words`` are the message and the remedy."""
    excess = use.figure.value / limit
    return rule.finding(
        case,
        at,
        words[0],
        words[1],
        state=use.state,
        level=level,
        evidence={"used": use.figure},
        limit=Figure(limit, use.figure.unit),
        certainty=certainty(excess),
        source=source,
        excess=excess,
    )
