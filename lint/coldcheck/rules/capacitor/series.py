"""Electrolytics in series: what makes each take its share."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import is_own, own_text, resistors_across, resistors_at
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.preferred import preferred_below
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, ohms, volts, watts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.ranges import BARELY
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome

USUAL_SHARE = Threshold(
    "share of the whole that a fresh, unbalanced capacitor of two may take",
    0.6,
    "",
    Citation("practice", "270 V and 180 V of 450 V"),
)
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
        "Two or more polarised capacitors in series share points on which nothing else conducts, "
        "and the whole voltage is more than the weakest of them is made for by itself. Likely "
        "where its usual share is too much already: six tenths of the whole for one of two."
    ),
    why=(
        "Direct current through the pair is leakage, and leakage differs from one can to the "
        "next. It, not the capacitance, decides who gets how much of the voltage; the one that "
        "gets too much leaks more, ages and takes the other along."
    ),
    source=(PRACTICE, Citation("arithmetic", "leakage without bound")),
    limits=(
        "How much each leaks is not known: the whole is what one gets beside another that leaks "
        "far more. A bleeder across the whole string does not balance it, and is not taken to."
    ),
    thresholds=(USUAL_SHARE,),
)
def unbalanced_series(case: Case) -> Iterator[Outcome]:
    """Look for a midpoint that only capacitors hold."""
    reason = unsolved(case)
    for cans, ends in _strings(case.circuit):
        names = tuple(b.name for b in cans)
        limits = [v for v in map(_working_volts, cans) if v is not None]
        whole = None if reason else _most_volts(case, ends)
        if reason or whole is None or len(limits) < len(cans):
            text = "no working voltage is written" if whole else "its ends have no number"
            yield unbalanced_series.not_judged(names, reason or text)
        elif whole > min(limits) * BARELY:
            yield _unbalanced(case, cans, whole, min(limits), _apart(case.circuit, cans, ends))


def _most_volts(case: Case, ends: tuple[str, str]) -> float | None:
    """The most DC between two nets in any state, volts."""
    return max((abs(w.dc) for s in case.solved() if (w := s.between(*ends))), default=None)


def _whole(case: Case, first: Branch, second: Branch, middle: str) -> float | None:
    """The most DC across the pair in any state, volts."""
    return _most_volts(case, (first.other(middle), second.other(middle)))


def _working_volts(branch: Branch) -> float | None:
    return None if branch.part is None else si(branch.part.voltage, "volt")


def _strings(circuit: Circuit) -> Iterator[tuple[tuple[Branch, ...], tuple[str, str]]]:
    """Polarised capacitors in series through nets that have nothing else; the string's ends."""
    joints = {n: pair for n in circuit.graph.nodes if (pair := _bare(circuit, n)) is not None}
    while joints:
        middle, (first, second) = joints.popitem()
        left, low = _onward(joints, first, first.other(middle))
        right, high = _onward(joints, second, second.other(middle))
        cans = (*reversed(left), first, second, *right)
        yield (cans if cans[0].name <= cans[-1].name else cans[::-1]), (low, high)


def _onward(
    joints: dict[str, tuple[Branch, Branch]], last: Branch, net: str
) -> tuple[list[Branch], str]:
    """The capacitors that follow one in its string, and the net where the string ends."""
    found: list[Branch] = []
    while net in joints:
        last = next(b for b in joints.pop(net) if b is not last)
        found.append(last)
        net = last.other(net)
    return found, net


def _bare(circuit: Circuit, net: str) -> tuple[Branch, Branch] | None:
    """The two polarised capacitors on a net that has nothing else."""
    branches = circuit.at(net)
    polar = all(b.kind is PartKind.CAPACITOR and b.plus is not None for b in branches)
    if len(branches) != 2 or not polar or circuit.electrodes_at(net) or net in LANDMARKS:
        return None
    return branches[0], branches[1]


def _apart(circuit: Circuit, cans: tuple[Branch, ...], ends: tuple[str, str]) -> tuple[str, ...]:
    """The middle of two cans, and two equal resistors across both whose middle is not joined."""
    if len(cans) != 2:
        return ()
    middle = ({cans[0].a, cans[0].b} & {cans[1].a, cans[1].b}).pop()
    for first in resistors_at(circuit, ends[0]):
        joint = first.other(ends[0])
        both = resistors_at(circuit, joint)
        bare = len(both) == 2 == len(circuit.at(joint)) and not circuit.electrodes_at(joint)
        alike = bare and si(both[0].value, "ohm") == si(both[1].value, "ohm")
        if alike and joint not in LANDMARKS and {b.other(joint) for b in both} == set(ends):
            own = own_text(circuit, middle)
            return (*((own,) if is_own(own) else ()), *(b.name for b in both))
    return ()


def _unbalanced(
    case: Case, cans: tuple[Branch, ...], whole: float, limit: float, apart: tuple[str, ...]
) -> Outcome:
    names = tuple(b.name for b in cans)
    resistor = _balancing_ohms(cans[0], cans[1], whole, limit) if len(cans) == 2 else None
    advice = (
        f"Put {ohms(resistor)} across each of them"
        if resistor is not None
        else "Put the same resistor across each; it carries clearly more than they leak"
        if whole < len(cans) * limit
        else "Use capacitors of a higher working voltage, with a resistor across each"
    )
    if apart:
        balance = listed(apart[-2:])
        advice = f"Join the middle of {balance} to that of {listed(names)}, each across its own"
    usual = USUAL_SHARE.value * whole if len(cans) == 2 else whole / len(cans)
    return unbalanced_series.finding(
        case,
        (*apart, *names),
        f"nothing but their leakage shares out the {volts(whole)} across {listed(names)}"
        f"{_not_joined(apart)}: beside one that leaks the other gets nearly all of it, rated "
        f"{volts(limit)}",
        f"{advice}; a bleeder across the whole does not balance them",
        evidence={"whole": figure(whole, "V"), "usual_share": figure(usual, "V")},
        limit=figure(limit, "V"),
        certainty="likely" if usual > limit else "possible",
        excess=whole / limit,
        blame=Blame.SLIP if apart else None,
    )


def _not_joined(apart: tuple[str, ...]) -> str:
    """That there are resistors for it."""
    return f", since the middle of {listed(apart[-2:])} is not joined to theirs" if apart else ""


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
    return branch.farads or 0.0


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
        highest = max(resistors, key=lambda r: r.ohms or 0.0)
        if most is not None and (highest.ohms or 0.0) > most:
            yield _too_high(case, (first, second), highest, (whole, min(limits), most))


def _balanced(circuit: Circuit) -> Iterator[tuple[Branch, Branch, str, tuple[Branch, ...]]]:
    """Series pairs with a resistor right across each: first, second, the point between."""
    for net in circuit.graph.nodes:
        near = circuit.at(net)
        pair = [b for b in near if b.kind is PartKind.CAPACITOR and b.plus is not None]
        if len(pair) != 2 or net == GROUND or pair[0].other(net) == pair[1].other(net):
            continue
        across = [[b for b in resistors_across(circuit, c) if b.value] for c in pair]
        if all(len(found) == 1 for found in across):
            yield pair[0], pair[1], net, (across[0][0], across[1][0])


def _too_high(
    case: Case, pair: tuple[Branch, Branch], resistor: Branch, figures: tuple[float, float, float]
) -> Outcome:
    whole, limit, most = figures
    value = resistor.ohms or 0.0
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
