"""Heaters and the rectifier whose filament is the B+ itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import Case, warm_volts
from coldcheck.anatomy.heater_lines import (
    HeaterLine,
    heater_lines,
    is_filament_supply,
    line_of,
    strangers,
)
from coldcheck.anatomy.neighbourhood import drawn, metal, nearest, ohms_between, sources_shorted
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.wording import listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Circuit, Tube
    from coldcheck.judge.finding import Finding, Outcome

GROUNDED_OHMS = Threshold(
    "resistance from a rectifier's filament to gnd that is a short", 1e3, "ohm", PRACTICE
)
"""No load of a receiving-tube supply is this low; a path that is, is a short (common practice)."""


@rule(
    "heater.shares-rectifier-filament",
    title="Heaters on the rectifier's filament winding",
    level="notice",
    states="the drawing alone; the voltage from the nominal state",
    needs="which heaters share a winding",
    criterion="A tube whose heater is on the winding of a rectifier that gives its output at the "
    "filament (or at a cathode joined to the heater inside).",
    why="The filament of such a rectifier is the B+ itself. Any other heater on that winding "
    "is at the full B+ against its own cathode, far beyond what the insulation holds.",
    source=(
        Citation("practice", "a winding of its own for the rectifier"),
        Citation("type-sheet", "heater-cathode limits"),
    ),
    limits="Rectifiers that are in parallel on one filament winding are not counted. Which side of "
    "the insulation gives way is not said.",
)
def shares_rectifier_filament(case: Case) -> Iterator[Outcome]:
    """A rectifier filament winding feeds nothing else."""
    for line in heater_lines(case.circuit):
        rectifier, others = strangers(line)
        if rectifier is not None and others:
            yield _shared(case, line, rectifier, others)


def _shared(case: Case, line: HeaterLine, rectifier: Tube, others: tuple[Tube, ...]) -> Finding:
    names = tuple(t.name for t in others)
    level = warm_volts(case, line.net)
    where = "at the B+" if level is None else f"at the B+ of {volts(level)}"
    verb = "heater stands" if len(names) == 1 else "heaters stand"
    message = (
        f"{rectifier.name} {rectifier.type.name} gives its output at its heater on {line.name}, "
        f"which also feeds {listed(names)}: the {verb} {where}"
    )
    remedy = f"Give {rectifier.name} a winding of its own and feed {listed(names)} from another"
    evidence = {} if level is None else {"heater_dc": figure(level, "V")}
    return shares_rectifier_filament.finding(
        case, (rectifier.name, *names), message, remedy, evidence=evidence, certainty="certain"
    )


@rule(
    "heater.rectifier-filament-grounded",
    title="Rectifier filament winding tied to gnd",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the rectifier's filament winding and the return of its plate winding",
    criterion="A single path below 1 kohm from the filament to gnd and from the plates to gnd.",
    why="The filament of the rectifier is the B+. A filament winding that is tied to gnd like an "
    "ordinary heater winding shorts the B+ through the rectifier and the plate winding.",
    source=(PRACTICE, Citation("arithmetic", "of the short")),
    limits="A load below 1 kohm would be taken for a tie. A negative supply, which has its "
    "filament on gnd by right, is known by the return of its plates.",
    thresholds=(GROUNDED_OHMS,),
)
def rectifier_filament_grounded(case: Case) -> Iterator[Outcome]:
    """The output of a rectifier must not be on gnd."""
    graph = metal(case.circuit)
    for tube in case.circuit.tubes.values():
        if not is_filament_supply(tube) or not any(drawn(case.circuit, s) for s in tube.sections):
            continue
        outputs = _filament_leads(case.circuit, tube)
        found = [r for r in (nearest(graph, n, GROUND) for n in outputs) if r is not None]
        if found and min(found) < GROUNDED_OHMS.value and _plates_return(case.circuit, tube):
            yield _grounded(case, tube, min(found))


def _filament_leads(circuit: Circuit, tube: Tube) -> tuple[str, ...]:
    line = line_of(circuit, tube)
    leads = [n for w in (line.windings if line else ()) for n in w.nets]
    return tuple(dict.fromkeys((*leads, *(n for s in tube.sections for n in s.cathode_nets))))


def _plates_return(circuit: Circuit, tube: Tube) -> bool:
    """Whether the plates' winding comes back to gnd, so that the short has a way round."""
    plates = [s.electrodes[e] for s in tube.sections for e in s.plates]
    shorted = sources_shorted(circuit)
    found = (ohms_between(shorted, n) for n in plates)
    return any(r is not None and r < GROUNDED_OHMS.value for r in found)


def _output_lead(tube: Tube) -> str:
    return "filament" if tube.directly_heated else "heater, joined to the cathode inside"


def _grounded(case: Case, tube: Tube, path_ohms: float) -> Finding:
    through = "directly" if path_ohms == 0 else f"through {ohms(path_ohms)}"
    message = (
        f"{tube.name} {tube.type.name}: its {_output_lead(tube)}, which is the B+ output, "
        f"is tied to gnd {through}"
    )
    remedy = "Take the tie away: the filament winding is held by the B+ load, nothing else"
    return rectifier_filament_grounded.finding(
        case,
        (tube.name,),
        message,
        remedy,
        evidence={"path": figure(path_ohms, "ohm")},
        limit=GROUNDED_OHMS.figure,
        certainty="certain",
        excess=GROUNDED_OHMS.value / max(path_ohms, 1.0),
    )


RULES: tuple[Rule, ...] = (shares_rectifier_filament, rectifier_filament_grounded)
