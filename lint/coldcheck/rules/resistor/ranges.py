"""Resistors on the positions of a switch: steps that are regular but for one value."""

from __future__ import annotations

from itertools import combinations, pairwise
from math import isclose, prod
from typing import TYPE_CHECKING

from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.throws import decks
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

FITS = Threshold("a step within this of its regular size fits it", 0.06, "", PRACTICE)
DECADES = (10.0, 0.1)
ONE_TWO_FIVE = (2.0, 2.5, 2.0)
STRING_TAPS, EACH_ITS_OWN = 4, 5
"""Fewer may be regular by chance once one value is free to move."""

SHORT_STRING = 2
"""Of so few taps two resistors may still be told to be exchanged: no value is free to move."""

DECADE, INPUT_DECADE = (9.4, 10.6), (9.4, 11.2)
"""Steps of a short string that are one decade; 1M over 100k from its middle is 11 and is meant."""


@dataclass(frozen=True, slots=True)
class Ranges:
    """The resistors of a switch, and whether they are a string, from gnd up, that it taps.

    ``upto`` has for each tap how many of the string are below it.
    """

    switch: str
    parts: tuple[Branch, ...]
    upto: tuple[int, ...] = ()

    @property
    def movable(self) -> bool:
        """Whether there are enough that one value a decade off is told by the others."""
        return len(self.upto) >= STRING_TAPS if self.upto else len(self.parts) >= EACH_ITS_OWN

    @property
    def values(self) -> tuple[float, ...] | None:
        """Ohms of the parts, ``None`` where one is not known."""
        found = [b.ohms for b in self.parts]
        return tuple(v for v in found if v) if all(found) else None

    def steps(self, values: tuple[float, ...]) -> tuple[float, ...]:
        """From position to position: how many times more, 1 or above where they go one way."""
        taps = [sum(values[:k]) for k in self.upto] if self.upto else list(values)
        if taps[0] > taps[-1]:
            taps.reverse()
        return tuple(high / low for low, high in pairwise(taps))

    def off(self, values: tuple[float, ...]) -> float:
        """The largest share by which a step misses the regular series that comes closest."""
        steps = self.steps(values)
        return min(_off(steps, wanted) for wanted in _regular(steps))

    def fits(self, values: tuple[float, ...]) -> bool:
        """Whether the steps are regular; of a short string, whether each is a decade."""
        if self.movable:
            return self.off(values) <= FITS.value
        low, high = DECADE if len(self.upto) > SHORT_STRING else INPUT_DECADE
        return all(low <= s <= high for s in self.steps(values))


def _regular(steps: tuple[float, ...]) -> Iterator[tuple[float, ...]]:
    """Equal steps; two in turn that make ten (1, 3, 10); 1, 2, 5."""
    count = len(steps)
    yield (prod(steps) ** (1 / count),) * count
    first = prod(steps[::2]) ** (1 / len(steps[::2]))
    if 1 < first < 10:
        yield tuple(10 / first if k % 2 else first for k in range(count))
    for start in range(3):
        yield tuple(ONE_TWO_FIVE[(start + k) % 3] for k in range(count))


def _off(steps: tuple[float, ...], wanted: tuple[float, ...]) -> float:
    return max(max(s / w, w / s) - 1 for s, w in zip(steps, wanted, strict=True))


@rule(
    "resistor.range-decade-off",
    title="Range divider with one value a decade off, or two exchanged",
    level="notice",
    states="the drawing alone",
    needs="the values of the resistors on the positions of one pole of a switch",
    criterion=f"A switch taps a string of resistors from gnd at {STRING_TAPS} points or more, or "
    f"chooses one of {EACH_ITS_OWN} or more that meet in one point. From position to position it "
    "does not go in regular steps (all equal; two in turn that make ten, as 1, 3, 10; 1, 2, 5), "
    f"and does, each within {100 * FITS.value:g} %, as soon as one resistor, and no other, is ten "
    "times larger or smaller, or two of them, and no other two, are exchanged. A string tapped at "
    "two or three points is judged for exchanged resistors alone, and where each step is about ten "
    "times then.",
    why="20k for 200k in the divider of a meter, and it reads wrong on one range by half and more, "
    "and a little wrong on others: whoever measures high voltage with it believes it. With two "
    "resistors exchanged one range reads ten times too much.",
    source=(PRACTICE, Citation("arithmetic", "the parts of a divider below each tap")),
    limits="Steps of no regular kind, such as those of a tone control, and strings with an end "
    "that is not on gnd, are not judged. What loads the taps is not reckoned.",
    thresholds=(FITS,),
)
def range_decade_off(case: Case) -> Iterator[Outcome]:
    """Try each value of each such set a decade up and down, and each two of them exchanged."""
    for ranges in _ranges(case.circuit):
        values = ranges.values
        if values is None or ranges.fits(values):
            continue
        yield from _one_off(case, ranges, values) or _two_exchanged(case, ranges, values)


def _one_off(case: Case, ranges: Ranges, values: tuple[float, ...]) -> list[Finding]:
    """The one value that a decade mends; none of a short string, where it may by chance."""
    tried = [(k, factor) for k in range(len(values)) for factor in DECADES]
    cures = [c for c in tried if ranges.movable and ranges.fits(_changed(values, *c))]
    return [_finding(case, ranges, values, cures[0])] if len(cures) == 1 else []


def _two_exchanged(case: Case, ranges: Ranges, values: tuple[float, ...]) -> list[Finding]:
    """The two values that make the steps regular in each other's place; none where others do."""
    pairs = [(i, j) for i, j in combinations(range(len(values)), 2)
             if not isclose(values[i], values[j])]  # fmt: skip
    cures = [pair for pair in pairs if ranges.fits(_exchanged(values, *pair))]
    return [_swap(case, ranges, values, cures[0])] if len(cures) == 1 else []


def _exchanged(values: tuple[float, ...], i: int, j: int) -> tuple[float, ...]:
    order = [j if k == i else i if k == j else k for k in range(len(values))]
    return tuple(values[k] for k in order)


def _changed(values: tuple[float, ...], k: int, factor: float) -> tuple[float, ...]:
    return (*values[:k], values[k] * factor, *values[k + 1 :])


def _ranges(circuit: Circuit) -> Iterator[Ranges]:
    """What each pole of each switch chooses from."""
    for (switch, common), contacts in decks(circuit).items():
        taps = [n for n in dict.fromkeys(b.b for b in contacts) if n not in LANDMARKS]
        string, upto = _string(circuit, taps)
        own = _each_its_own(circuit, taps, common)
        if len(upto) >= SHORT_STRING:
            yield Ranges(switch, string, upto)
        if len(own) >= EACH_ITS_OWN:
            yield Ranges(switch, own)


def _string(circuit: Circuit, taps: list[str]) -> tuple[tuple[Branch, ...], tuple[int, ...]]:
    """The resistors that lead from gnd through all taps in turn, and how many are below each tap.

    Empty where they do not. Two in series between taps are two of them.
    """
    parts: list[Branch] = []
    upto: list[int] = []
    here, left = set(LANDMARKS), set(taps)
    while left:
        found = [way for n in sorted(left) if (way := _down(circuit, n, here, left - {n}))]
        if len(found) != 1:
            return (), ()
        parts += reversed(found[0])
        upto.append(len(parts))
        here = {n for b in found[0] for n in (b.a, b.b)} & left
        left -= here
    return tuple(parts), tuple(upto)


def _down(
    circuit: Circuit, net: str, here: Collection[str], others: Collection[str]
) -> list[Branch]:
    """The resistors in series from a tap to the one below it, none where there is another way."""
    ways = (_series(circuit, net, first, here, others) for first in circuit.at(net)
            if _resistor(first))  # fmt: skip
    found = [way for way in ways if way]
    return found[0] if len(found) == 1 else []


def _series(
    circuit: Circuit, net: str, first: Branch, here: Collection[str], others: Collection[str]
) -> list[Branch]:
    """One way on through points that have two resistors and nothing else."""
    way, at = [first], first.other(net)
    while at not in here:
        onward = [b for b in circuit.at(at) if b is not way[-1]]
        plain = len(onward) == 1 and _resistor(onward[0]) and not circuit.electrodes_at(at)
        if at in (*others, net, *LANDMARKS) or not plain:
            return []
        way.append(onward[0])
        at = onward[0].other(at)
    return way


def _each_its_own(circuit: Circuit, taps: list[str], common: str) -> tuple[Branch, ...]:
    """The resistors that each tap has alone, if all lead to one point."""
    each = [[b for b in circuit.at(n) if b.kind is not PartKind.CONTACT] for n in taps]
    parts = [near[0] for near in each if len(near) == 1 and _resistor(near[0])]
    far = {b.other(n) for n, b in zip(taps, parts, strict=False)}
    fits = len(parts) == len(taps) and len(far) == 1 and common not in far
    return tuple(parts) if fits else ()


def _resistor(branch: Branch) -> bool:
    return branch.kind is PartKind.RESISTOR


def _finding(
    case: Case, ranges: Ranges, values: tuple[float, ...], cure: tuple[int, float]
) -> Finding:
    k, factor = cure
    part, then = ranges.parts[k], ohms(values[k] * factor)
    sizes = sorted({f"{s:.3g}" for s in ranges.steps(_changed(values, k, factor))}, key=float)
    return range_decade_off.finding(
        case,
        (part.name, ranges.switch),
        f"{part.name} ({ohms(values[k])}) looks a decade off: with {then} {ranges.switch} goes in "
        f"regular steps of {' and '.join(sizes)} times, as drawn it does not",
        f"Look at {part.name}: {then} fits",
        evidence={
            "written": figure(values[k], "ohm"),
            "off_by": figure(ranges.off(values), ""),
        },
        limit=FITS.figure,
        certainty="likely",
        excess=min(ranges.off(values), 1e6) / FITS.value,
    )


def _swap(case: Case, ranges: Ranges, values: tuple[float, ...], pair: tuple[int, int]) -> Finding:
    one, other = (ranges.parts[k] for k in pair)
    steps = ranges.steps(_exchanged(values, *pair))
    sizes = sorted({f"{s:.3g}" for s in steps}, key=float)
    was = listed(f"{s:.3g}" for s in ranges.steps(values))
    return range_decade_off.finding(
        case,
        (one.name, other.name, ranges.switch),
        f"{one.name} ({ohms(values[pair[0]])}) and {other.name} ({ohms(values[pair[1]])}) look "
        f"exchanged: {ranges.switch} goes in steps of {was} times as drawn, and of "
        f"{listed(sizes)} the other way round",
        f"Exchange {one.name} and {other.name}",
        evidence={"off_by": figure(ranges.off(values), "")},
        limit=FITS.figure,
        certainty="likely",
        excess=min(ranges.off(values), 1e6) / FITS.value,
    )


RULES: tuple[Rule, ...] = (range_decade_off,)
