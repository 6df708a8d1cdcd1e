"""A heater in two halves of which only one is fed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.leads import heater_ends
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.rules.heater.supply import band
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Tube
    from coldcheck.circuit.tubes_types import HeaterWay
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "heater.half-not-wired",
    title="Half of a heater is not wired",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing; warm for the voltage",
    needs="a heater whose halves can be in series or in parallel, wired lead by lead",
    criterion="Of the heater's two ends and its tap one end has nothing on it, and the other end "
    "and the tap are wired.",
    why="The halves have a cathode each. One stays cold, and its section never works; the other "
    "is made for half the volts of the two in series, and on those it burns out.",
    source=Citation("type-sheet", "the ways to wire the heater"),
    limits="Heaters with a tap for a lamp, and those that `heater` puts across a winding, are not "
    "looked at.",
)
def half_not_wired(case: Case) -> Iterator[Outcome]:
    """Look at the ends of each heater with its tap in use."""
    for tube in case.circuit.tubes.values():
        ways = {w.mode: w for w in tube.type.heaters}
        bare = _bare_end(case.circuit, tube) if {"series", "parallel"} <= set(ways) else None
        if bare is not None:
            yield _half(case, tube, bare, (ways["series"], ways["parallel"]))


def _bare_end(circuit: Circuit, tube: Tube) -> int | None:
    """Which of the two halves ends in the air, where the other has both ends wired."""
    halves = tube.heater.branches if tube.heater is not None else ()
    if len(halves) != 2:
        return None
    ends = (halves[0].a, halves[1].b)
    bare = [k for k, net in enumerate(ends) if _alone(circuit, net)]
    taken = not _alone(circuit, halves[0].b, 2)
    return bare[0] if len(bare) == 1 and taken else None


def _alone(circuit: Circuit, net: str, own: int = 1) -> bool:
    """Whether a net has nothing but so many halves of the heater itself."""
    return net not in LANDMARKS and len(circuit.at(net)) <= own


def _half(case: Case, tube: Tube, bare: int, ways: tuple[HeaterWay, HeaterWay]) -> Finding:
    _, parallel = ways
    first, second, tap = (_pin(tube, lead) for lead in heater_ends(tube.type)[:3])
    open_end, fed = (first, second) if bare == 0 else (second, first)
    half = tube.heater.branches[1 - bare] if tube.heater is not None else None
    known = half is not None and unsolved(case) is None
    wave = case.warm.between(half.a, half.b) if half is not None and known else None
    rated = parallel.volts.value
    got = f"{volts(wave.rms)} across it" if wave is not None else "all the voltage"
    return half_not_wired.finding(
        case,
        (tube.name, open_end, tap),
        f"{open_end} of {tube.name} has nothing on it: half of its heater stays cold, and the "
        f"other, from {fed} to the tap {tap}, made for {volts(rated)}, has {got}",
        _remedy((open_end, fed, tap), ways, None if wave is None else wave.rms, band(tube)),
        state="drawing" if wave is None else "warm",
        evidence={"half_rated": figure(rated, "V")}
        | ({"half_rms": figure(wave.rms, "V")} if wave is not None else {}),
        limit=figure(rated, "V"),
        certainty="certain",
        excess=1.0 if wave is None else wave.rms / rated,
    )


def _remedy(
    pins: tuple[str, str, str], ways: tuple[HeaterWay, HeaterWay], rms: float | None, share: float
) -> str:
    """The way that suits the voltage, or both."""
    bare, fed, tap = pins
    series, parallel = ways
    in_series = (
        f"Take what is on {tap} to {bare} and leave {tap} open: {listed((fed, bare))} are the "
        f"ends for {volts(series.volts.value)}"
    )
    beside = (
        f"Join {bare} to {fed}: against {tap} both halves get their {volts(parallel.volts.value)}"
    )
    if rms is not None and abs(rms / series.volts.value - 1) <= share:
        return in_series
    if rms is not None and abs(rms / parallel.volts.value - 1) <= share:
        return beside
    return f"{in_series}; or {beside[:1].lower()}{beside[1:]}"


def _pin(tube: Tube, lead: str) -> str:
    """A heater lead by its pin, where the base is on file."""
    pins = (pin for pin, (_, electrode) in tube.type.pins.items() if electrode == lead)
    pin = next(pins, None)
    return f"{tube.name}.{lead}" if pin is None else f"{tube.name}:{pin}"


RULES: tuple[Rule, ...] = (half_not_wired,)
