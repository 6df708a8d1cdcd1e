"""What a remedy is worked out from, and what it is: a change to the text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.judge.figure import Figure
from coldcheck.records import dataclass
from coldcheck.rules.capacitor.over_voltage import line_factor

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.drawing.kinds import PartKind
    from coldcheck.judge.finding import Finding
    from coldcheck.serve.edits import Edit, LinesEdit
    from coldcheck.serve.page import Page
    from coldcheck.verdict.review import Review


@dataclass(frozen=True, slots=True)
class Remedy:
    """A change to the text, with what it does in a few words."""

    title: str
    edits: tuple[Edit | LinesEdit, ...]


@dataclass(frozen=True, slots=True)
class Site:
    """What a remedy is worked out from."""

    review: Review
    circuit: Circuit
    page: Page
    finding: Finding

    def number(self, name: str) -> float:
        """The value of a figure of the finding's evidence; 0 where it has none of that name."""
        found = self.finding.evidence.get(name)
        return found.value if isinstance(found, Figure) else 0.0

    @property
    def limit(self) -> float:
        """The value of the finding's limit; 0 where it has none."""
        return self.finding.limit.value if self.finding.limit else 0.0

    def branch(self, kind: PartKind) -> Branch | None:
        """The finding's main place, where it is a part of that kind."""
        found = self.circuit.branches.get(self.finding.at[0]) if self.finding.at else None
        return found if found is not None and found.kind is kind else None


def one(title: str, edit: Edit | None) -> Remedy | None:
    """The remedy of a single edit, if there is one."""
    return None if edit is None else Remedy(title, (edit,))


def highest(site: Site, branch: Branch) -> float:
    """The highest instant across it in any state, unloaded ones at the mains' highest."""
    worst = 0.0
    case = site.review.worked.case if site.review.worked is not None else None
    for solution in case.solved() if case is not None else ():
        wave = solution.between(branch.a, branch.b)
        if wave is not None and case is not None:
            worst = max(worst, wave.peak * line_factor(case, solution))
    return worst
