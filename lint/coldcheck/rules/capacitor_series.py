"""Electrolytics in series: what makes each take its share."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.rules.model import rule
from coldcheck.rules.numbers import unsolved
from coldcheck.rules.places import listed, net_text, ohms, preferred, si, volts

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.rules.model import Case, Outcome

WORST_SHARE = 0.6
"""Share of the whole that one of two equal, unbalanced capacitors may take (270 of 450 V)."""

LEAKY_F = 0.5e-6
PER_UF_A = 12e-6
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
    source="common practice; worst split 270 V and 180 V of 450 V (derived)",
)
def unbalanced_series(case: Case) -> Iterator[Outcome]:
    """Look for a midpoint that only capacitors hold."""
    for first, second, middle in _pairs(case.circuit):
        names = (first.name, second.name)
        reason = unsolved(case)
        if reason is not None:
            yield unbalanced_series.not_judged(names, reason)
            continue
        whole = max(
            (
                abs(w.dc)
                for s in case.solved()
                if (w := s.between(first.other(middle), second.other(middle)))
            ),
            default=None,
        )
        limits = [_working_volts(b) for b in (first, second)]
        if whole is None or None in limits:
            text = "no working voltage is written" if whole else "its ends have no number"
            yield unbalanced_series.not_judged(names, text)
            continue
        limit = min(v for v in limits if v is not None)
        if WORST_SHARE * whole > limit:
            yield _unbalanced(case, first, second, middle, whole, limit)


def _working_volts(branch: Branch) -> float | None:
    return None if branch.part is None else si(branch.part.voltage, "volt")


def _pairs(circuit: Circuit) -> Iterator[tuple[Branch, Branch, str]]:
    """Two polarised capacitors on a net that has nothing else."""
    for net in circuit.graph.nodes:
        branches = circuit.at(net)
        if len(branches) == 2 and not circuit.electrodes_at(net):
            first, second = branches
            if all(b.kind == "capacitor" and b.plus is not None for b in branches):
                yield first, second, net


def _unbalanced(
    case: Case, first: Branch, second: Branch, middle: str, whole: float, limit: float
) -> Outcome:
    resistor = _balancing_ohms(first, second, whole, limit)
    worst = WORST_SHARE * whole
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
        evidence={"whole_v": whole, "share_v": worst, "limit_v": limit},
        certainty="possible",
        excess=worst / limit,
    )


def _balancing_ohms(first: Branch, second: Branch, whole: float, limit: float) -> float | None:
    """R = (2 limit - whole) / leakage, then the nearest E12 value; at most 220 kohm."""
    farads = max(si(b.value, "farad") or 0.0 for b in (first, second))
    spare = 2 * limit - whole
    if spare <= 0 or farads < LEAKY_F:
        return None
    return min(preferred(spare / (PER_UF_A * farads * 1e6)), 220e3)
