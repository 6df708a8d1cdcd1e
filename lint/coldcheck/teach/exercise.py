"""Exercises: a drawing with one mistake, the finding it has to give, and hints in steps."""

from __future__ import annotations

import random
from difflib import SequenceMatcher
from functools import cache
from typing import TYPE_CHECKING

from coldcheck.drawing import parse_drawing
from coldcheck.drawing.lines import without_comment
from coldcheck.records import dataclass
from coldcheck.teach.clean import Clean, samples
from coldcheck.teach.plants import KINDS, plants
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.pairs import folder, pairs
from coldcheck.verdict.registry import RULES, rule_by_id

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.judge.finding import Finding
    from coldcheck.teach.plants import Exhibit
    from coldcheck.verdict.pairs import Pair
    from coldcheck.verdict.review import Review

SOURCES = ("pairs", "samples")
CHOICES = 4
CIRCUITS = {
    "heater": "the heaters and what feeds them",
    "supply": "the power supply",
    "capacitor": "a capacitor",
    "resistor": "a resistor",
    "grid": "a grid or its bias",
    "tube": "an electrode of a tube",
    "output": "the output stage and its transformer",
    "signal": "the signal path",
    "mains": "the mains side",
    "drawing": "the drawing itself",
    "intent": "what the drawing promises",
}
"""Family of rules -> where it is, for the first hint."""


@dataclass(frozen=True, slots=True)
class Exercise:
    """One drawing with a mistake.

    lines
        The drawing as shown, without comments that give the mistake away.
    changed
        Line numbers (from 1) at which it differs from the clean one, or next to which a line is
        missing.
    mended
        The clean drawing.
    choices
        Rules to choose from, one of them the finding's.
    """

    title: str
    lines: tuple[str, ...]
    mended: tuple[str, ...]
    changed: frozenset[int]
    finding: Finding
    review: Review
    choices: tuple[str, ...]
    story: str

    @property
    def places(self) -> frozenset[str]:
        """Names that count as the right place: the finding's, and the parts they belong to."""
        at = self.finding.at
        return frozenset(n.lower() for place in at for n in (place, place.split(".")[0]))

    @property
    def hints(self) -> tuple[str, ...]:
        """From vague to plain."""
        rule, state = rule_by_id(self.finding.rule), self.finding.state
        first, last = min(self.changed), max(self.changed)
        near = f"Look at lines {max(first - 4, 1)} to {min(last + 4, len(self.lines))}."
        when = "" if state in ("", "drawing") else f" It shows in the state {state}."
        return (f"It concerns {CIRCUITS[rule.family]}.{when}", near, rule.why)


def exercises(
    seed: int, count: int, sources: Collection[str] = SOURCES, families: Collection[str] = ()
) -> Iterator[Exercise]:
    """``count`` exercises, the same for the same arguments; fewer where there are not so many."""
    chance = random.Random(seed)
    wanted = [s for s in SOURCES if s in sources]
    streams = {"pairs": _from_pairs(chance, families), "samples": _from_samples(chance, families)}
    open_streams = [streams[s] for s in wanted]
    made = 0
    while made < count and open_streams:
        stream = open_streams[made % len(open_streams)]
        exercise = next(stream, None)
        if exercise is None:
            open_streams.remove(stream)
            continue
        made += 1
        yield exercise


def _from_pairs(chance: random.Random, families: Collection[str]) -> Iterator[Exercise]:
    order = [p for p in pairs() if not families or p.rule.partition(".")[0] in families]
    chance.shuffle(order)
    for pair in order:
        made = _of_pair(pair, chance)
        if made is not None:
            yield made


def _of_pair(pair: Pair, chance: random.Random) -> Exercise | None:
    """``None`` for a drawing that cannot be read: finding its error is no exercise."""
    review = review_drawing(parse_drawing(pair.wrong, "drawing"))
    found = [f for f in review.findings if f.rule == pair.rule and f.accepted is None]
    if not review.readable or not found:
        return None
    clean = pair.right.replace("# mended", "").splitlines()
    return _made(review, clean, found[0], pair.lesson, chance)


def _from_samples(chance: random.Random, families: Collection[str]) -> Iterator[Exercise]:
    """One plant after the other, of a sample and a kind drawn anew each time."""
    turns = [(name, kind) for name in samples(folder().parent) for kind in KINDS]
    chance.shuffle(turns)
    for name, kind in turns:
        exhibits = list(plants(_clean(name), (kind,)))
        made = _of_plant(chance.choice(exhibits), chance) if exhibits else None
        if made is not None and (not families or made.finding.rule.partition(".")[0] in families):
            yield made


@cache
def _clean(name: str) -> Clean:
    text = _bare((folder().parent / f"{name}.tube").read_text(encoding="utf-8"))
    return Clean.of(name, text, review_drawing(parse_drawing(text, name)))


def _bare(text: str) -> str:
    """A sample without remarks and the lines that state intent: they give too much away."""
    lines = [without_comment(line) for line in text.splitlines()]
    kept = [line for line in lines if not line.startswith("expect ")]
    squeezed = [a for a, b in zip(kept, ["", *kept], strict=False) if a or b]
    return "\n".join(squeezed).strip("\n") + "\n"


def _of_plant(exhibit: Exhibit, chance: random.Random) -> Exercise | None:
    """``None`` where the review does not find the mistake: nobody is asked for it then."""
    plant = exhibit.plant
    review = review_drawing(parse_drawing(plant.text, "drawing"))
    found = [f for f in review.findings if plant.found_by(f.rule, f.at) and f.accepted is None]
    if not review.readable or not found:
        return None
    story = plant.what[0].upper() + plant.what[1:] + "."
    return _made(review, list(_clean(exhibit.sample).lines), found[0], story, chance)


def _made(
    review: Review, clean: list[str], finding: Finding, story: str, chance: random.Random
) -> Exercise:
    shown = tuple(review.lines)
    return Exercise(
        review.title,
        shown,
        tuple(clean),
        changed_lines(shown, clean),
        finding,
        review,
        _choices(finding.rule, chance),
        story,
    )


def changed_lines(shown: tuple[str, ...], clean: list[str]) -> frozenset[int]:
    """Lines of ``shown`` that differ; where some are missing, the lines before and after."""
    found: set[int] = set()
    ours, theirs = ([line.rstrip() for line in lines] for lines in (shown, clean))
    for tag, a, b, _, _ in SequenceMatcher(None, ours, theirs, autojunk=False).get_opcodes():
        if tag != "equal":
            found |= set(range(a + 1, b + 1)) or {max(a, 1), min(a + 1, len(shown))}
    return frozenset(found) or frozenset((1,))


def _choices(right: str, chance: random.Random) -> tuple[str, ...]:
    """The right rule among others, of its own family first."""
    family = right.partition(".")[0]
    others = [r.id for r in RULES if r.id != right]
    chance.shuffle(others)
    others.sort(key=lambda r: not r.startswith(f"{family}."))
    picked = [right, *others[: CHOICES - 2], others[-1]]
    chance.shuffle(picked)
    return tuple(picked)
