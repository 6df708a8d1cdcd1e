"""Amplifying sections that are fed and wired and yet draw no current: biased beyond cut-off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.class_c import RF_COIL_H, for_radio
from coldcheck.anatomy.neighbourhood import net_text, reading
from coldcheck.anatomy.squelch import gated
from coldcheck.anatomy.switching import switches
from coldcheck.anatomy.tail import feet_off_the_line, leaks_past_a_tail
from coldcheck.anatomy.working import working
from coldcheck.drawing.wording import amperes, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.tubes.laws import law_for
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import TubeReading
    from coldcheck.solve.tubes.laws import Law

FED_V = Threshold("voltage of a plate that is fed", 20.0, "V", PRACTICE)
"""From here on a plate is fed; with less, another rule looks for what is missing."""

SHARE = Threshold("plate current at rest, as a share of that at zero bias", 0.002, "", PRACTICE)
"""Class B and C stages, and muted ones, aside, no stage rests at so small a share."""

OPEN_SHARE = 0.02
"""What is called the beginning of conduction in the remedy."""

STEPS = 400


@rule(
    "tube.cut-off",
    title="Tube biased beyond cut-off",
    level="notice",
    states="warm",
    needs="a solved warm state, a fitted type, and a section whose plate is fed",
    criterion=f"A section at work has at least {FED_V.value:.0f} V from plate to cathode, and its "
    "bias "
    f"leaves less than {SHARE.value:.1%} of the plate current it would draw at zero bias with the "
    "same "
    "plate and screen voltages.".replace("%", " %"),
    why="A tube without plate current neither amplifies nor drops anything in its load: its plate "
    "sits at the supply, and so does what is coupled to it. The usual causes are a grid that is "
    "held far below the cathode, a cathode that something else pulls up, or a bias resistor a "
    "decade or two too large.",
    source=Citation("fitted-law", "see the sheet of the type for how far off it is"),
    limits="Stages that are meant to be cut off at rest (class B and C, muting, a keyed stage) "
    "look the same: accept the finding with that reason. Triggers, tubes that work a relay, and "
    "stages that a squelch tube takes down are left alone. A stage whose plate is fed through "
    f"coils of {1e3 * RF_COIL_H.value:g} mH at most is taken for one of class C, whose drive is "
    "not drawn. Bias that a signal makes is not worked out.",
    thresholds=(FED_V, RF_COIL_H, SHARE),
)
def cut_off(case: Case) -> Iterator[Outcome]:
    """Look at every amplifying section at work."""
    if unsolved_reason(case) is not None:
        return
    off = gated(case.circuit)  # without a station they are to be
    for _, section in working(case.circuit):
        found, law = reading(case.warm, section), law_for(section.type)
        if found is None or law is None or (found.plate_v or 0.0) < FED_V.value:
            continue
        grids, amps = _characteristic(law, found)
        cut = amps[0] < SHARE.value * amps[-1] and found.plate_ma / 1e3 < SHARE.value * amps[-1]
        meant = section.name in off or switches(case.circuit, section)
        if cut and not (meant or for_radio(case.circuit, section)):
            opens = float(grids[np.argmax(amps >= OPEN_SHARE * amps[-1])])
            yield _cut(case, section, found, amps[-1], opens)


def _characteristic(law: Law, found: TubeReading) -> tuple[np.ndarray, np.ndarray]:
    """Grid voltages from the bias up to zero, and the plate currents there; shape (STEPS,)."""
    grids = np.linspace(min(found.grid_v or 0.0, 0.0), 0.0, STEPS)
    held = {"plate": found.plate_v, "screen": found.screen_v}
    rows = [np.full(STEPS, held.get(e) or 0.0) if e != "grid" else grids for e in law.electrodes]
    return grids, law.currents(np.stack(rows))[0][0]


def _cut(
    case: Case, section: Section, found: TubeReading, zero_bias: float, opens: float
) -> Finding:
    grid, cathode = section.electrodes["grid"], section.cathode_nets[0]
    here, there = net_text(case.circuit, grid), net_text(case.circuit, cathode)
    bias, at_cathode = found.grid_v or 0.0, found.cathode_v or 0.0
    past = next(leaks_past_a_tail(case.circuit, section), None)
    foot = None if past else next(feet_off_the_line(case.circuit, section), None)
    moved = past or foot
    return cut_off.finding(
        case,
        (section.name, *((moved[0].name,) if moved else ())),
        f"{section.name} is cut off: its grid is at {volts(bias)} to its cathode and it draws "
        f"{_little(found.plate_ma / 1e3)}; at zero bias it would draw {amperes(zero_bias)}"
        + (
            f". {foot[0].name} holds its cathode at gnd, and {foot[1]} its grid far below"
            if foot
            else ""
        ),
        f"Take {past[0].name} from gnd to {past[1]}: the tail lifts the cathode, not this grid"
        if past
        else f"Take {foot[0].name} from gnd to {foot[1]}, which its grid is biased from"
        if foot
        else f"It begins to conduct at {volts(opens)}: look at what holds the grid {here} at "
        f"{volts(at_cathode + bias)} and the cathode {there} at {volts(at_cathode)}",
        state="warm",
        evidence={
            "grid": figure(bias, "V"),
            "plate": figure(found.plate_v or 0.0, "V"),
            "plate_current": figure(found.plate_ma / 1e3, "A"),
            "zero_bias": figure(zero_bias, "A"),
            "conducts_at": figure(opens, "V"),
        },
        certainty="likely",
    )


def _little(amps: float) -> str:
    """No picoamperes: the law is not good for them."""
    return "less than 1 uA" if amps < 1e-6 else amperes(amps)


RULES: tuple[Rule, ...] = (cut_off,)
