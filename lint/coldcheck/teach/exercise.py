"""An exercise: a drawing with one mistake, the finding it has to give, and hints in steps."""

from __future__ import annotations

from difflib import SequenceMatcher
from typing import TYPE_CHECKING

from coldcheck.compare.changes import compare
from coldcheck.records import dataclass
from coldcheck.verdict.registry import rule_by_id

if TYPE_CHECKING:
    from collections.abc import Sequence

    from coldcheck.judge.finding import Finding
    from coldcheck.teach.choices import Degree
    from coldcheck.verdict.review import Review

CIRCUITS = {
    "heater": "the heaters and what feeds them",
    "supply": "the power supply",
    "capacitor": "a capacitor",
    "resistor": "a resistor",
    "grid": "a grid or its bias",
    "tube": "an electrode of a tube",
    "transistor": "a transistor, or a regulator in one case",
    "output": "the output stage and its transformer",
    "signal": "the signal path",
    "mains": "the mains side",
    "touch": "what a hand can reach",
    "drawing": "the drawing itself",
    "intent": "what the drawing promises",
}
"""Family of rules -> where it is, for the first hint."""


@dataclass(frozen=True, slots=True)
class Exercise:
    """One drawing with a mistake, and the same drawing mended, both reviewed.

    choices
        Rules to choose from, one of them the finding's.
    spoilt
        Names of what was spoilt, which count as the right place beside the finding's own.
    """

    review: Review
    mended: Review
    finding: Finding
    choices: tuple[str, ...]
    spoilt: frozenset[str]
    story: str
    degree: Degree

    @property
    def changed(self) -> frozenset[int]:
        """Line numbers (from 1) at which it differs from the mended one, or next to a gap."""
        return changed_lines(self.review.lines, self.mended.lines)

    @property
    def places(self) -> frozenset[str]:
        """Names that count as the right place: the finding's, what was spoilt, their owners."""
        at = (*self.finding.at, *self.spoilt)
        return frozenset(n.lower() for place in at for n in (place, place.split(".")[0]))

    @property
    def hints(self) -> tuple[str, ...]:
        """From vague to plain."""
        rule, state = rule_by_id(self.finding.rule), self.finding.state
        first, last = min(self.changed), max(self.changed)
        near = f"Look at lines {max(first - 4, 1)} to {min(last + 4, len(self.review.lines))}."
        when = "" if state in ("", "drawing") else f" It shows in the state {state}."
        return (f"It concerns {CIRCUITS[rule.family]}.{when}", near, rule.why)


def spoilt_in(wrong: Review, right: Review) -> frozenset[str]:
    """The parts that differ between two readable drawings; names alone do not count."""
    found = compare(right, wrong)
    return frozenset(part.name for part in found.parts if part.how != "renamed")


def changed_lines(shown: Sequence[str], clean: Sequence[str]) -> frozenset[int]:
    """Lines of ``shown`` that differ; where some are missing, the lines before and after.

    A blank line is no answer: of those the nearest written ones count.
    """
    found: set[int] = set()
    ours, theirs = (written(lines) for lines in (shown, clean))
    for tag, a, b, _, _ in SequenceMatcher(None, ours, theirs, autojunk=False).get_opcodes():
        if tag != "equal":
            filled = {n for n in range(a + 1, b + 1) if ours[n - 1]}
            found |= filled or set(_around(ours, a, b))
    return frozenset(found or _around(ours, 0, 0) or [1])


def written(lines: Sequence[str]) -> list[str]:
    """The lines of a drawing without what is blank at their ends and at its end."""
    return "\n".join(line.rstrip() for line in lines).rstrip("\n").split("\n")


def _around(lines: Sequence[str], a: int, b: int) -> list[int]:
    """The nearest written lines before and after a gap, by their numbers."""
    before = next((n for n in range(a, 0, -1) if lines[n - 1]), 0)
    after = next((n for n in range(b + 1, len(lines) + 1) if lines[n - 1]), 0)
    return [n for n in (before, after) if n]
