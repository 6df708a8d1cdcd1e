"""A grid that stands above its own cathode with no signal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.neighbourhood import reading
from coldcheck.anatomy.raised import raised
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.switching import switches
from coldcheck.anatomy.working import working
from coldcheck.circuit.latches import latches
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import amperes, listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.solution import STANDBY
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.raised import Raised
    from coldcheck.circuit.model import Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.solution import Solution, TubeReading

POSITIVE_V = Threshold(
    "grid above its cathode",
    0.5,
    "V",
    Citation("practice", "contact potential and grid current bring it a few tenths up"),
)
"""Contact potential and grid current bring a grid a few tenths up by themselves (memory)."""

SURELY = Threshold("times the grid current from which it is certain", 2.0, "", PRACTICE)
FED_A = Threshold("grid current of a positive supply", 20e-6, "A", Citation("arithmetic"))
"""Grid current that only a positive supply behind the grid leak can drive (derived)."""

STEADY = ("warm", "high line", "low line", "standby")


@rule(
    "grid.positive",
    title="Grid positive at rest",
    level="notice",
    states="warm, high line, low line and standby",
    needs="a solved state",
    criterion=(
        f"With no signal the grid stands more than {POSITIVE_V.value:g} V above its own cathode "
        f"while plate current flows, or draws more than {FED_A.value * 1e6:g} uA while plate "
        "current flows or the grid is above its cathode. Tubes whose grids hang on the same bias "
        "are one finding."
    ),
    why="A receiving tube is made for a grid that is negative at rest. A bias supply the wrong way "
    "round, or a leaky coupling, turns the tube fully on: plate and screen glow red within "
    "seconds.",
    source=Citation("web-bias"),
    limits=(
        "Without plate current a grid a little below its cathode draws current of its own into a "
        "small resistance (contact potential), which is none of this. Grid current follows one "
        "assumed curve for all types. Signal that drives a grid positive on purpose is not what is "
        "judged: only the mean at rest. Of a bistable pair one is fully on by design."
    ),
    thresholds=(FED_A, POSITIVE_V, SURELY),
)
def positive(case: Case) -> Iterator[Outcome]:
    """Look at grid to cathode in every running state."""
    bistable = {s.name for pair in latches(case.circuit) for s in pair}
    driven = (s for _, s in working(case.circuit) if s.net("grid") is not None)
    sections = [s for s in driven if s.name not in bistable]
    reason = unsolved_reason(case)
    if reason is not None:
        if sections:
            yield positive.not_judged(tuple(s.name for s in sections), reason)
        return
    for solution in case.solved(*STEADY):
        asked = [s for s in sections if not _switched(case, solution, s)]
        found = {s.name: r for s in asked if (r := _above(solution, s)) is not None}
        for group in _groups(case, [s for s in sections if s.name in found]):
            yield _positive(case, solution, group, found)


def _switched(case: Case, solution: Solution, section: Section) -> bool:
    """Whether a stage is only switched on: a trigger's half, or a relay's tube, not at rest."""
    return solution.state.kind == STANDBY and switches(case.circuit, section)


def _above(solution: Solution, section: Section) -> TubeReading | None:
    found = reading(solution, section)
    if found is None or found.grid_v is None:
        return None
    positive = found.grid_v > POSITIVE_V.value and found.conducts
    fed = found.grid_ma > 1e3 * FED_A.value and (found.conducts or found.grid_v > 0.0)
    return found if positive or fed else None


def _groups(case: Case, sections: list[Section]) -> list[list[Section]]:
    """Sections whose grids are joined by what conducts, other than through gnd."""
    groups: list[tuple[set[str], list[Section]]] = []
    for section in sections:
        nets = set(reach(case.circuit, [section.electrodes["grid"]], LANDMARKS)) - set(LANDMARKS)
        for known, members in groups:
            if known & nets:
                known |= nets
                members.append(section)
                break
        else:
            groups.append((nets, [section]))
    return [members for _, members in groups]


def _positive(
    case: Case, solution: Solution, group: list[Section], found: dict[str, TubeReading]
) -> Finding:
    names = tuple(s.name for s in group)
    worst = max(names, key=lambda n: (found[n].grid_ma, found[n].grid_v or 0.0))
    high, plate = found[worst].grid_v or 0.0, found[worst].plate_ma / 1000
    by_volts, by_current = high / POSITIVE_V.value, found[worst].grid_ma / (1e3 * FED_A.value)
    section = next(s for s in group if s.name == worst)
    by = raised(case, solution, section)
    limit = POSITIVE_V.figure if by_volts >= by_current else FED_A.figure
    also = f" (also {listed(n for n in names if n != worst)})" if len(names) > 1 else ""
    return positive.finding(
        case,
        (*names, *(() if by is None else (b.owner for b in by.path))),
        f"{worst}: with no signal its grid is at {volts(high)} to its cathode and draws "
        f"{amperes(found[worst].grid_ma / 1000)}; {amperes(plate)} of plate current flows{also}"
        + ("" if by is None else f". {_why(by)}"),
        _cure(case, group[0]) if by is None else _undone(by),
        state=solution.state.name,
        blame=None if by is None else Blame.SLIP if by.of_plate else Blame.WIRING,
        evidence={
            "grid": figure(high, "V"),
            "plate_current": figure(plate, "A"),
            "grid_current": figure(found[worst].grid_ma, "mA"),
        },
        limit=limit,
        certainty="certain"
        if found[worst].grid_ma > SURELY.value * 1e3 * FED_A.value
        else "likely",
        excess=max(by_volts, by_current),
    )


def _why(by: Raised) -> str:
    """What brings a grid the voltage of a plate or of a supply."""
    parts = f"{listed(b.owner for b in by.path)} {'brings' if len(by.path) == 1 else 'bring'} it"
    if by.of_plate:
        return f"{parts} the direct voltage of {by.source}, with no capacitor between"
    return f"{parts} the voltage of {by.source}"


def _undone(by: Raised) -> str:
    first = by.path[0].owner
    if by.of_plate:
        return f"Put a capacitor between {by.source} and {first}, rated for the whole supply"
    return f"Lead {first} to gnd, or to a negative bias, and not to {by.source}"


def _cure(case: Case, section: Section) -> str:
    """Name the diode of the bias supply where there is one."""
    nets = frozenset(reach(case.circuit, [section.electrodes["grid"]], LANDMARKS))
    diodes = sorted(
        {b.name for n in nets - {"gnd"} for b in case.circuit.at(n) if b.kind is PartKind.DIODE}
    )
    if diodes:
        return f"See that the bias is negative: the direction of {listed(diodes)} decides it"
    return "Find what pulls the grid up, and return it to gnd or to a negative bias"


RULES = (positive,)
