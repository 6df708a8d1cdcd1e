"""The wrong and the right drawing of each rule, as they ship with the package."""

from __future__ import annotations

from functools import cache
from importlib import resources
from pathlib import Path

from coldcheck.records import dataclass

SIDES = ("wrong", "right")


@dataclass(frozen=True, slots=True)
class Pair:
    """A drawing with one mistake and the same drawing mended.

    case
        Empty for the rule's own pair, else the word of a further case of it.
    wrong, right
        Text of the drawings, without the comment at the top of the wrong one.
    lesson
        That comment as prose: what the pair teaches.
    folder
        Where the two files are, as they were written.
    """

    rule: str
    case: str
    wrong: str
    right: str
    lesson: str
    folder: Path

    @property
    def name(self) -> str:
        """``heater.no-reference`` or ``heater.no-reference/choke``."""
        return f"{self.rule}/{self.case}" if self.case else self.rule


def folder() -> Path:
    """Where the pairs are: a folder a rule, a folder a case below it."""
    return Path(str(resources.files("coldcheck.samples"))) / "mistakes"


@cache
def pairs() -> tuple[Pair, ...]:
    """All pairs of our own rules, by rule and case; a rule's own pair first."""
    return pairs_in(folder())


def pairs_in(root: Path) -> tuple[Pair, ...]:
    """The pairs in a folder laid out as ours: ``RULE/wrong.tube``, ``RULE/CASE/wrong.tube``.

    Raises OSError where a right drawing is missing.
    """
    found = (p.parent for p in root.rglob("wrong.tube"))
    return tuple(_pair(root, f) for f in sorted(found, key=lambda f: f.relative_to(root).parts))


def pairs_of(rule: str) -> tuple[Pair, ...]:
    """The pairs of one rule, its own first; empty for a rule without any."""
    return tuple(p for p in pairs() if p.rule == rule)


def _pair(root: Path, place: Path) -> Pair:
    name, *case = place.relative_to(root).parts
    # A drawing that teaches what an unreadable file is may hold any bytes.
    wrong, right = (
        (place / f"{side}.tube").read_text(encoding="utf-8", errors="replace") for side in SIDES
    )
    (lesson, wrong), (_, right) = _comment(wrong), _comment(right)
    return Pair(name, "/".join(case), wrong, right, lesson, place)


def _comment(text: str) -> tuple[str, str]:
    """The comment a drawing opens with, as prose, and the rest of the drawing."""
    lines = text.splitlines()
    ends = next((n for n, line in enumerate(lines) if not line.startswith("#")), len(lines))
    prose = " ".join(line.lstrip("#").strip() for line in lines[:ends])
    return prose, "\n".join(lines[ends:]).strip("\n") + "\n"
