"""Oscillators fed back by a divider of capacitors that something lies across."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.jacks import key_at
from coldcheck.anatomy.oscillators import at_grid, by_crystal, fed_back, wound
from coldcheck.anatomy.starting import MOST_LOOPS
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.solve.signal.oscillation import in_phase, seen
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.drawing.units import Quantity
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution

DIVIDES_F = Threshold(
    "largest capacitor of an oscillator's divider", 4.7e-9, "F",
    Citation("practice", "10 to 500 pF with crystals, to 4.7 nF at 100 kHz; bypasses are larger"),
)  # fmt: skip
BLOCKED = 1e3
"""A choke has hundreds of times the ohms of what it stands before, for what oscillates."""


@dataclass(frozen=True, slots=True)
class _Divided:
    """A stage with a capacitor from its grid to its cathode, and ``lower`` from there to gnd.

    ``crystal`` is what sets its frequency; ``None`` where a coil does.
    """

    section: Section
    cathode: str
    lower: Branch
    crystal: Branch | None


@rule(
    "signal.oscillator-tap-shunted",
    title="Oscillator whose capacitors have their tap shorted",
    level="notice",
    blame=Blame.WIRING,
    states="warm; the wiring alone for a key",
    needs="a solved warm state and the frequency of the crystal, or the coil and its capacitors; "
    "no values for a key",
    criterion="A stage with a crystal or coil at its grid has a capacitor from grid to cathode and "
    f"one of at most {DIVIDES_F.figure.text()} from cathode to gnd. Either a key, a jack or "
    "contact from the cathode to gnd, lies across the lower one with nothing before it. Or with "
    "the resistor at the cathode nothing is given back to the crystal or coil, and with that "
    "resistor behind a choke something would be.",
    why="What the cathode makes of the signal stands on the lower capacitor, and the upper one "
    "brings it to the grid. A key, or a resistor small beside that capacitor, holds the cathode "
    "still: nothing comes back, and nothing oscillates. A choke carries the current and leaves "
    "the cathode free to move.",
    source=(Citation("arithmetic", "the linear network as the crystal or coil sees it"), PRACTICE),
    limits="Crystals of which no frequency is written are judged by their key alone. "
    "Interelectrode capacitances are not in it: stages that are fed back by those have no such "
    "divider drawn.",
    thresholds=(DIVIDES_F,),
)
def oscillator_tap_shunted(case: Case) -> Iterator[Outcome]:
    """Look at what lies across the lower capacitor of each divider."""
    warm = case.solutions.get("warm")
    for stage in islice(_stages(case.circuit), MOST_LOOPS):
        key = key_at(case.circuit, stage.cathode)
        if key is not None:
            yield _keyed(case, stage, key)
        elif warm is not None and warm.converged:
            yield from _shunted(case, stage)


def _stages(circuit: Circuit) -> Iterator[_Divided]:
    by_windings = {w.section.name for w in wound(circuit)}
    for section, crystal in by_crystal(circuit):
        yield from _divided(circuit, section, crystal)
    for section in fed_back(circuit):
        if section.name not in by_windings:
            yield from _divided(circuit, section, None)


def _divided(circuit: Circuit, section: Section, crystal: Branch | None) -> Iterator[_Divided]:
    cathode, heard = section.net("cathode"), at_grid(circuit, section)
    if cathode is None or cathode in LANDMARKS:
        return
    at = [b for b in circuit.at(cathode) if b.kind is PartKind.CAPACITOR]
    lower = [b for b in at if b.other(cathode) == GROUND and _divides(b)]
    if lower and any(b.other(cathode) in heard for b in at):
        yield _Divided(section, cathode, lower[0], crystal)


def _divides(branch: Branch) -> bool:
    farad = branch.farads
    return farad is not None and farad <= DIVIDES_F.value


def _keyed(case: Case, stage: _Divided, key: str) -> Finding:
    name = stage.section.name
    return oscillator_tap_shunted.finding(
        case,
        (f"{name}.cathode", key, stage.lower.name),
        f"With {key} down {name}.cathode is on gnd and {stage.lower.name}, the lower capacitor of "
        "its divider, is shorted: nothing comes back to the grid, and nothing oscillates",
        f"Put an RF choke, 2.5 mH for some megahertz, between {name}.cathode with "
        f"{stage.lower.name} and {key}",
        evidence={"lower": figure(stage.lower.farads or 0.0, "F")},
        certainty="certain",
    )


def _shunted(case: Case, stage: _Divided) -> Iterator[Finding]:
    """Told where the stage does not oscillate, and would with its resistor behind a choke."""
    if _gives(case.circuit, case.warm, stage) is not False:
        return
    for part in case.circuit.at(stage.cathode):
        if part.kind is PartKind.RESISTOR and part.value is not None:
            freed = _with(case.circuit, part, part.value * BLOCKED)
            if _gives(freed, case.warm, stage):
                yield _finding(case, stage, part)


def _gives(circuit: Circuit, warm: Solution, stage: _Divided) -> bool | None:
    """Whether enough comes back; ``None`` where that is not known."""
    try:
        linear = Linearised(circuit, warm)
        if stage.crystal is None:
            found = in_phase(linear, stage.section)
            return found is not None and found.gain.real >= 1
        hertz = si(stage.crystal.value, "hertz")
        return seen(linear, (stage.crystal.a, stage.crystal.b), hertz) < 0 if hertz else None
    except (Unsolvable, np.linalg.LinAlgError):
        return None


def _with(circuit: Circuit, part: Branch, value: Quantity) -> Circuit:
    branches = {**circuit.branches, part.name: replace(part, value=value)}
    return replace(circuit, branches=branches)


def _finding(case: Case, stage: _Divided, part: Branch) -> Finding:
    name, lower = stage.section.name, stage.lower
    ohm, farad = part.ohms or 0.0, lower.farads or 0.0
    return oscillator_tap_shunted.finding(
        case,
        (part.owner, f"{name}.cathode", lower.name),
        f"{part.owner}, {ohms(ohm)}, lies across {lower.name}, the lower capacitor of the divider "
        f"that is to feed {name}: nothing comes back to the grid that would keep "
        f"{_keeps(stage)} going",
        f"Put an RF choke, many times {ohms(ohm)} at that frequency, between {name}.cathode with "
        f"{lower.name} and {part.owner}",
        state="warm",
        evidence={"resistor": figure(ohm, "ohm"), "lower": figure(farad, "F")},
        certainty="likely",
    )


def _keeps(stage: _Divided) -> str:
    if stage.crystal is None:
        return "the coil"
    return f"{stage.crystal.name} at {engineering(si(stage.crystal.value, 'hertz') or 0.0, 'Hz')}"


RULES: tuple[Rule, ...] = (oscillator_tap_shunted,)
