"""Transformers for signals whose windings are exchanged: a plate or a grid on that of some ohms."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import GIVES, coupled, givers, still_nets
from coldcheck.anatomy.working import working
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Coil, CoilSet
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

PLATE_OHM = Threshold(
    "least impedance of a winding that a plate works on", 1000.0, "ohm",
    Citation("practice", "1.5k to 100k; lines have 50 to 600 ohm, speakers and springs 4 to 16"),
)  # fmt: skip
TIMES = Threshold(
    "times by which another winding suits a plate better", 10.0, "",
    Citation("practice", "the windings of one transformer for plate and line are further apart"),
)  # fmt: skip


@rule(
    "output.windings-exchanged",
    title="Plate or grid on the low winding of its transformer",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the impedance of the windings of a transformer for signals",
    criterion="A plate is on a winding made for less than "
    f"{PLATE_OHM.value / 1e3:g} kohm, straight or through a capacitor, while another winding of "
    f"the transformer, on which no plate is, is made for at least {TIMES.value:g} times as much "
    f"and {PLATE_OHM.value / 1e3:g} kohm or more.",
    why="The low winding is next to a short circuit for the plate, and what is on the high one "
    "gets less current than without a transformer: nothing is heard. The low winding is not "
    "insulated for the supply it is then at, either. Between a microphone and a grid it steps down "
    "what it is to step up, and loads the microphone with next to nothing: what is left is below "
    "the noise of the tube.",
    source=(PRACTICE, Citation("arithmetic", "impedances go by the square of the turns")),
    limits="Windings given by turns or inductance alone are made for nothing in particular and "
    "are not judged. Output transformers with p and s leads are judged by what is on those.",
    thresholds=(PLATE_OHM, TIMES),
)
def windings_exchanged(case: Case) -> Iterator[Outcome]:
    """Look at the winding each plate works on, and at the others of its core."""
    plates = _plates(case.circuit)
    for coil_set in (c for c in case.circuit.coil_sets.values() if not c.springs):
        driven = {c.name: _on(c, plates) for c in coil_set.coils}
        for coil in coil_set.coils:
            better = _better(coil, [c for c in coil_set.coils if not driven[c.name]])
            if driven[coil.name] and better is not None:
                yield _finding(case, coil_set, coil, better, driven[coil.name])
    yield from _stepped_down(case)


def _stepped_down(case: Case) -> Iterator[Finding]:
    """Input transformers with a grid on the low winding and the source on the high one."""
    circuit = case.circuit
    still = still_nets(circuit)
    grids = _grids(circuit, still)
    for coil_set in circuit.coil_sets.values():
        brought = {c.name: _brought(circuit, c, still) for c in coil_set.coils}
        if any(e in GIVES for found in brought.values() for _, e in found):
            continue
        for coil in coil_set.coils:
            heard = _on(coil, grids)
            others = [c for c in coil_set.coils if brought[c.name] and not _on(c, grids)]
            better = None if brought[coil.name] else _better(coil, others)
            if heard and better is not None:
                yield _turned_about(case, coil_set, coil, better, heard)


def _grids(circuit: Circuit, still: frozenset[str]) -> dict[str, list[str]]:
    """Nets that a grid hears by resistors and capacitors: net -> sections."""
    found: dict[str, list[str]] = {}
    for _, section in working(circuit):
        grid = section.net("grid")
        for net in () if grid is None else coupled(circuit, [grid], still):
            found.setdefault(net, []).append(section.name)
    return found


def _brought(circuit: Circuit, coil: Coil, still: frozenset[str]) -> list[tuple[str, str]]:
    """What brings a signal to a winding from outside its transformer: (name, electrode)."""
    nets = coupled(circuit, [n for n in coil.nets if n not in still], still)
    windings = {b.name for b in circuit.branches.values() if b.kind is PartKind.WINDING}
    return [(name, e) for name, e in sorted(givers(circuit, nets)) if name not in windings]


def _plates(circuit: Circuit) -> dict[str, list[str]]:
    """Nets that a plate works on, itself and behind a capacitor: net -> sections."""
    found: dict[str, list[str]] = {}
    still = still_nets(circuit)
    for _, section in working(circuit):
        plate = section.net("plate")
        if plate is None or plate in still:
            continue
        near = (b for b in circuit.at(plate) if b.kind is PartKind.CAPACITOR)
        for net in {plate, *(b.other(plate) for b in near)} - still:
            found.setdefault(net, []).append(section.name)
    return found


def _on(coil: Coil, plates: dict[str, list[str]]) -> tuple[str, ...]:
    """The sections whose plates are on a winding."""
    return tuple(dict.fromkeys(s for n in coil.nets for s in plates.get(n, ())))


def _ohms(coil: Coil) -> float | None:
    return si(coil.impedance, "ohm")


def _better(coil: Coil, others: list[Coil]) -> Coil | None:
    """The winding of the others that a plate belongs on, where this one is made for too little."""
    own = _ohms(coil)
    if not own or own >= PLATE_OHM.value:
        return None
    least = max(PLATE_OHM.value, TIMES.value * own)
    return next((c for c in others if (_ohms(c) or 0.0) >= least), None)


def _finding(
    case: Case, coil_set: CoilSet, low: Coil, high: Coil, sections: tuple[str, ...]
) -> Finding:
    points = tuple(f"{s}.plate" for s in sections)
    return _exchanged(
        case,
        (coil_set, low, high),
        points,
        f"{listed(points)} {'are' if len(sections) > 1 else 'is'} on "
        f"{low.name}, made for {_made_for(low)}, while {high.name} is made for {_made_for(high)}: "
        f"{coil_set.name} is wired the wrong way round",
    )


def _turned_about(
    case: Case, coil_set: CoilSet, low: Coil, high: Coil, sections: tuple[str, ...]
) -> Finding:
    points = tuple(f"{s}.grid" for s in sections)
    return _exchanged(
        case,
        (coil_set, low, high),
        points,
        f"{listed(points)} {'hear' if len(sections) > 1 else 'hears'} "
        f"{low.name}, made for {_made_for(low)}, and what comes in is on {high.name}, made for "
        f"{_made_for(high)}: {coil_set.name} steps down what it is to step up",
    )


def _made_for(coil: Coil) -> str:
    return ohms(_ohms(coil) or 0.0)


def _exchanged(
    case: Case, core: tuple[CoilSet, Coil, Coil], points: tuple[str, ...], message: str
) -> Finding:
    coil_set, low, high = core
    sections, electrode = [p.rpartition(".")[0] for p in points], points[0].rpartition(".")[2]
    own, other = _ohms(low) or 0.0, _ohms(high) or 0.0
    return windings_exchanged.finding(
        case,
        (coil_set.name, low.name, high.name, *sections),
        message,
        f"Exchange {low.name} and {high.name}",
        evidence={
            f"{electrode}_on": figure(own, "ohm"),
            "other_winding": figure(other, "ohm"),
            "times": figure(other / own, ""),
        },
        limit=PLATE_OHM.figure,
        certainty="certain",
        excess=PLATE_OHM.value / own,
    )


RULES: tuple[Rule, ...] = (windings_exchanged,)
