"""A set of drawings written without sight of the rules, and how a review of it is scored.

The score made here goes by place and level alone; whether the sentence names the mistake is
judged by a person, who writes it down beside the run (see ``README.md``).
"""

from __future__ import annotations

import tomllib
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
LEVELS = ("advice", "notice", "caution", "warning", "danger")


@dataclass(frozen=True, slots=True)
class Expected:
    """What its writer says of a drawing; ``level`` is empty for a sound one."""

    file: str
    sound: bool
    about: str = ""
    mistake: str = ""
    change: str = ""
    places: tuple[str, ...] = ()
    cause: tuple[str, ...] = ()
    consequence: str = ""
    level: str = ""
    numbers: bool = False


@dataclass(frozen=True, slots=True)
class Said:
    """One finding of notice or worse, as the report tells it."""

    rule: str
    level: str
    at: tuple[str, ...]
    message: str


@dataclass(frozen=True, slots=True)
class Told:
    """What a review said of a drawing, gravest first, and its verdict."""

    verdict: str
    findings: tuple[Said, ...]

    def data(self) -> dict[str, Any]:
        """As JSON keeps it."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Score:
    """By place and level: found at all, first, level reached, and findings besides."""

    sound: bool
    found: bool
    first: bool
    level: bool
    extra: int

    @property
    def word(self) -> str:
        """One word for the eye."""
        if self.sound:
            return "ALARM" if self.extra else "quiet"
        return ("first" if self.first else "found") if self.found else "MISSED"


@lru_cache(maxsize=8)
def read_set(name: str) -> tuple[Expected, ...]:
    """The drawings of a set as its writer described them."""
    data = tomllib.loads((HERE / name / "expect.toml").read_text("utf-8"))
    rows = (
        {k: tuple(v) if isinstance(v, list) else v for k, v in d.items()} for d in data["drawing"]
    )
    return tuple(sorted((Expected(**row) for row in rows), key=lambda d: d.file))


def told_of(path: Path) -> Told:
    """Review a drawing as the command line would, without settings."""
    import coldcheck

    review = coldcheck.review_text(path.read_text("utf-8"), path.name)
    grave = [f for f in review.findings if f.level != "advice" and f.accepted is None]
    said = tuple(Said(f.rule, str(f.level), tuple(f.at), f.message) for f in grave)
    return Told(str(review.verdict()), said)


def scored(expected: Expected, told: Told) -> Score:
    """Score a review by place and level."""
    hits = [f for f in told.findings if _meets(f.at, expected.places)]
    first = bool(told.findings) and _meets(told.findings[0].at, expected.cause)
    grave = bool(hits) and max(LEVELS.index(f.level) for f in hits) >= _rank(expected.level)
    return Score(expected.sound, bool(hits), first, grave, len(told.findings) - len(hits))


def _rank(level: str) -> int:
    return LEVELS.index(level) if level else 0


def _meets(at: tuple[str, ...], places: tuple[str, ...]) -> bool:
    return any(_same(a, p) for a in at for p in places)


def _same(place: str, wanted: str) -> bool:
    """The same name, a lead of it, or a section of the tube: ``V1A`` and ``V1.grid`` are V1."""
    a, b = (n.partition(".")[0].partition(":")[0] for n in (place, wanted))
    tube = a.rstrip("ABC") == b.rstrip("ABC") and a[:1] == b[:1] == "V"
    return place == wanted or a == b or tube
