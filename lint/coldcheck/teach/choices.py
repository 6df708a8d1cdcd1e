"""What a pupil chooses from: the right rule among others that could be meant in that drawing."""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING, Self

from coldcheck.drawing import parse_drawing
from coldcheck.records import dataclass
from coldcheck.settings.model import DEFAULTS
from coldcheck.teach.clean import Clean
from coldcheck.teach.plants import plants
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.registry import RULES

if TYPE_CHECKING:
    import random
    from collections.abc import Iterable

    from coldcheck.settings.model import Settings
    from coldcheck.verdict.review import Review


class Degree(Enum):
    """How hard a drill is."""

    EASY = "easy"
    FAIR = "fair"
    HARD = "hard"

    @property
    def choices(self) -> int:
        """How many answers there are to choose from."""
        return {Degree.EASY: 3, Degree.FAIR: 4, Degree.HARD: 6}[self]

    @property
    def sources(self) -> tuple[str, ...]:
        """Small drawings, whole samples, or both."""
        chosen = {Degree.EASY: ("pairs",), Degree.HARD: ("samples",)}
        return chosen.get(self, ("pairs", "samples"))

    @property
    def told(self) -> bool:
        """Whether the first hint is given away, and the volts stand in the picture."""
        return self is Degree.EASY


@dataclass(frozen=True, slots=True)
class Ground:
    """A clean drawing to make exercises of, with its review.

    fitting
        The rules that some mistake in it would break.
    """

    clean: Clean
    review: Review
    fitting: frozenset[str]

    @classmethod
    def of(cls, name: str, text: str, settings: Settings = DEFAULTS) -> Self:
        """From a drawing's text; raises ValueError for one that cannot be read."""
        review = review_drawing(parse_drawing(text, name), None, settings)
        clean = Clean.of(name, text, review)
        rules = (rule for exhibit in plants(clean) for rule in exhibit.plant.rules)
        return cls(clean, review, frozenset(rule for rule in rules if rule != "*"))


def choices_for(
    right: str,
    also_right: Iterable[str],
    ground: Ground,
    review: Review,
    degree: Degree,
    chance: random.Random,
) -> tuple[str, ...]:
    """``right`` among rules that fit the drawing and of which no review of it says anything.

    An easy drill has others from elsewhere in the set, a hard one its neighbours.
    """
    said = {finding.rule for r in (review, ground.review) for finding in r.findings}
    wrong = [r.id for r in RULES if r.id not in said | {right, *also_right}]
    family = right.partition(".")[0]
    chance.shuffle(wrong)
    near = degree is not Degree.EASY
    wrong.sort(key=lambda r: (r not in ground.fitting, r.startswith(f"{family}.") != near))
    picked = [right, *_mixed(wrong[: degree.choices * 3], degree, chance)]
    chance.shuffle(picked)
    return tuple(picked)


def _mixed(wrong: list[str], degree: Degree, chance: random.Random) -> list[str]:
    """As many as are wanted; not all of one family where the drill is fair."""
    wanted = degree.choices - 1
    if degree is not Degree.FAIR:
        return wrong[:wanted]
    return [*wrong[: wanted - 1], chance.choice(wrong[wanted - 1 :])]
