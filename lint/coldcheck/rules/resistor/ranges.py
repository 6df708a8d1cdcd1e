"""Resistors on the positions of a switch: steps that are regular but for one value."""

from __future__ import annotations

from itertools import pairwise
from math import prod
from typing import TYPE_CHECKING

from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

FITS = Threshold("a step within this of its regular size fits it", 0.06, "", PRACTICE)
DECADES = (10.0, 0.1)
ONE_TWO_FIVE = (2.0, 2.5, 2.0)
STRING_TAPS, EACH_ITS_OWN = 4, 5
"""Fewer may be regular by chance once one value is free to move."""


@dataclass(frozen=True, slots=True)
class Ranges:
    """The resistors of a switch, and whether they are a string, from gnd up, that it taps."""

    switch: str
    parts: tuple[Branch, ...]
    string: bool

    @property
    def values(self) -> tuple[float, ...] | None:
        """Ohms of the parts, ``None`` where one is not known."""
        found = [si(b.value, "ohm") for b in self.parts]
        return tuple(v for v in found if v) if all(found) else None

    def steps(self, values: tuple[float, ...]) -> tuple[float, ...]:
        """From position to position: how many times more, 1 or above where they go one way."""
        taps = [sum(values[: k + 1]) for k in range(len(values))] if self.string else list(values)
        if taps[0] > taps[-1]:
            taps.reverse()
        return tuple(high / low for low, high in pairwise(taps))

    def off(self, values: tuple[float, ...]) -> float:
        """The largest share by which a step misses the regular series that comes closest."""
        steps = self.steps(values)
        return min(_off(steps, wanted) for wanted in _regular(steps))


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
    title="Range divider with one value a decade off",
    level="notice",
    states="the drawing alone",
    needs="the values of the resistors on the positions of one pole of a switch",
    criterion=f"A switch taps a string of resistors from gnd at {STRING_TAPS} points or more, or "
    f"chooses one of {EACH_ITS_OWN} or more that meet in one point. From position to position it "
    "does not go in regular steps (all equal; two in turn that make ten, as 1, 3, 10; 1, 2, 5), "
    f"and does, each within {100 * FITS.value:g} %, as soon as one resistor, and no other, is ten "
    "times larger or smaller.",
    why="20k for 200k in the divider of a meter, and it reads wrong on one range by half and more, "
    "and a little wrong on others: whoever measures high voltage with it believes it.",
    source=(PRACTICE, Citation("arithmetic", "the parts of a divider below each tap")),
    limits="Steps of no regular kind, such as those of a tone control, and strings with two "
    "resistors between taps or with an end that is not on gnd, are not judged. What loads the taps "
    "is not reckoned.",
    thresholds=(FITS,),
)
def range_decade_off(case: Case) -> Iterator[Outcome]:
    """Try each value of each such set of resistors a decade up and down."""
    for ranges in _ranges(case.circuit):
        values = ranges.values
        if values is None or ranges.off(values) <= FITS.value:
            continue
        cures = [(k, factor) for k in range(len(values)) for factor in DECADES
                 if ranges.off(_changed(values, k, factor)) <= FITS.value]  # fmt: skip
        if len(cures) == 1:
            yield _finding(case, ranges, values, cures[0])


def _changed(values: tuple[float, ...], k: int, factor: float) -> tuple[float, ...]:
    return (*values[:k], values[k] * factor, *values[k + 1 :])


def _ranges(circuit: Circuit) -> Iterator[Ranges]:
    """What each pole of each switch chooses from."""
    poles: dict[tuple[str, str], list[str]] = {}
    for branch in circuit.branches.values():
        if branch.kind is PartKind.CONTACT:
            poles.setdefault((branch.owner, branch.a), []).append(branch.b)
    for (switch, common), nets in poles.items():
        taps = [n for n in dict.fromkeys(nets) if n not in LANDMARKS]
        string, own = _string(circuit, taps), _each_its_own(circuit, taps, common)
        if len(string) >= STRING_TAPS:
            yield Ranges(switch, string, string=True)
        if len(own) >= EACH_ITS_OWN:
            yield Ranges(switch, own, string=False)


def _string(circuit: Circuit, taps: list[str]) -> tuple[Branch, ...]:
    """The resistors that lead from gnd through all taps in turn; none where they do not."""
    parts: list[Branch] = []
    here, left = set(LANDMARKS), set(taps)
    while left:
        found = [b for n in left for b in circuit.at(n) if _resistor(b) and b.other(n) in here]
        if len(found) != 1:
            return ()
        parts.append(found[0])
        here = {found[0].a, found[0].b} & left
        left -= here
    return tuple(parts)


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


RULES: tuple[Rule, ...] = (range_decade_off,)
