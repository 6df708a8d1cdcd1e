"""Exercises made from small drawings, from samples, or from a drawing of one's own."""

from __future__ import annotations

import random
from functools import cache, partial
from typing import TYPE_CHECKING

from coldcheck.drawing import parse_drawing
from coldcheck.settings.model import DEFAULTS
from coldcheck.teach.choices import Degree, Ground, choices_for
from coldcheck.teach.clean import samples
from coldcheck.teach.exercise import Exercise, spoilt_in
from coldcheck.teach.neutral import bare, neutral
from coldcheck.teach.plants import KINDS, plants
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.pairs import folder, pairs

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator

    from coldcheck.settings.model import Settings
    from coldcheck.teach.plants import Exhibit
    from coldcheck.verdict.pairs import Pair

SOURCES = ("pairs", "samples")

AGAIN = 3
"""How often a kind of mistake may come back in drills of one drawing."""


def exercises(
    seed: int,
    count: int,
    sources: Collection[str] = (),
    families: Collection[str] = (),
    degree: Degree = Degree.FAIR,
) -> Iterator[Exercise]:
    """``count`` exercises, the same for the same arguments; fewer where there are not so many."""
    chance = random.Random(seed)
    made = {
        "pairs": lambda: _from_pairs(chance, families, degree),
        "samples": lambda: _from_samples(chance, families, degree),
    }
    chosen = sources or degree.sources
    return _in_turn(count, [made[s]() for s in SOURCES if s in chosen])


def exercises_of(
    ground: Ground,
    seed: int,
    count: int,
    families: Collection[str] = (),
    degree: Degree = Degree.FAIR,
    settings: Settings = DEFAULTS,
) -> Iterator[Exercise]:
    """``count`` exercises with mistakes planted in one drawing, often the same kind elsewhere."""
    chance = random.Random(seed)
    turns = [(lambda: ground, kind) for kind in KINDS for _ in range(AGAIN)]
    chance.shuffle(turns)
    return _in_turn(count, [_planted(turns, chance, families, degree, settings)])


def _in_turn(count: int, streams: list[Iterator[Exercise]]) -> Iterator[Exercise]:
    made = 0
    while made < count and streams:
        stream = streams[made % len(streams)]
        exercise = next(stream, None)
        if exercise is None:
            streams.remove(stream)
            continue
        made += 1
        yield exercise


def _from_pairs(
    chance: random.Random, families: Collection[str], degree: Degree
) -> Iterator[Exercise]:
    order = [p for p in pairs() if not families or p.rule.partition(".")[0] in families]
    chance.shuffle(order)
    for pair in order:
        made = _of_pair(pair, degree, chance)
        if made is not None:
            yield made


def _of_pair(pair: Pair, degree: Degree, chance: random.Random) -> Exercise | None:
    """``None`` for a drawing that cannot be read: finding its error is no exercise."""
    wrong, right = neutral(pair.wrong, pair.right)
    review = review_drawing(parse_drawing(wrong, "drawing"))
    found = [f for f in review.findings if f.rule == pair.rule and f.accepted is None]
    if not review.readable or not found:
        return None
    ground = _readable(pair.name, right)
    if ground is None:
        return None
    chosen = choices_for(pair.rule, (), ground, review, degree, chance)
    spoilt = spoilt_in(review, ground.review)
    return Exercise(review, ground.review, found[0], chosen, spoilt, pair.lesson, degree)


def _readable(name: str, text: str) -> Ground | None:
    try:
        return Ground.of(name, text)
    except ValueError:
        return None


def _from_samples(
    chance: random.Random, families: Collection[str], degree: Degree
) -> Iterator[Exercise]:
    """One plant after the other, of a sample and a kind drawn anew each time."""
    turns = [(partial(_sample, name), kind) for name in samples(folder().parent) for kind in KINDS]
    chance.shuffle(turns)
    return _planted(turns, chance, families, degree, DEFAULTS)


@cache
def _sample(name: str) -> Ground:
    text = (folder().parent / f"{name}.tube").read_text(encoding="utf-8")
    return Ground.of(name, bare(text, promises=False))


def _planted(
    turns: Iterable[tuple[Callable[[], Ground], str]],
    chance: random.Random,
    families: Collection[str],
    degree: Degree,
    settings: Settings,
) -> Iterator[Exercise]:
    for grounded, kind in turns:
        ground = grounded()
        exhibits = list(plants(ground.clean, (kind,)))
        exhibit = chance.choice(exhibits) if exhibits else None
        made = exhibit and _of_plant(exhibit, ground, degree, chance, settings)
        if made and (not families or made.finding.rule.partition(".")[0] in families):
            yield made


def _of_plant(
    exhibit: Exhibit,
    ground: Ground,
    degree: Degree,
    chance: random.Random,
    settings: Settings,
) -> Exercise | None:
    """``None`` where the review does not find the mistake: nobody is asked for it then."""
    plant = exhibit.plant
    review = review_drawing(parse_drawing(plant.text, "drawing"), None, settings)
    before = {f.fingerprint for f in ground.review.findings}
    found = [
        f
        for f in review.findings
        if plant.found_by(f.rule, f.at) and f.accepted is None and f.fingerprint not in before
    ]
    if not review.readable or not found:
        return None
    story = plant.what[0].upper() + plant.what[1:] + "."
    rule = found[0].rule
    chosen = choices_for(rule, plant.rules, ground, review, degree, chance)
    return Exercise(review, ground.review, found[0], chosen, plant.places, story, degree)
