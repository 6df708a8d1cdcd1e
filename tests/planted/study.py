"""The mutation study: every mistake at every place of every clean sample, and what is said of it.

A mutant is *found* when a new finding of a rule that names the mistake stands at its place.
An ``expect`` line that is no longer met confirms that something is wrong but not what: it is
counted apart and never makes a mutant found. *Extra* is every further finding at ``notice`` or
above that the clean sample does not have, the missed ``expect`` lines apart: a second finding
that names the same mistake is extra as well, since one cause is to give one finding.
"""

from __future__ import annotations

import multiprocessing
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.drawing import parse_drawing
from coldcheck.judge.finding import LEVELS
from coldcheck.teach.clean import Clean, samples
from coldcheck.teach.plants import KINDS, plants
from coldcheck.verdict.engine import review_drawing

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator

    from coldcheck.judge.finding import Finding
    from coldcheck.teach.plants import Exhibit
    from coldcheck.verdict.review import Review

SAMPLES = Path(__file__).parents[2] / "samples"
INTENT = "intent.not-met"
NOTICE = LEVELS.index("notice")
PROCESSES = 2


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one mutant gave.

    named
        A new finding of a rule that names the mistake, wherever it stands.
    found
        Such a finding at the mistake's place.
    expected
        An ``expect`` line of the sample is no longer met.
    extra
        ``rule at place`` of every further finding.
    """

    sample: str
    kind: str
    place: str
    named: bool
    found: bool
    expected: bool
    extra: tuple[str, ...]

    @property
    def key(self) -> tuple[str, str, str]:
        """What tells it from every other."""
        return self.sample, self.kind, self.place


def names() -> tuple[str, ...]:
    """The samples that are one file, by name."""
    return samples(SAMPLES)


@cache
def whole(name: str) -> Review:
    """The review of a sample as it is."""
    text = (SAMPLES / f"{name}.tube").read_text(encoding="utf-8")
    return review_drawing(parse_drawing(text, name))


@cache
def prepared(name: str) -> Clean:
    """A sample ready for planting."""
    text = (SAMPLES / f"{name}.tube").read_text(encoding="utf-8")
    return Clean.of(name, text, whole(name))


def exhibits(some: Collection[str] = (), kinds: Collection[str] = ()) -> Iterator[Exhibit]:
    """Every mutant, or those of some samples and kinds."""
    for name in some or names():
        yield from plants(prepared(name), [k for k in KINDS if not kinds or k in kinds])


def outcome(exhibit: Exhibit) -> Outcome:
    """Review one mutant."""
    plant = exhibit.plant
    review = review_drawing(parse_drawing(plant.text, exhibit.sample))
    before = {_mark(f) for f in whole(exhibit.sample).findings}
    new = [f for f in review.findings if f.accepted is None and _mark(f) not in before]
    told = [f for f in new if f.rule != INTENT]
    right = [f for f in told if plant.found_by(f.rule, f.at) or _names_it(f, plant.place)]
    one = max(right, key=lambda f: LEVELS.index(f.level), default=None)
    extra = [f for f in told if f is not one and LEVELS.index(f.level) >= NOTICE]
    return Outcome(
        exhibit.sample,
        exhibit.kind,
        plant.place,
        any(plant.named_by(f.rule) for f in told),
        one is not None,
        len(told) < len(new),
        tuple(sorted(f"{f.rule} at {', '.join(f.at)}" for f in extra)),
    )


def _names_it(finding: Finding, place: str) -> bool:
    """Whether the thing to change that a finding names is the one that was changed."""
    return finding.is_cause and finding.at[:1] == (place,)


def _mark(finding: Finding) -> tuple[str, str, tuple[str, ...]]:
    return finding.rule, finding.level, finding.at


def outcomes(mutants: Iterable[Exhibit]) -> Iterator[Outcome]:
    """Review many, a few at once, in the order given."""
    with multiprocessing.get_context("fork").Pool(PROCESSES) as pool:
        yield from pool.imap(outcome, mutants)


# -- the table -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Count:
    """The sums of one kind, or of all."""

    kind: str
    planted: int
    named: int
    found: int
    confirmed: int
    extra: int

    @property
    def share(self) -> float:
        """Found over planted, in percent."""
        return 100.0 * self.found / self.planted

    @property
    def extra_each(self) -> float:
        """Extra findings a mutant."""
        return self.extra / self.planted


def count(kind: str, some: Iterable[Outcome]) -> Count:
    """Add up."""
    some = tuple(some)
    return Count(
        kind,
        len(some),
        sum(o.named for o in some),
        sum(o.found for o in some),
        sum(o.expected and not o.found for o in some),
        sum(len(o.extra) for o in some),
    )


def counts(some: Iterable[Outcome]) -> tuple[Count, ...]:
    """One line a kind, in the order of the catalogue of kinds."""
    groups: dict[str, list[Outcome]] = {}
    for item in some:
        groups.setdefault(item.kind, []).append(item)
    return tuple(count(kind, groups[kind]) for kind in KINDS if kind in groups)
