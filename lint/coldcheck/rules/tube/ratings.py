"""The ratings of the data sheet against the solved states."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.bias_network import bias_makers
from coldcheck.anatomy.case import Case, unsolved_reason
from coldcheck.anatomy.grid_kinds import bias_kind, is_power_tube
from coldcheck.anatomy.neighbourhood import AMPLIFYING, drawn, reading, resistors_at
from coldcheck.anatomy.published import published_resistor
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, ohms, volts, watts
from coldcheck.judge.ranges import UNKNOWN
from coldcheck.judge.rule import Rule, rule
from coldcheck.rules.tube import rating_checks
from coldcheck.rules.tube.rating_checks import Check, Excess, findings, in_force, judge, threshold
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from coldcheck.circuit.model import Section, Tube
    from coldcheck.circuit.tubes import Sourced
    from coldcheck.judge.finding import Outcome
    from coldcheck.solve.solution import TubeReading

ENOUGH = 0.7
"""Share of the published cathode resistor from which another is no reason for what is drawn."""

STATES = "nominal, standby and (for absolute and design-maximum ratings) high line; a pulled tube"
SYSTEMS = (
    "a design-centre rating allows for the usual spread of the mains and is compared at nominal "
    "mains, the others at high line too; watts and amperes of a stage that oscillates are an "
    "advice, since it is solved at rest"
)


def _cathode_ma(found: TubeReading) -> float:
    return found.plate_ma + found.screen_ma


def _biased_by(case: Case, section: Section) -> tuple[str, tuple[str, ...]]:
    """What makes the bias of an output tube: its cathode resistor, or the parts of a bias line."""
    tube = case.circuit.tubes[section.tube]
    if section.net("grid") is None or not is_power_tube(tube, section):
        return "", ()
    if bias_kind(case.circuit, section) == "fixed":
        bias, parts = bias_makers(case.circuit, section, case.warm)
        words = f"; its bias, {volts(bias)}, is set by {listed(parts)}" if parts and bias else ""
        return words, tuple(parts) if words else ()
    sheet = published_resistor(tube, section)
    own = [b for n in section.cathode_nets if n not in LANDMARKS
           for b in resistors_at(case.circuit, n)]  # fmt: skip
    value = si(own[0].value, "ohm") if len(own) == 1 else None
    if value is None:
        return "", ()
    if sheet is None:
        return f"; {own[0].name}, {ohms(value)}, makes the bias", (own[0].name,)
    if value > ENOUGH * sheet:
        return "", ()
    words = f"; {own[0].name} is {ohms(value)}, the sheet has {ohms(sheet)} for one tube"
    return words, (own[0].name,)


def _less_current(found: TubeReading, limit: float) -> str:
    most = limit / found.plate_v if found.plate_v else 0.0
    return (
        f"Bring the plate current down to {amperes(0.9 * most)} (now "
        f"{amperes(found.plate_ma / 1e3)}) with more bias, or lower the plate voltage"
    )


def _less_screen(found: TubeReading, limit: float) -> str:
    current = found.screen_ma / 1e3
    if not found.screen_v or current <= 0:
        return "Lower the screen voltage"
    most = limit / current
    return (
        f"At {amperes(current)} the screen may have {volts(most)}: drop the rest in "
        f"{ohms((found.screen_v - most) / current)} ahead of it, or use more bias"
    )


def _lower(what: str) -> Callable[[TubeReading, float], str]:
    def say(found: TubeReading, limit: float) -> str:
        number = found.plate_v if what == "plate" else found.screen_v
        over = (number or 0.0) - limit
        return f"Lower the supply of the {what} by {volts(over)} or more, or use a hardier type"

    return say


PLATE_POWER = Check(
    "plate-dissipation",
    "plate dissipation",
    "W",
    lambda r: None if r.plate_v is None else r.plate_w,
    lambda r: f" ({volts(r.plate_v or 0)} at {amperes(r.plate_ma / 1e3)})",
    _less_current,
    makers=_biased_by,
)
SCREEN_POWER = Check(
    "screen-dissipation",
    "screen dissipation",
    "W",
    lambda r: None if r.screen_v is None else r.screen_w,
    lambda r: f" ({volts(r.screen_v or 0)} at {amperes(r.screen_ma / 1e3)})",
    _less_screen,
    "screen",
)
PLATE_VOLTS = Check(
    "plate-voltage",
    "plate to cathode",
    "V",
    lambda r: r.plate_v,
    lambda _: "",
    _lower("plate"),
)
SCREEN_VOLTS = Check(
    "screen-voltage",
    "screen to cathode",
    "V",
    lambda r: r.screen_v if r.conducts else None,
    lambda _: "",
    _lower("screen"),
    "screen",
)
CATHODE_CURRENT = Check(
    "cathode-current",
    "cathode current",
    "A",
    lambda r: None if r.plate_v is None else _cathode_ma(r) / 1e3,
    lambda _: "",
    lambda _, limit: f"Use more bias: keep the cathode below {amperes(0.9 * limit)}",
)


@rule(
    "tube.plate-dissipation",
    title="Plate dissipation over its rating",
    level="notice",
    states=STATES,
    needs="a solved state and the rating of the type",
    criterion=f"Mean plate power above the rating by more than 5 % (advice up to that); {SYSTEMS}.",
    why="What the plate cannot radiate makes it glow: the tube gasses and dies early. An output "
    "tube that runs away takes the transformer with it.",
    source=Citation("type-sheet"),
    limits=(
        "Dissipation at rest, without signal: class AB stages may be worst at some part of "
        "full drive. Tubes of one type spread by tens of percent; the range is in the "
        "certainty."
    ),
    thresholds=(UNKNOWN, rating_checks.CLEARLY, rating_checks.DOUBT),
)
def plate_dissipation(case: Case) -> Iterator[Outcome]:
    """Each section on its own."""
    yield from judge(plate_dissipation, case, PLATE_POWER)


@rule(
    "tube.plate-dissipation-both",
    title="Dissipation of both plates together over its rating",
    level="notice",
    states=STATES,
    needs="a solved state and a rating for both plates together",
    criterion=f"The plates' mean powers together above the rating by more than 5 %; {SYSTEMS}.",
    why="The two systems of a double tube share one bulb. Each plate may be within its own rating "
    "and both together too hot.",
    source=Citation("type-sheet"),
    limits=(
        "Dissipation at rest of both sections together, without signal; the sections are "
        "taken as alike in all but what the drawing shows."
    ),
    thresholds=(UNKNOWN, rating_checks.CLEARLY, rating_checks.DOUBT),
)
def plate_dissipation_both(case: Case) -> Iterator[Outcome]:
    """Only for types whose sheet gives such a rating."""
    for tube in case.circuit.tubes.values():
        limit = tube.type.rating("plate-dissipation-both")
        used = [s for s in tube.sections if s.kind in AMPLIFYING and drawn(case.circuit, s)]
        if limit is None or len(used) < 2:
            continue
        reason = unsolved_reason(case)
        if reason is not None:
            yield plate_dissipation_both.not_judged((tube.name,), reason)
        else:
            yield from _both(case, tube, used, limit)


def _both(case: Case, tube: Tube, used: list[Section], limit: Sourced) -> Iterator[Outcome]:
    found = []
    for solution in case.solved():
        readings = [reading(solution, s) for s in used]
        powers = [r.plate_w for r in readings if r is not None and r.plate_v is not None]
        first = readings[0]
        if len(powers) < len(used) or first is None or not in_force(tube, solution):
            continue
        if sum(powers) > limit.value * threshold(solution):
            found.append(Excess(tube.name, solution, sum(powers), limit, first))
    yield from findings(plate_dissipation_both, case, BOTH, found)


BOTH = Check(
    "plate-dissipation-both",
    "plate dissipation of both systems",
    "W",
    lambda r: r.plate_w,
    lambda _: "",
    lambda _, limit: (
        f"Bring the plate currents down until both together stay below {watts(0.9 * limit)}"
    ),
)


@rule(
    "tube.screen-dissipation",
    title="Screen dissipation over its rating",
    level="notice",
    states=STATES,
    needs="a solved state and the rating of the type",
    criterion="Mean screen power above the rating by more than 5 % (advice up to that); "
    f"{SYSTEMS}.",
    why="A screen is thin wire. Overloaded it glows, sags against the grid and shorts.",
    source=Citation("type-sheet"),
    limits=(
        "At rest, without signal. A screen takes far more at full drive: see signal.screen-"
        "overload. Screen currents of the laws are the least certain figures (12 % median at "
        "points left out of the fit)."
    ),
    thresholds=(UNKNOWN, rating_checks.CLEARLY, rating_checks.DOUBT),
)
def screen_dissipation(case: Case) -> Iterator[Outcome]:
    """At idle; the signal adds to it."""
    yield from judge(screen_dissipation, case, SCREEN_POWER)


@rule(
    "tube.plate-voltage",
    title="Plate voltage over its rating",
    level="notice",
    states=STATES,
    needs="a solved state and the rating of the type",
    criterion="DC from plate to cathode above the rating by more than 5 %, of a design-centre "
    f"rating 10 % (advice up to that); {SYSTEMS}.",
    why="Above its rated voltage a tube may flash over inside or at the socket, and gas current "
    "grows.",
    source=Citation("type-sheet"),
    limits=(
        "DC against the rating; the swing of a signal across a transformer, which doubles it, "
        "is not added here. Cold ratings are used where the sheet gives them."
    ),
    thresholds=(UNKNOWN, rating_checks.CLEARLY, rating_checks.DOUBT, rating_checks.CENTRED),
)
def plate_voltage(case: Case) -> Iterator[Outcome]:
    """Plate against cathode, as data sheets count it."""
    yield from judge(plate_voltage, case, PLATE_VOLTS)


@rule(
    "tube.screen-voltage",
    title="Screen voltage over its rating",
    level="notice",
    states=STATES,
    needs="a solved state and the rating of the type",
    criterion="DC from screen to cathode above the rating by more than 5 %, of a design-centre "
    f"rating 10 % (advice up to that); {SYSTEMS}.",
    why="The screen sets the current of a pentode: too much voltage overloads screen and plate "
    "alike.",
    source=Citation("type-sheet"),
    limits=(
        "DC against the rating, at rest. Where the sheet gives a screen limit that depends on "
        "the plate's, only the absolute figure is used. A tube that a key or its bias keeps from "
        "conducting is not looked at: sheets allow more then."
    ),
    thresholds=(UNKNOWN, rating_checks.CLEARLY, rating_checks.DOUBT, rating_checks.CENTRED),
)
def screen_voltage(case: Case) -> Iterator[Outcome]:
    """Screen against cathode, as data sheets count it."""
    yield from judge(screen_voltage, case, SCREEN_VOLTS)


@rule(
    "tube.cathode-current",
    title="Cathode current over its rating",
    level="notice",
    states=STATES,
    needs="a solved state and the rating of the type",
    criterion="Mean cathode current above the rating by more than 5 % (advice up to that); "
    f"{SYSTEMS}.",
    why="A cathode that must give more than it is made for wears out in months.",
    source=Citation("type-sheet"),
    limits=(
        "The mean at rest; peaks of signal current are not judged. Types without a rating on "
        "file are named as not judged."
    ),
    thresholds=(UNKNOWN, rating_checks.CLEARLY, rating_checks.DOUBT),
)
def cathode_current(case: Case) -> Iterator[Outcome]:
    """Plate and screen current together."""
    yield from judge(cathode_current, case, CATHODE_CURRENT)


RULES: tuple[Rule, ...] = (
    plate_dissipation,
    plate_dissipation_both,
    screen_dissipation,
    plate_voltage,
    screen_voltage,
    cathode_current,
)
