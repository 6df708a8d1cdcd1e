"""Direct current of a plate that flows to gnd through a coil the signal alone is meant for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import unsolved_reason, warm_volts
from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.ranges import certainty
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

PASSES_A = Threshold("direct current that a coil for a signal may have", 1e-4, "A", PRACTICE)


@rule(
    "signal.coil-passes-dc",
    title="Direct current of a plate through a head, transformer or speaker to gnd",
    level="notice",
    blame=Blame.WIRING,
    states="warm",
    needs="a solved warm state",
    criterion=f"From a plate that gives a signal more than {PASSES_A.value * 1e3:g} mA of direct "
    "current flow off to gnd through a coil, a transformer's winding, a speaker or phones, with no "
    "more than resistors, other coils and closed contacts between.",
    why="Such a part is to get the signal through a capacitor. Without one the plate's direct "
    "current magnetises a head, and every tape it touches; it saturates a small core, pushes a "
    "cone out of its gap; and the plate is pulled down.",
    source=PRACTICE,
    limits="A coil that is the plate's own load has its current from the supply into the plate, "
    "and is left alone, and so are coils in a path on which each says a current it is made for "
    "that is not less. Currents from cathodes and transistors are not followed.",
    thresholds=(PASSES_A,),
)
def coil_passes_dc(case: Case) -> Iterator[Outcome]:
    """Follow the direct current that leaves each plate by its parts."""
    if unsolved_reason(case) is not None:
        return
    still = still_nets(case.circuit)
    for _, section in working(case.circuit):
        plate = section.net("plate")
        if plate is None or plate in still:
            continue
        for path in _to_gnd(case, plate, still, ()):
            unfit = [b for b in path if _winds(case, b) and not _made_for(case, b)]
            if unfit:
                yield _finding(case, section, path, unfit)


def _to_gnd(
    case: Case, net: str, still: frozenset[str], before: tuple[Branch, ...]
) -> Iterator[tuple[Branch, ...]]:
    """The ways on which direct current leaves a net for gnd, part by part."""
    for branch in case.circuit.at(net):
        far, amps = branch.other(net), _off(case, branch, net)
        metal = branch.traits.metal and branch.closed and branch not in before
        if not metal or amps is None or amps <= PASSES_A.value:
            continue
        if far in LANDMARKS:
            yield (*before, branch)
        elif far not in still:
            yield from _to_gnd(case, far, still, (*before, branch))


def _off(case: Case, branch: Branch, net: str) -> float | None:
    """Amperes of DC that a part takes off a net."""
    wave = case.warm.current(branch.name)
    return None if wave is None else wave.dc if net == branch.a else -wave.dc


def _winds(case: Case, branch: Branch) -> bool:
    """Whether it is a coil or winding for a signal, or a speaker."""
    if branch.kind is PartKind.WINDING:
        wound = {*case.circuit.outputs, *case.circuit.coil_sets}
        return branch.owner.split(".")[0] in wound
    return branch.kind is PartKind.INDUCTOR or branch.kind is PartKind.SPEAKER


def _made_for(case: Case, branch: Branch) -> bool:
    """Whether it says a current that is not less than what flows."""
    coils = (c for c in case.circuit.coils() if branch in (b for _, b in c.parts))
    written = next((c.current for c in coils), branch.part.current if branch.part else None)
    return (si(written, "ampere") or 0.0) >= abs(_off(case, branch, branch.a) or 0.0)


def _finding(
    case: Case, section: Section, path: tuple[Branch, ...], unfit: list[Branch]
) -> Finding:
    names = tuple(dict.fromkeys(b.owner for b in (path[0], *unfit[::-1])))
    amps = abs(_off(case, unfit[-1], unfit[-1].a) or 0.0)
    at_plate = warm_volts(case, section.electrodes["plate"]) or 0.0
    coils = listed(tuple(dict.fromkeys(b.owner for b in unfit)))
    return coil_passes_dc.finding(
        case,
        (*names, section.name),
        f"{amperes(amps)} of direct current flow from the plate of {section.name} "
        f"({volts(at_plate)}) through {coils} to gnd",
        f"Put a capacitor for the whole supply between {section.name}.plate and {path[0].owner}",
        state="warm",
        evidence={"current": figure(amps, "A"), "plate": figure(at_plate, "V")},
        limit=PASSES_A.figure,
        certainty=certainty(amps / PASSES_A.value),
        excess=amps / PASSES_A.value,
    )


RULES: tuple[Rule, ...] = (coil_passes_dc,)
