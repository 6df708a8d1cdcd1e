"""Pots, thermistors and photocells against what is written on them."""

from __future__ import annotations

from functools import partial
from math import sqrt
from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import PotLine
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, watts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.judge.use import most, over
from coldcheck.solve.solution import HIGH, STANDBY, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

STATES = (WARM, HIGH, STANDBY)
AT_THE_END = 0.01
"""With less than this share of the track in the way the wiper stands on the end's metal."""

FULL = Threshold("share of what is written that the part may have", 1.0, "", PRACTICE)


@rule(
    "resistor.control-overload",
    title="Pot with more current than its track stands",
    level="notice",
    states="warm, high line and standby; the pot as it is set",
    needs="the watts and ohms written on the pot, and a solved state",
    criterion="The rms current in either part of the track is more than the square root of the "
    "watts over the ohms of the whole track.",
    why="The watts of a pot are for its whole track. With half of it in use half of the watts are "
    "all it stands: what counts is the current, at any setting.",
    source=Citation("arithmetic", "I = sqrt(P / R)"),
    limits="Only the setting of the drawing is looked at: another one may ask for more.",
    thresholds=(FULL,),
)
def control_overload(case: Case) -> Iterator[Outcome]:
    """Compare the current in each track with what it stands."""
    reason = unsolved(case)
    for line in (s for s in case.circuit.drawing.statements if isinstance(s, PotLine)):
        power, ohm = si(line.power, "watt"), si(line.value, "ohm")
        if not power or not ohm:
            continue
        if reason is not None:
            yield control_overload.not_judged((line.name,), reason)
            continue
        track = [b for b in case.circuit.branches.values() if b.owner == line.name]
        use, limit = most(case, STATES, partial(track_amps, track)), sqrt(power / ohm)
        if use is not None and use.beyond(FULL.value * limit):
            amps = use.figure.value
            yield over(
                control_overload, case, (line.name,), use, FULL.value * limit,
                (f"the track of {line.name} carries {amperes(amps)}; {watts(power)} is "
                 f"{amperes(limit)} at most",
                 f"Use one of {watts(1.5 * amps**2 * ohm)} or more, or let it carry less"),
            )  # fmt: skip


def track_amps(track: list[Branch], solution: Solution) -> Figure | None:
    """The most that either part of a track carries, rms; what the wiper leaves out carries none."""
    whole = sum(b.ohms or 0.0 for b in track)
    used = [b for b in track if (b.ohms or 0.0) > AT_THE_END * whole]
    found = [a for b in used if (a := _through(b, solution)) is not None]
    return figure(max(found), "A") if found else None


def _through(branch: Branch, solution: Solution) -> float | None:
    carried = solution.current(branch.name)
    return None if carried is None else carried.rms


@rule(
    "resistor.thermistor-overload",
    title="Thermistor beyond what is written on it",
    level="notice",
    states="warm, high line and standby",
    needs="the amperes, watts or volts written on the thermistor, and a solved state",
    criterion="Its rms current, its mean power or the rms voltage across it is more than written.",
    why="A thermistor ahead of a transformer glows at work: beyond its current it cracks, and the "
    "inrush it was put there for comes back.",
    source=Citation("drawing", "the ratings written"),
    limits="It has its hot resistance whatever flows. The first cycles, when the whole mains is "
    "across it, are not solved.",
    thresholds=(FULL,),
)
def thermistor_overload(case: Case) -> Iterator[Outcome]:
    """Compare each thermistor with its ratings."""
    reason = unsolved(case)
    for branch in case.circuit.branches.values():
        limits = _written(branch) if branch.kind is PartKind.THERMISTOR else []
        if limits and reason is not None:
            yield thermistor_overload.not_judged((branch.name,), reason)
            continue
        for limit in limits:
            use = most(case, STATES, partial(_has, branch, limit))
            if use is not None and use.beyond(FULL.value * limit.value):
                yield over(
                    thermistor_overload, case, (branch.name,), use, FULL.value * limit.value,
                    (f"{branch.name} has {use.figure.text(3)}; it is made for {limit.text(3)}",
                     "Use a larger one, or find what draws that much"),
                )  # fmt: skip


def _written(branch: Branch) -> list[Figure]:
    part = branch.part
    if part is None:
        return []
    found = [figure(a, "A")] if (a := si(part.current, "ampere")) else []
    found += [figure(w, "W")] if (w := si(part.power, "watt")) else []
    return found + ([figure(v, "V")] if (v := si(part.voltage, "volt")) else [])


def _has(branch: Branch, limit: Figure, solution: Solution) -> Figure | None:
    across, amps = solution.between(branch.a, branch.b), _through(branch, solution)
    if across is None or amps is None:
        return None
    return {
        "A": figure(amps, "A"), "W": figure(across.rms * amps, "W"), "V": figure(across.rms, "V"),
    }[limit.unit]  # fmt: skip


@rule(
    "resistor.photocell-overload",
    title="Photocell with more heat or volts than it is made for",
    level="notice",
    states="warm, high line and standby; in the dark, and with its lamp lit",
    needs="the watts or volts written on the photocell, and a solved state",
    criterion="Its mean power, or the highest instant of the voltage across it, is more than "
    "written.",
    why="The film of a photocell is a fraction of a watt. Where it is in a circuit with direct "
    "current its lamp makes a resistor of it that burns.",
    source=Citation("drawing", "the ratings written"),
    limits="It is solved in the dark and fully lit; between them the heat may be highest, where "
    "its ohms are those of what feeds it.",
    thresholds=(FULL,),
)
def photocell_overload(case: Case) -> Iterator[Outcome]:
    """Compare each photocell with its ratings."""
    reason = unsolved(case)
    for cell in case.circuit.branches.values():
        limits = _written(cell) if cell.kind is PartKind.PHOTOCELL else []
        if limits and reason is not None:
            yield photocell_overload.not_judged((cell.name,), reason)
            continue
        for limit in limits:
            use = most(case, STATES, partial(_in_cell, cell, limit))
            if use is not None and use.beyond(FULL.value * limit.value):
                yield over(
                    photocell_overload, case, (cell.name,), use, FULL.value * limit.value,
                    (f"{cell.name} has {use.figure.text(3)}; it is made for {limit.text(3)}",
                     f"Put a resistor in series with {cell.name}, or a capacitor where it is to "
                     "steer a signal alone"),
                )  # fmt: skip


def _in_cell(cell: Branch, limit: Figure, solution: Solution) -> Figure | None:
    across, amps = solution.between(cell.a, cell.b), solution.current(cell.name)
    if across is None or amps is None:
        return None
    power = float((across.samples * amps.samples).mean())
    return {"W": figure(power, "W"), "V": figure(across.peak, "V")}[limit.unit]


RULES: tuple[Rule, ...] = (control_overload, thermistor_overload, photocell_overload)
