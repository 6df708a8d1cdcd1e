"""Pilot lamps against their ratings, and neons without the resistor that keeps them alive."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from coldcheck.circuit.lamps import BUILT_IN_V, STRIKES_V, USUAL_A, is_neon
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.preferred import preferred_above, preferred_below
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, ohms, volts, watts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import most, over
from coldcheck.solve.solution import WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

NEON = Threshold(
    "current of a neon over that written", 1.25, "",
    Citation("practice", "it only lives shorter, and its resistor is one in twenty per cent"),
)  # fmt: skip
VOLTS = Threshold("volts or amperes of a lamp over those written", 1.15, "", PRACTICE)
WATTS = Threshold("watts of a lamp over those written", 1.3, "", PRACTICE)
LEAST_OHM = Threshold(
    "least resistor ahead of a neon", 10e3, "ohm",
    Citation("practice", "common neons run at 0.3 to 2 mA, 100 to 220 kohm on the mains"),
)  # fmt: skip
BUILT_IN = Threshold(
    "volts written on a neon from which it has its resistor inside", BUILT_IN_V, "V", PRACTICE
)
STRIKES = Threshold("least volts at which a neon strikes", STRIKES_V[0], "V", PRACTICE)
FED = Threshold("volts from which a neon is fed at all", 5.0, "V", PRACTICE)
BURNS_V = 60.0
"""What a lit neon holds (common practice)."""


@rule(
    "supply.lamp-over-rating",
    title="Lamp beyond what is written on it",
    level="notice",
    states="warm, nominal mains",
    needs="the volts, amperes or watts written on the lamp, and a solved state",
    criterion=(
        f"The rms volts across the lamp are more than {VOLTS.value:g} times those written (the "
        f"amperes, where no volts are written), or its watts more than {WATTS.value:g} times them. "
        f"A neon's current, at {NEON.value:g} times that written: the volts beyond the 60 V it "
        "holds over the resistor ahead of it."
    ),
    why="The life of a filament lamp goes by about the twelfth power of its voltage: with 6 % too "
    "much it lives half as long, at twice its voltage it flashes once.",
    source=(
        Citation("drawing", "the rating written"),
        Citation("lamp-sheets", "life goes as the twelfth power of the voltage"),
    ),
    limits="A lamp has its hot resistance at any voltage. Too little voltage is not reported.",
    thresholds=(NEON, VOLTS, WATTS),
)
def lamp_over_rating(case: Case) -> Iterator[Outcome]:
    """Compare each lamp with what it gets."""
    reason = unsolved(case)
    for lamp in (b for b in case.circuit.branches.values() if b.kind is PartKind.LAMP and b.part):
        rated = _ratings(lamp)
        if not rated:
            continue
        if reason is not None:
            yield lamp_over_rating.not_judged((lamp.name,), reason)
        for limit, factor in rated:
            use = most(case, (WARM,), partial(_used, case.circuit, lamp, limit))
            if use is not None and use.beyond(factor * limit.value):
                got, most_of = use.figure.text(3), limit.text(3)
                via = "".join(f" through {n}" for n in _before(case.circuit, lamp))
                told = f"{lamp.name} gets {got}{via}; it is made for {most_of}"
                share = use.figure.value / limit.value
                yield over(
                    lamp_over_rating, case, (*_before(case.circuit, lamp), lamp.name), use,
                    factor * limit.value, (told, _lamp_remedy(case, lamp, got, share)),
                )  # fmt: skip


def _limiter(circuit: Circuit, lamp: Branch) -> Branch | None:
    """The resistor ahead of a neon, whose value sets the current."""
    ends = (_ahead(circuit, lamp, n) for n in (lamp.a, lamp.b))
    return next((b for b in ends if b is not None), None) if is_neon(lamp) else None


def _before(circuit: Circuit, lamp: Branch) -> tuple[str, ...]:
    """That resistor goes first: it is what there is to change."""
    limiter = _limiter(circuit, lamp)
    return () if limiter is None else (limiter.name,)


def _ratings(lamp: Branch) -> list[tuple[Figure, float]]:
    part = lamp.part
    if part is None:
        return []
    v, a, w = si(part.voltage, "volt"), si(part.current, "ampere"), si(part.power, "watt")
    if is_neon(lamp):
        return [(figure(a, "A"), NEON.value)] if a else []
    found = [(figure(v, "V"), VOLTS.value)] if v else []
    found += [(figure(a, "A"), VOLTS.value)] if a and not v else []
    return found + ([(figure(w, "W"), WATTS.value)] if w else [])


def _used(circuit: Circuit, lamp: Branch, limit: Figure, solution: Solution) -> Figure | None:
    if is_neon(lamp):
        return _neon_amps(circuit, lamp, solution)
    across, through = solution.between(lamp.a, lamp.b), solution.current(lamp.name)
    if across is None or (through is None and limit.unit != "V"):
        return None
    if limit.unit == "V" or through is None:
        return figure(across.rms, "V")
    return figure(through.rms, "A") if limit.unit == "A" else figure(across.rms * through.rms, "W")


def _neon_amps(circuit: Circuit, lamp: Branch, solution: Solution) -> Figure | None:
    """Through a lit neon: what is left of the voltage over the resistor ahead of it."""
    for near, far in ((lamp.a, lamp.b), (lamp.b, lamp.a)):
        resistor = _ahead(circuit, lamp, near)
        ohm = resistor.ohms if resistor is not None else None
        wave = solution.between(resistor.other(near), far) if resistor is not None else None
        if ohm and wave is not None:
            return figure(max(wave.rms - BURNS_V, 0.0) / ohm, "A")
    return None


def _ahead(circuit: Circuit, lamp: Branch, net: str) -> Branch | None:
    """The resistor that alone leads on from one end of a lamp."""
    others = [b for b in circuit.at(net) if b is not lamp]
    only = others[0] if len(others) == 1 and not circuit.electrodes_at(net) else None
    return only if only is not None and only.kind is PartKind.RESISTOR else None


def _lamp_remedy(case: Case, lamp: Branch, got: str, share: float) -> str:
    if is_neon(lamp):
        limiter = _limiter(case.circuit, lamp)
        ohm = limiter.ohms if limiter is not None else None
        if limiter is None or not ohm:
            return "Use a larger resistor ahead of it"
        return f"Use {ohms(preferred_above(ohm * share))} for {limiter.name} ({ohms(ohm)} now)"
    beside = (b for n in (lamp.a, lamp.b) for b in case.circuit.at(n))
    through = case.warm.current(lamp.name)
    if through is not None and any(b.kind is PartKind.HEATER for b in beside):
        return _in_a_string(lamp, through.rms)
    return f"Use a lamp for {got}, another winding, or a resistor in series"


def _in_a_string(lamp: Branch, amps: float) -> str:
    """A lamp in a heater string takes the heaters' current, or a resistor beside it does."""
    part = lamp.part
    made = si(part.voltage, "volt") if part is not None else None
    own = si(part.current, "ampere") if part is not None else None
    string = f"Use a lamp for the current of the heaters it is in series with ({amperes(amps)} now)"
    if not made or not own or amps <= own:
        return f"{string}, or a resistor across it"
    return f"{string}, or put {ohms(preferred_below(made / (amps - own)))} across it"


@rule(
    "supply.neon-unlimited",
    title="Neon without its resistor",
    level="notice",
    states="the drawing alone",
    needs="a lamp with the word neon, or the letters NE",
    criterion=(
        f"At neither end of the neon a resistor of {ohms(LEAST_OHM.value)} or more is all that "
        f"leads on. A neon marked {volts(BUILT_IN.value)} or more is taken to have it inside."
    ),
    why=(
        "A glow discharge holds its voltage whatever the current. Without a resistor the neon "
        "takes all the supply gives, and the glass bursts."
    ),
    source=PRACTICE,
    limits="Neons in chains count through one another. Whether the resistor stands the voltage is "
    "the resistors' rules'.",
    thresholds=(LEAST_OHM, BUILT_IN),
)
def neon_unlimited(case: Case) -> Iterator[Outcome]:
    """Look for the resistor at both ends of every neon."""
    for lamp in case.circuit.branches.values():
        if lamp.kind is not PartKind.LAMP or not is_neon(lamp) or lamp.part is None:
            continue
        inside = (si(lamp.part.voltage, "volt") or 0.0) >= BUILT_IN.value
        if inside or any(_limits(case.circuit, lamp, n) for n in (lamp.a, lamp.b)):
            continue
        yield neon_unlimited.finding(
            case,
            (lamp.name,),
            f"nothing limits the current of {lamp.name}: no resistor of {ohms(LEAST_OHM.value)} or "
            "more leads on from either end",
            _neon_remedy(case, lamp),
            evidence={"burns_at": figure(BURNS_V, "V")},
            limit=LEAST_OHM.figure,
            certainty="certain",
        )


def _limits(circuit: Circuit, lamp: Branch, net: str, seen: frozenset[str] = frozenset()) -> bool:
    """Whether all that leads on from an end is such a resistor, or a neon that has one behind."""
    others = [b for b in circuit.at(net) if b is not lamp]
    if len(others) != 1 or circuit.electrodes_at(net) or net in seen:
        return False
    (only,) = others
    if only.kind is PartKind.LAMP and is_neon(only):
        return _limits(circuit, only, only.other(net), seen | {net})
    return only.kind is PartKind.RESISTOR and (only.ohms or LEAST_OHM.value) >= LEAST_OHM.value


def _neon_remedy(case: Case, lamp: Branch) -> str:
    warm = case.solutions.get("warm")
    wave = warm.between(lamp.a, lamp.b) if warm is not None and warm.converged else None
    if wave is None or wave.rms <= BURNS_V:
        return "Put a resistor in series with it: 100 to 220 kohm on the mains, more above"
    value = preferred_above((wave.rms - BURNS_V) / USUAL_A)
    burnt = watts((wave.rms - BURNS_V) ** 2 / value)
    return f"Put {ohms(value)} in series with it ({burnt}), for {amperes(USUAL_A)}"


@rule(
    "supply.neon-dark",
    title="Neon that never lights",
    level="notice",
    states="every solved state",
    needs="a neon without figures and a solved state",
    criterion=(
        f"It is lit in no state: the highest instant across it stays below {volts(STRIKES.value)}, "
        f"but is {volts(FED.value)} or more in one, so that it is fed."
    ),
    why=(
        "A glow discharge needs 60 to 90 V to strike and 50 to 60 V to go on; a heater winding or "
        "a divider of less never lights it."
    ),
    source=PRACTICE,
    limits="A neon on an electrode of a tube (a guard against what comes before the tube is warm) "
    "and one that a capacitor brings a signal are not looked at.",
    thresholds=(STRIKES, FED),
)
def neon_dark(case: Case) -> Iterator[Outcome]:
    """Look for neons whose supply is too low."""
    for lamp in (b for b in case.circuit.branches.values() if b.glows and not _steered(case, b)):
        if any(_burns(lamp, solution) for solution in case.solved()):
            continue
        use = most(case, (), partial(_peak, lamp))
        if use is not None and FED.value <= use.figure.value < STRIKES.value:
            yield neon_dark.finding(
                case,
                (lamp.name,),
                f"{lamp.name} stays dark: {volts(use.figure.value)} at most across it, and a neon "
                f"strikes at {volts(STRIKES.value)} to {volts(STRIKES_V[1])}",
                "Feed it from more, or use a filament lamp of these volts",
                state=use.state,
                evidence={"across": use.figure},
                limit=STRIKES.figure,
                certainty="certain",
            )


def _burns(lamp: Branch, solution: Solution) -> bool:
    """Whether it is lit, or may be: a state in which that is open has no current of it."""
    through = solution.current(lamp.name)
    return through is None or through.peak > 0


def _peak(lamp: Branch, solution: Solution) -> Figure | None:
    wave = solution.between(lamp.a, lamp.b)
    return None if wave is None else figure(max(abs(wave.low), abs(wave.high)), "V")


def _steered(case: Case, lamp: Branch) -> bool:
    """Whether it is on a tube, or a signal may come to it through a capacitor."""
    ends = [n for n in (lamp.a, lamp.b) if n != GROUND]
    beside = (b for n in ends for b in case.circuit.at(n))
    on_tube = any(case.circuit.electrodes_at(n) for n in ends)
    return on_tube or any(b.kind is PartKind.CAPACITOR and b.plus is None for b in beside)


RULES: tuple[Rule, ...] = (lamp_over_rating, neon_unlimited, neon_dark)
