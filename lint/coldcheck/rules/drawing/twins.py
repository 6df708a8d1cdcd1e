"""Two of a kind that differ: what a circuit has twice has the same values on both sides."""

from __future__ import annotations

from itertools import combinations, islice
from typing import TYPE_CHECKING

from coldcheck.anatomy.channels import at_coils
from coldcheck.anatomy.ordinary import Place, oddness, place_of
from coldcheck.anatomy.sides import sides
from coldcheck.anatomy.twins import candidates, independent, tails, twins, valued
from coldcheck.circuit.kinds import TRAITS
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.values import SYMBOLS
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.sides import Lone, Sides, Strayed
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

MANY = 8
"""So many pairs agree where two channels are the same, and a part of one of them is missing."""

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
    blame=Blame.SLIP,
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
    return _agreeing([p for p in found.parts if pair[0] not in p], AROUND)


def _agreeing(pairs: Iterable[Pair], least: int) -> list[Pair]:
    """The pairs of one value; none where they are too few, or others differ on purpose."""
    valued_pairs = [p for p in pairs if valued(p[0].kind)]
    if any(_ratio(p) > ON_PURPOSE for p in valued_pairs):
        return []
    agree = [p for p in valued_pairs if 0 < _ratio(p) <= AGREE.value]
    return agree if len(agree) >= least else []


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


@rule(
    "drawing.twins-wired-apart",
    title="A twin with a lead elsewhere",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="a part of the circuit that is there twice",
    criterion="Two sides of a circuit with tubes are wired alike and all of their values agree, "
    f"{AROUND} pairs or more; of one pair alone a lead ends elsewhere: at a point of the other "
    "side, or at another rail than its twin's.",
    why="Two channels, or the halves of a push-pull stage, are drawn alike because they are to do "
    "alike. A lead that is one strip off feeds one screen from another rail, or carries one "
    "channel into the other; each by itself is a circuit that might be meant.",
    source=(Citation("arithmetic", "the two sides laid over each other"), PRACTICE),
    limits="Where two leads or more are elsewhere, or one side has a part more, nothing is said: "
    "they may be different on purpose. Which of the two is to be moved is not known.",
)
def twins_wired_apart(case: Case) -> Iterator[Outcome]:
    """Name the two parts of which one is wired unlike the other."""
    for found in sides(case.circuit):
        if len(found.strayed) == 1 and not found.lone and not found.unlike:
            odd = found.strayed[0]
            around = _agreeing([p for p in found.parts if odd.first not in p], AROUND)
            yield from [_apart(case, odd, len(around))] if around else []


def _apart(case: Case, odd: Strayed, around: int) -> Finding:
    first, second = odd.first.owner, odd.second.owner
    return twins_wired_apart.finding(
        case,
        (first, second, odd.end, odd.other_end),
        f"{_ends_of(odd)}; all else on the two sides is alike, {around} pairs",
        f"Look at the original again: {_moved(odd)}",
        evidence={"pairs": figure(around, "")},
        certainty="likely",
    )


def _ends_of(odd: Strayed) -> str:
    first, second = odd.first.owner, f"its twin on the other side, {odd.second.owner}"
    if odd.end == odd.other_end:
        return f"{first} and {second}, both end at {odd.end}, whose own twin is {odd.wanted}"
    return f"{first} goes to {odd.end}, and {second}, to {odd.other_end}"


def _moved(odd: Strayed) -> str:
    first, second = odd.first.owner, odd.second.owner
    if odd.end == odd.other_end:
        return f"{first} or {second} is likely meant to go to {odd.wanted}"
    return (
        f"{first} is likely meant to go to {odd.other_end} as {second} does, or {second} to "
        f"{odd.end} as {first} does; the paper says which"
    )


@rule(
    "drawing.twin-missing",
    title="A part on one side only",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="two channels, drawn alike",
    criterion="Two channels end at different outputs and are wired alike, all of their values "
    f"agree, {MANY} pairs or more; one resistor, capacitor or coil is on one side only.",
    why="Two channels are drawn alike because they are to do alike. A part that was left out of "
    "one of them, a bypass or what drains an output capacitor, is missed by nobody who looks at "
    "that channel alone.",
    source=(Citation("arithmetic", "the two sides laid over each other"), PRACTICE),
    limits="Stages at radio frequency, and halves that share a cathode resistor, are not looked "
    "at: they are not alike. With two parts missing nothing is said.",
)
def twin_missing(case: Case) -> Iterator[Outcome]:
    """Name the part that only one of two channels has."""
    for found in sides(case.circuit):
        around = _agreeing(found.parts, MANY)
        alike = around and not found.strayed and not found.unlike
        if alike and len(found.lone) == 1 and _channels(case.circuit, found):
            yield _missing(case, found.lone[0], len(around))


def _channels(circuit: Circuit, found: Sides) -> bool:
    """Whether the sides are channels at audio frequency, not the halves of one stage."""
    amplifying = [p for p in found.sections if p[0].kind.amplifies]
    return not any(
        tails(circuit, one) & tails(circuit, other) or at_coils(circuit, one)
        for one, other in amplifying
    )


def _missing(case: Case, lone: Lone, around: int) -> Finding:
    part, far, text = lone.part.owner, lone.part.other(lone.net), _text(lone.part)
    return twin_missing.finding(
        case,
        (part, lone.twin),
        f"{part} ({text}) goes from {lone.net} to {far}, and {lone.twin}, the same point on the "
        f"other side, has no such part; all else is alike, {around} pairs",
        f"Look at the original again: {lone.twin} likely wants {text} as {lone.net} has",
        evidence={"pairs": figure(around, "")},
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (twins_differ, twins_wired_apart, twin_missing)
