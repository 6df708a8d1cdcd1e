"""Two of a kind that differ: what a circuit has twice has the same values on both sides."""

from __future__ import annotations

from itertools import combinations, islice
from typing import TYPE_CHECKING

from coldcheck.anatomy.ordinary import Place, oddness, place_of
from coldcheck.anatomy.twins import candidates, independent, twins
from coldcheck.circuit.kinds import TRAITS
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.values import SYMBOLS
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.twins import Twins
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

    Pair = tuple[Branch, Branch]

APART = Threshold(
    "ratio of the values of two parts that are each other's twins", 5.0, "",
    Citation("practice", "a decade slip is ten; what differs on purpose differs by less"),
)  # fmt: skip
AGREE = Threshold(
    "ratio of values up to which twins agree", 1.1, "",
    Citation("practice", "the next value of E24, or one of another series, is still the same"),
)  # fmt: skip
AROUND = 4
"""So many other pairs agree where a circuit is there twice, and not by chance."""

ON_PURPOSE = 1.5
"""Other twins that differ by more than this: the two sides are not meant to be the same."""

TELLS = 0.4
"""Decades outside what is ordinary that tell which of two is the slip. Planted into sound drawings,
one slip in forty made the usual of two values the odd one."""

UNSURE = (Place.SENSE, Place.TAIL)
"""A resistor in a cathode that also makes some of the bias is taken for one of these."""

TRIED = 60
"""Pairs of one class that are looked at, so that a large drawing costs no more than others."""


@rule(
    "drawing.twins-differ",
    title="Twins that differ",
    level="notice",
    states="the drawing alone",
    needs="values, and a part of the circuit that is there twice",
    criterion="Two sides of a circuit with tubes are wired alike; one pair of parts is "
    f"{APART.value:g} times apart or more, {AROUND} others or more agree within {AGREE.value:g} "
    f"times, and none of them is more than {ON_PURPOSE:g} times apart.",
    why="Two channels, or the halves of a push-pull stage, are drawn alike because they are to do "
    "alike. A decade lost in one of them leaves every voltage right: one channel sounds thin, or "
    "one output tube gets half of the bass.",
    source=(Citation("arithmetic", "the two values"), PRACTICE),
    limits="Resistors, capacitors and coils are compared, pots not. Both parts have to have the "
    "same on their points: kinds, leads and types of tubes. Channels for different inputs that are "
    "mixed are voiced on purpose, and stages that drive one another are no twins. With two slips "
    "in one channel nothing is said.",
    thresholds=(APART, AGREE),
)
def twins_differ(case: Case) -> Iterator[Outcome]:
    """Compare the values of parts that stand in the same place on two sides."""
    told: set[str] = set()
    for alike in candidates(case.circuit):
        for pair in islice(_far(alike), TRIED):
            if told.isdisjoint(b.owner for b in pair) and (around := _around(case.circuit, pair)):
                told |= {b.owner for b in pair}
                yield _differ(case, pair, around)


def _far(alike: Iterable[Branch]) -> Iterator[Pair]:
    """Those of a class that are far apart by value, in drawing order."""
    valued = [(b, value) for b in alike if (value := _value(b)) > 0]
    values = [v for _, v in valued]
    if max(values, default=0.0) < APART.value * min(values, default=0.0):
        return
    for (one, its), (other, others) in combinations(valued, 2):
        if max(its, others) >= APART.value * min(its, others):
            yield one, other


def _around(circuit: Circuit, pair: Pair) -> list[Pair]:
    """The pairs that agree beside one that does not; none where the sides are no twins."""
    found = twins(circuit, *pair)
    if found is None or not _side_by_side(circuit, found):
        return []
    others = [p for p in found.parts if pair[0] not in p]
    if any(_ratio(p) > ON_PURPOSE for p in others):
        return []
    agree = [p for p in others if 0 < _ratio(p) <= AGREE.value]
    return agree if len(agree) >= AROUND else []


def _side_by_side(circuit: Circuit, found: Twins) -> bool:
    amplifying = [p for p in found.sections if p[0].kind.amplifies]
    return bool(amplifying) and all(independent(circuit, *p) for p in amplifying)


def _ratio(pair: Pair) -> float:
    """How many times the larger value is the smaller; 0 where one is unknown or nothing."""
    values = sorted(_value(b) for b in pair)
    return values[1] / values[0] if values[0] > 0 else 0.0


def _value(branch: Branch) -> float:
    unit = branch.traits.unit
    return 0.0 if unit is None else si(branch.value, unit) or 0.0


def _differ(case: Case, pair: Pair, around: list[Pair]) -> Finding:
    odd = _odder(case.circuit, pair)
    first, second = pair if odd is not pair[1] else pair[::-1]
    examples = " or ".join(f"{a.owner} and {b.owner}" for a, b in around[:2])
    likelier = "" if odd is None else f"; {_text(odd)} is unusual there"
    return twins_differ.finding(
        case,
        (first.owner, second.owner),
        f"{first.owner} is {_text(first)} and its twin on the other side, {second.owner}, "
        f"{_text(second)}{likelier}; {len(around)} other pairs agree, such as {examples}",
        f"Look at the original again: {_remedy(first, second, odd)}",
        evidence={"ratio": figure(_ratio(pair), "")},
        limit=APART.figure,
        certainty="likely",
        excess=_ratio(pair) / APART.value,
    )


def _remedy(first: Branch, second: Branch, odd: Branch | None) -> str:
    if odd is None:
        return f"{first.owner} and {second.owner} are likely meant to be the same"
    return f"{first.owner} is likely meant to be {_text(second)}, as {second.owner} is"


def _odder(circuit: Circuit, pair: Pair) -> Branch | None:
    """Which of two has a value unusual in its place, where the other's is quite usual there."""
    if place_of(circuit, pair[0]) in UNSURE:
        return None
    first, second = (oddness(circuit, b, _value(b)) for b in pair)
    if first is None or second is None or min(first, second) > 0 or max(first, second) < TELLS:
        return None
    return pair[0] if first > second else pair[1]


def _text(branch: Branch) -> str:
    unit = TRAITS[branch.kind].unit
    return engineering(_value(branch), SYMBOLS[unit]) if unit else "?"


RULES: tuple[Rule, ...] = (twins_differ,)
