"""The tables of a text report: supply rails, tubes, rectifiers, and how the states were solved."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.report.shared.lines import columns, entries, paragraph, say, show
from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import Console
    from rich.table import Table

    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.circuit.tubes import TubeType
    from coldcheck.solve.solution import Solution, TubeReading
    from coldcheck.verdict.review import Review

RAIL_VOLTS = 20.0
"""A named point is taken for a supply rail from this much DC on, in volts."""

RAILS_TITLE = "Supply rails, volts to gnd"
RAILS_COLD_TITLE = "; cold is just after switch-on, tubes not yet drawing"
RAILS_SPREAD = "+/- is the usual spread of parts, tubes and the mains together; not a bound"
RAILS = ("DC", "+/-", "AC rms", "lowest", "highest")
RAILS_COLD = ("cold DC", "highest")
TUBES_TITLE = "Tubes, warm; plate and grid to cathode, heater-k at its worst instant"
RECTIFIERS_TITLE = "Rectifiers, warm; inverse is the largest reverse voltage"
TUBES = ("", "type", "plate V", "mA", "grid V", "cathode V", "plate W", "of max", "heater-k V")
RECTIFIERS = ("", "type", "mA", "peak mA", "inverse V", "drop W", "heater-k V")

_NONE = "–"


def solved(review: Review, name: str) -> Solution | None:
    """The solution of a state, if there is one with numbers."""
    solution = review.solutions.get(name)
    return solution if solution is not None and solution.converged else None


def rails(review: Review) -> list[str]:
    """Points that feed the circuit: named by the designer, well off gnd, and smoothed or fed.

    A plate's or a cathode's own point is no rail unless a large capacitor or a source holds it.
    """
    circuit = review.circuit
    states = [s for s in (solved(review, "warm"), solved(review, "cold")) if s is not None]
    if circuit is None or not states:
        return []
    found = []
    for net in circuit.names:
        name = _invented(circuit, net)
        dc = [abs(w.dc) for s in states if (w := s.waves.get(net)) is not None]
        if name and dc and max(dc) >= RAIL_VOLTS and _feeds(circuit, net):
            found.append(name)
    return sorted(found, key=circuit.span)


def _invented(circuit: Circuit, net: str) -> str | None:
    """The first name on a net that the designer made up, if any.

    What a sheet calls a point of the drawing that uses it is not looked at.
    """
    names = circuit.names[net]
    if net in LANDMARKS or any(n in LANDMARKS for n in names):
        return None
    own = [n for n in names if "/" not in n] or names
    plain = (n for n in own if "." not in n and ":" not in n)
    return next(plain, None)


def _feeds(circuit: Circuit, net: str) -> bool:
    branches = circuit.at(net)
    held = any(b.kind is PartKind.SOURCE or b.plus is not None for b in branches)
    electrodes = {e for s, e in circuit.electrodes_at(net) if s.kind is not SectionKind.RECTIFIER}
    return held or not electrodes & {"plate", "cathode", "grid"}


def print_rails(console: Console, review: Review) -> None:
    """Print the table of supply rails; nothing where there are none."""
    names = rails(review)
    warm, cold = solved(review, "warm"), solved(review, "cold")
    if not names:
        return
    headings = RAILS if cold is None else RAILS + RAILS_COLD
    table = columns("", *headings)
    for name in names:
        cells = (*_five(warm, name), *_two(cold, name))
        table.add_row(Text(clean(name)), *cells[: len(headings)])
    say(console)
    say(console, RAILS_TITLE + (RAILS_COLD_TITLE if cold is not None else ""), "bold")
    show(console, table)
    paragraph(console, RAILS_SPREAD, 2)


def _five(solution: Solution | None, name: str) -> tuple[str, ...]:
    wave = solution.wave(name) if solution is not None else None
    if solution is None or wave is None:
        return (_NONE,) * 5
    spread = solution.spread()
    off = _NONE if spread is None else volts(spread.volts(solution.circuit.points[name]))
    return volts(wave.dc), off, volts(wave.ac_rms), volts(wave.low), volts(wave.high)


def _two(solution: Solution | None, name: str) -> tuple[str, str]:
    wave = solution.wave(name) if solution is not None else None
    return (_NONE, _NONE) if wave is None else (volts(wave.dc), volts(wave.high))


def print_tubes(console: Console, review: Review) -> None:
    """Print what each tube section does when warm; rectifiers apart."""
    warm = solved(review, "warm")
    if review.circuit is None or warm is None:
        return
    amplifying, rectifying = columns(*TUBES, left=2), columns(*RECTIFIERS, left=2)
    for section, reading in _readings(review.circuit, warm):
        kind = review.circuit.tubes[section.tube].type
        rectifier = section.kind is SectionKind.RECTIFIER
        row = _rectifier_row(reading) if rectifier else _tube_row(kind, reading)
        table = rectifying if rectifier else amplifying
        table.add_row(Text(clean(section.name)), Text(clean(kind.name)), *row)
    _titled(console, TUBES_TITLE, amplifying)
    _titled(console, RECTIFIERS_TITLE, rectifying)


def _titled(console: Console, title: str, table: Table) -> None:
    if table.row_count:
        say(console)
        say(console, title, "bold")
        show(console, table)


def _readings(circuit: Circuit, warm: Solution) -> Iterator[tuple[Section, TubeReading]]:
    for section in circuit.sections():
        if section.name in warm.readings:
            yield section, warm.readings[section.name]


def _tube_row(kind: TubeType, reading: TubeReading) -> tuple[str, ...]:
    limit = kind.ratings.get("plate-dissipation")
    share = f"{100 * reading.plate_w / limit.value:.0f} %" if limit and limit.value else _NONE
    return (
        volts(reading.plate_v),
        f"{reading.plate_ma:.3g}",
        volts(reading.grid_v),
        volts(reading.cathode_v),
        f"{reading.plate_w:.2f}",
        share,
        heater_cathode(reading),
    )


def _rectifier_row(reading: TubeReading) -> tuple[str, ...]:
    return (
        f"{reading.plate_ma:.3g}",
        f"{reading.peak_plate_ma:.3g}",
        volts(reading.inverse_v),
        f"{reading.plate_w:.2f}",
        heater_cathode(reading),
    )


def heater_cathode(reading: TubeReading) -> str:
    """The worst instant between heater and cathode with the sign of the heater, in volts."""
    low, high = reading.heater_cathode_low, reading.heater_cathode_high
    if low is None or high is None:
        return _NONE
    worst = low if -low > high else high
    return f"{worst:+.0f}" if abs(worst) >= 0.5 else "0"


def print_states(console: Console, review: Review) -> None:
    """Say which states were solved, how well, and which were not and why."""
    if not review.solutions:
        return
    say(console)
    say(console, "States", "bold")
    entries(console, _state_lines(review), 2, 12)


def _state_lines(review: Review) -> Iterator[tuple[str, str]]:
    good = [(n, s) for n, s in review.solutions.items() if s.converged]
    if good:
        worst = max(s.residual_a for _, s in good)
        yield "solved", ", ".join(clean(n) for n, _ in good)
        yield "", f"currents balance at every point within {engineering(max(worst, 1e-12), 'A', 2)}"
    for name, solution in review.solutions.items():
        if not solution.converged:
            yield "not solved", f"{clean(name)}: {clean(solution.reason) or 'no reason given'}"
