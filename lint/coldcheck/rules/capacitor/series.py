"""Electrolytics in series: what makes each take its share."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.preferred import preferred_below
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, ohms, volts, watts
from coldcheck.judge.figure import figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome

WORST_SHARE = Threshold(
    "share of the whole that one of two equal capacitors may take",
    0.6,
    "",
    Citation("arithmetic", "270 V and 180 V of 450 V"),
)
"""Share of the whole that one of two equal, unbalanced capacitors may take (270 of 450 V)."""

LEAKY_F = 0.5e-6
CLEARLY = Threshold(
    "times the largest balancing resistor up to which it is advice", 2.0, "", PRACTICE
)
PER_UF_A = Threshold(
    "leakage of an electrolytic, a microfarad", 12e-6, "A", Citation("practice", "0.5 mA for 40 uF")
)
"""Leakage reckoned with, amperes a microfarad: 0.5 mA for 40 uF (common practice)."""


@rule(
    "capacitor.series-unbalanced",
    title="Electrolytics in series without balancing resistors",
    level="notice",
    states="the drawing; the voltages of every solved state",
    needs="polarised capacitors in series, and their working voltages",
    criterion=(
        "Two polarised capacitors in series share a point on which nothing else conducts, and "
        "six tenths of the whole voltage is more than the weaker one is made for."
    ),
    why=(
        "Direct current through the pair is leakage, and leakage differs from one can to the "
        "next. It, not the capacitance, decides who gets how much of the voltage; the one that "
        "gets too much leaks more, ages and takes the other along."
    ),
    source=(PRACTICE, Citation("arithmetic", "worst split 270 V and 180 V of 450 V")),
    limits=(
        "Leakage and tolerance are assumed the same kind for both: common practice figures, "
        "not measurements. Capacitors formed differently after years in a drawer may share "
        "far worse."
    ),
    thresholds=(PER_UF_A, WORST_SHARE),
)
def unbalanced_series(case: Case) -> Iterator[Outcome]:
    """Look for a midpoint that only capacitors hold."""
    for first, second, middle in _pairs(case.circuit):
        names = (first.name, second.name)
        reason = unsolved(case)
        if reason is not None:
            yield unbalanced_series.not_judged(names, reason)
            continue
        whole = _whole(case, first, second, middle)
        limits = [_working_volts(b) for b in (first, second)]
        if whole is None or None in limits:
            text = "no working voltage is written" if whole else "its ends have no number"
            yield unbalanced_series.not_judged(names, text)
            continue
        limit = min(v for v in limits if v is not None)
        if WORST_SHARE.value * whole > limit:
            yield _unbalanced(case, first, second, middle, whole, limit)


def _whole(case: Case, first: Branch, second: Branch, middle: str) -> float | None:
    """The most DC across the pair in any state, volts."""
    ends = first.other(middle), second.other(middle)
    return max((abs(w.dc) for s in case.solved() if (w := s.between(*ends))), default=None)


def _working_volts(branch: Branch) -> float | None:
    return None if branch.part is None else si(branch.part.voltage, "volt")


def _pairs(circuit: Circuit) -> Iterator[tuple[Branch, Branch, str]]:
    """Two polarised capacitors on a net that has nothing else."""
    for net in circuit.graph.nodes:
        branches = circuit.at(net)
        if len(branches) == 2 and not circuit.electrodes_at(net):
            first, second = branches
            if all(b.kind is PartKind.CAPACITOR and b.plus is not None for b in branches):
                yield first, second, net


def _unbalanced(
    case: Case, first: Branch, second: Branch, middle: str, whole: float, limit: float
) -> Outcome:
    resistor = _balancing_ohms(first, second, whole, limit)
    worst = WORST_SHARE.value * whole
    advice = (
        f"Put {ohms(resistor)} across each of them"
        if resistor is not None
        else "Use capacitors of a higher working voltage, with a resistor across each"
    )
    return unbalanced_series.finding(
        case,
        (first.name, second.name),
        f"nothing fixes {net_text(case.circuit, middle)} between "
        f"{listed((first.name, second.name))}: "
        f"of {volts(whole)} one of them may get {volts(worst)}, rated {volts(limit)}",
        advice,
        evidence={"whole": figure(whole, "V"), "share": figure(worst, "V")},
        limit=figure(limit, "V"),
        certainty="possible",
        excess=worst / limit,
    )


def _balancing_ohms(first: Branch, second: Branch, whole: float, limit: float) -> float | None:
    """The E12 value at or below the most that still balances; at most 220 kohm."""
    most = _most_ohms(first, second, whole, limit)
    if most is None or max(_farads(first), _farads(second)) < LEAKY_F:
        return None
    return min(preferred_below(most), 220e3)


def _most_ohms(first: Branch, second: Branch, whole: float, limit: float) -> float | None:
    """R = (2 limit - whole) / leakage; ``None`` where the pair is too small for the whole."""
    spare = 2 * limit - whole
    return spare / _leak(first, second) if spare > 0 else None


def _leak(first: Branch, second: Branch) -> float:
    return PER_UF_A.value * 1e6 * max(_farads(first), _farads(second), 1e-9)


def _farads(branch: Branch) -> float:
    return si(branch.value, "farad") or 0.0


@rule(
    "capacitor.balancing-too-high",
    title="Balancing resistors too high for the leakage",
    level="notice",
    states="the drawing; the voltages of every solved state",
    needs="two polarised capacitors in series with a resistor across each, working voltages",
    criterion=(
        "Each resistor is more than (2 x working voltage - whole voltage) / leakage, with 12 uA of "
        "leakage a microfarad (0.5 mA for 40 uF). Above that it is advice; from twice that on, a "
        "notice."
    ),
    why=(
        "The resistors have to carry clearly more than the capacitors leak, or the leakage rules "
        "the split: if one capacitor leaks and the other does not, the whole of that current "
        "flows through one resistor and lifts the other capacitor above its rating."
    ),
    source=(
        Citation("web-balancing", "R = (N Vr - Vb) / Ileak"),
        Citation("practice", "0.5 mA for 40 uF"),
    ),
    limits=(
        "The leakage is assumed, not known: a fresh, well-formed capacitor leaks far less, an old "
        "one more. Pairs only; three in series are not looked at."
    ),
    thresholds=(CLEARLY, PER_UF_A),
)
def balancing_too_high(case: Case) -> Iterator[Outcome]:
    """Compare the resistors across a series pair with what its leakage asks for."""
    if unsolved(case) is not None:
        return
    for first, second, middle, resistors in _balanced(case.circuit):
        whole = _whole(case, first, second, middle)
        limits = [v for v in (_working_volts(first), _working_volts(second)) if v is not None]
        if whole is None or len(limits) < 2:
            text = "no working voltage is written" if whole else "its ends have no number"
            yield balancing_too_high.not_judged((first.name, second.name), text)
            continue
        most = _most_ohms(first, second, whole, min(limits))
        highest = max(resistors, key=lambda r: si(r.value, "ohm") or 0.0)
        if most is not None and (si(highest.value, "ohm") or 0.0) > most:
            yield _too_high(case, (first, second), highest, (whole, min(limits), most))


def _balanced(circuit: Circuit) -> Iterator[tuple[Branch, Branch, str, tuple[Branch, ...]]]:
    """Series pairs with a resistor right across each: first, second, the point between."""
    for net in circuit.graph.nodes:
        near = circuit.at(net)
        pair = [b for b in near if b.kind is PartKind.CAPACITOR and b.plus is not None]
        if len(pair) != 2 or net == GROUND or pair[0].other(net) == pair[1].other(net):
            continue
        across = [[b for b in near if _beside(b, c) and b.value] for c in pair]
        if all(len(found) == 1 for found in across):
            yield pair[0], pair[1], net, (across[0][0], across[1][0])


def _beside(branch: Branch, capacitor: Branch) -> bool:
    return branch.kind is PartKind.RESISTOR and {branch.a, branch.b} == {capacitor.a, capacitor.b}


def _too_high(
    case: Case, pair: tuple[Branch, Branch], resistor: Branch, figures: tuple[float, float, float]
) -> Outcome:
    whole, limit, most = figures
    value = si(resistor.value, "ohm") or 0.0
    leak = _leak(*pair)
    share = (whole + leak * value) / 2
    wanted = preferred_below(most)
    return balancing_too_high.finding(
        case,
        (resistor.name, pair[0].name, pair[1].name),
        f"{ohms(value)} across each of {listed((pair[0].name, pair[1].name))}: {amperes(leak)} of "
        f"leakage in one of them puts {volts(share)} of {volts(whole)} on the other, rated "
        f"{volts(limit)}",
        f"Use {ohms(wanted)} across each of them ({watts(whole**2 / 4 / wanted)} in each)",
        level="notice" if value > CLEARLY.value * most else "advice",
        evidence={
            "resistor": figure(value, "ohm"),
            "leakage": figure(leak, "A"),
            "whole": figure(whole, "V"),
            "share": figure(share, "V"),
        },
        limit=figure(most, "ohm"),
        certainty="possible",
        excess=value / most,
    )


RULES = (
    unbalanced_series,
    balancing_too_high,
)
