"""Gas regulators that do not get enough voltage to start."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.ranges import UNKNOWN, certainty
from coldcheck.judge.rule import rule
from coldcheck.rules.supply import regulator
from coldcheck.rules.supply.current import RUNNING
from coldcheck.rules.supply.regulator import (
    ballast,
    is_dark,
    regulators,
    series_resistor,
    stack_of,
    with_ohms,
)
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Section, Tube
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.solution import Solution
    from coldcheck.sources.register import Cited


REVERSED_V = 10.0
"""A plate so far below its cathode is no regulator's that only its supply leaves dark."""


@rule(
    "supply.regulator-dark",
    title="Gas regulator that does not start",
    level="notice",
    blame=Blame.VALUE,
    states="warm, high line and low line",
    needs="a solved state and the regulator's starting voltage on file",
    criterion=(
        "The voltage across the dark tube stays below its starting voltage (155 V for a tube of "
        "150 V). Between that and the supply its makers ask for to be sure of it (185 V) there is "
        "an advice."
    ),
    why=(
        "A gas tube has to be struck with more voltage than it then holds. A supply, load and "
        "series resistor that just suit the glow never light it, and then nothing is regulated: "
        "its load gets whatever the divider gives."
    ),
    source=Citation("type-sheet"),
    limits=(
        "Tubes strike less easily in the dark and with age. What a lit tube would see if it went "
        "out is reckoned with a load that draws the same current then; for tubes in series, and "
        "with more than one resistor at the plate, only a tube that is dark is found."
    ),
    thresholds=(UNKNOWN, regulator.DARK_A),
)
def regulator_dark(case: Case) -> Iterator[Outcome]:
    """Compare the voltage before striking with what it takes."""
    for tube, section in regulators(case.circuit):
        for solution in case.solved(*RUNNING):
            reading = solution.readings.get(section.name)
            if reading is None or reading.plate_v is None:
                continue
            if is_dark(reading):
                yield from _dark(case, tube, section, solution, reading.plate_v)
            else:
                open_v = _if_it_went_out(case, section, solution, reading.plate_v)
                yield from _barely(case, tube, solution, open_v)


def _dark(
    case: Case, tube: Tube, section: Section, solution: Solution, across: float
) -> Iterator[Outcome]:
    if across < -REVERSED_V:
        yield _turned(case, tube, section, solution, across)
        return
    stack = stack_of(case.circuit, section)
    readings = {s.tube: solution.readings.get(s.name) for _, s in regulators(case.circuit)}
    dark = tuple(n for n in stack if (r := readings.get(n)) is not None and is_dark(r))
    if dark[:1] != (tube.name,) or _fed_by_turned(case, section, solution):
        return  # said once, for the uppermost dark one, or for the one that keeps it dark
    limit = tube.type.rating("starting-voltage")
    if limit is None:
        text = f"no starting voltage of {tube.type.name} is on file"
        yield regulator_dark.not_judged((tube.name,), text)
        return
    others = f" (so do {listed(dark[1:])})" if len(dark) > 1 else ""
    own = series_resistor(solution, section)
    yield _finding(
        case,
        (*dark, *(b.name for b in own)),
        solution,
        f"{tube.name} stays dark{others}: {volts(across)} across it{with_ohms('behind', own)}, "
        f"and type {tube.type.name} starts at {volts(limit.value)}",
        across,
        limit.value,
        limit.cited,
        "notice",
    )


def _fed_by_turned(case: Case, section: Section, solution: Solution) -> bool:
    """Whether the plate hangs on that of a regulator which is the wrong way round."""
    plate = section.electrodes[section.plates[0]]
    others = [s for _, s in regulators(case.circuit) if s.electrodes[s.plates[0]] == plate]
    found = [solution.readings.get(s.name) for s in others if s.name != section.name]
    return any(r is not None and (r.plate_v or 0.0) < -REVERSED_V for r in found)


def _turned(case: Case, tube: Tube, section: Section, solution: Solution, across: float) -> Finding:
    leads = f"{tube.name}.{section.plates[0]}", f"{tube.name}.cathode"
    return regulator_dark.finding(
        case,
        (tube.name, *leads),
        f"{tube.name} is the wrong way round and stays dark: its plate is {volts(-across)} below "
        "its cathode",
        f"Exchange {leads[0]} and {leads[1]}: a gas regulator glows with its plate positive",
        state=solution.state.name,
        evidence={"voltage": figure(across, "V")},
        certainty="certain",
        excess=-across,
    )


def _if_it_went_out(
    case: Case, section: Section, solution: Solution, across: float
) -> float | None:
    """The voltage a lit tube would see dark: its current no longer drops in the resistor."""
    plate = section.electrodes[section.plates[0]]
    feeding = ballast(case.circuit, plate)
    reading = solution.readings.get(section.name)
    ohms = None if feeding is None else feeding.ohms
    if reading is None or ohms is None or len(stack_of(case.circuit, section)) > 1:
        return None
    return across + reading.plate_ma / 1000 * ohms


def _barely(case: Case, tube: Tube, solution: Solution, open_v: float | None) -> Iterator[Outcome]:
    limit = tube.type.rating("starting-supply")
    if limit is None or open_v is None or open_v >= limit.value:
        return
    yield _finding(
        case,
        (tube.name,),
        solution,
        f"{tube.name} has {volts(open_v)} to start on; to be sure type {tube.type.name} wants "
        f"{volts(limit.value)}",
        open_v,
        limit.value,
        limit.cited,
        "advice",
    )


def _finding(
    case: Case,
    at: tuple[str, ...],
    solution: Solution,
    message: str,
    found: float,
    limit: float,
    source: Cited,
    level: str,
) -> Finding:
    wanted = case.circuit.tubes[at[0]].type.rating("starting-supply")
    goal = volts(wanted.value) if wanted else "its starting voltage"
    excess = limit / max(found, 1.0)
    return regulator_dark.finding(
        case,
        at,
        message,
        f"Give it {goal} or more before it lights: a higher supply, a smaller series resistor or "
        "less load",
        state=solution.state.name,
        level=level,
        evidence={"voltage": figure(found, "V")},
        limit=figure(limit, "V"),
        certainty=certainty(excess),
        source=source,
        excess=excess,
    )


RULES = (regulator_dark,)
