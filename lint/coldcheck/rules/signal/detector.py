"""A detector whose diode is held off by the bias of the tube it sits in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.case import warm_volts
from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.detectors import BESIDE, diodes, diodes_beside
from coldcheck.anatomy.loose import free_end
from coldcheck.anatomy.neighbourhood import metal
from coldcheck.anatomy.reach import Ways, reach
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS, SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.detectors import Diode
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

HELD_OFF_V = Threshold(
    "cathode of a detector above the return of its load", 0.5, "V",
    Citation("practice", "up to this the diode still conducts by its contact potential"),
)  # fmt: skip
PASSES_AUDIO_F = Threshold(
    "least capacitor that hands on what a detector gives", 1e-9, "F",
    Citation("practice", "intermediate frequency is filtered and coupled by picofarads"),
)  # fmt: skip


@rule(
    "signal.detector-held-off",
    title="Detector whose load returns to gnd, below its own cathode",
    level="notice",
    states="warm",
    needs="a solved warm state",
    criterion="A diode shares the cathode of a stage, which stands more than "
    f"{HELD_OFF_V.value:g} V above gnd; its plate is on a coil, whose other end leads to gnd "
    "through the load and nowhere to the cathode; and a capacitor takes the audio from there.",
    why="The load holds the plate of the diode at gnd while the bias of the stage lifts the "
    "cathode. Until the carrier is stronger than that nothing is detected, and of a stronger one "
    "the troughs are cut off: weak stations are silent and the others distorted.",
    source=PRACTICE,
    limits="A diode for gain control alone is held off on purpose, and has no audio taken from it. "
    "Diodes with cathodes of their own, and those whose coil a capacitor keeps from the load, are "
    "not looked at.",
    thresholds=(HELD_OFF_V, PASSES_AUDIO_F),
)
def detector_held_off(case: Case) -> Iterator[Outcome]:
    """Look at the load of each diode beside a stage."""
    for section, diode in diodes_beside(case.circuit):
        if GROUND in section.cathode_nets:
            continue  # the diode is at the end of the filament that is on gnd
        load = _load_to_gnd(case.circuit, diode)
        lifted = warm_volts(case, diode.cathode)
        if load is not None and lifted is not None and lifted > HELD_OFF_V.value:
            yield _finding(case, diode, load, lifted)


def _load_to_gnd(circuit: Circuit, diode: Diode) -> Branch | None:
    """The foot of an audio detector's load, where it is on gnd and the cathode is not."""
    coils = [b for b in circuit.at(diode.plate) if b.traits.coil]
    if {diode.plate, diode.cathode} & set(LANDMARKS) or not coils:
        return None
    nets = set(reach(circuit, [diode.plate], LANDMARKS))
    elsewhere = GROUND not in nets or diode.cathode in nets
    if elsewhere or Ways.of(circuit).fed(diode.plate):
        return None
    return _foot(circuit, coils, diode) if _gives_audio(circuit, nets, diode) else None


def _gives_audio(circuit: Circuit, nets: set[str], diode: Diode) -> bool:
    """Whether a capacitor takes the signal from a detector's direct-current nets to a grid."""
    still = still_nets(circuit) | nets | {diode.cathode}
    taken = [b.other(net) for net in nets - set(LANDMARKS) for b in circuit.at(net) if _hands_on(b)]
    behind = coupled(circuit, taken, still)
    return any(e in SIGNAL_GRIDS for n in behind for _, e in circuit.electrodes_at(n))


def _foot(circuit: Circuit, coils: list[Branch], diode: Diode) -> Branch | None:
    """The last part on the easiest way from the coil's cold end to gnd; none for a bare wire."""
    graph = metal(circuit)
    for far in (b.other(diode.plate) for b in coils):
        if far != GROUND and far in graph and nx.has_path(graph, far, GROUND):
            *_, last, end = nx.dijkstra_path(graph, far, GROUND)
            branch: Branch = graph.edges[last, end]["branch"]
            return branch
    return None


def _finding(case: Case, diode: Diode, load: Branch, lifted: float) -> Finding:
    tube = diode.name.partition(".")[0]
    return detector_held_off.finding(
        case,
        (load.owner, tube, diode.name),
        f"{load.owner}, the load of the detector {diode.name}, returns to gnd, but "
        f"{tube}.cathode is at {volts(lifted)}: a weaker signal is not detected, "
        "and a stronger one distorted",
        f"Return {load.owner} to {tube}.cathode, and the detector's filter capacitors with it",
        state="warm",
        evidence={"cathode": figure(lifted, "V")},
        limit=HELD_OFF_V.figure,
        excess=lifted / HELD_OFF_V.value,
    )


@rule(
    "signal.detector-load-open",
    title="Detector whose direct current has no return path",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of the detector",
    criterion="A diode has a coil at one end, and direct current gets from there to its other end "
    "neither by resistors and coils nor by gnd, another diode or an electrode; a capacitor of "
    f"{PASSES_AUDIO_F.figure.text()} or more hands on what stands there.",
    why="The load is what takes the charge off the detector's capacitors between one swing of the "
    "carrier and the next. Without it they stay at the highest peak there was: no sound comes of "
    "it, and a gain control that hangs there keeps its stages cut off.",
    source=PRACTICE,
    limits="What leaks takes the charge off in the end. A probe whose meter is not drawn hands "
    "nothing on by a capacitor.",
    thresholds=(PASSES_AUDIO_F,),
)
def detector_load_open(case: Case) -> Iterator[Outcome]:
    """Look for a way from each end of a diode to the other."""
    circuit = case.circuit
    every = (*diodes(circuit), *(d for _, d in diodes_beside(circuit)))
    found: dict[frozenset[str], Diode] = {}
    for diode in every:
        for hot in (diode.plate, diode.cathode):
            nets = frozenset(reach(circuit, [hot], LANDMARKS))
            coil = any(b.traits.coil for b in circuit.at(hot))
            if coil and _shut_in(circuit, nets, diode, every):
                found.setdefault(nets, diode)
    for nets, diode in found.items():
        yield _unloaded(case, diode, nets)


def _shut_in(circuit: Circuit, nets: frozenset[str], one: Diode, every: Collection[Diode]) -> bool:
    """Whether nothing but diodes' ends like ``one`` and grids is on its nets, and audio taken."""
    if nets & set(LANDMARKS) or {one.plate, one.cathode} <= nets or nets & still_nets(circuit):
        return False
    gives = one.plate in nets
    away = one.cathode if gives else one.plate
    for other in every:
        like = (other.plate in nets) is gives and away == (other.cathode if gives else other.plate)
        if {other.plate, other.cathode} & nets and not like:
            return False
    plain = all(e in (*SIGNAL_GRIDS, *BESIDE) or s.kind is SectionKind.DIODE
                for n in nets for s, e in circuit.electrodes_at(n))  # fmt: skip
    near = [b for n in nets for b in circuit.at(n)]
    mains = {b.name for w in circuit.windings() for b in w.branches}
    brought = any(b.kind in (PartKind.SIGNAL, PartKind.SOURCE) or b.name in mains for b in near)
    taken = any(_hands_on(b) and not {b.a, b.b} & still_nets(circuit) for b in near)
    return plain and not brought and taken


def _hands_on(branch: Branch) -> bool:
    farad = branch.farads if branch.kind is PartKind.CAPACITOR else None
    return (farad or 0.0) >= PASSES_AUDIO_F.value


def _unloaded(case: Case, diode: Diode, nets: frozenset[str]) -> Finding:
    lead = free_end(case.circuit, diode.plate if diode.plate in nets else diode.cathode)
    first = diode.name if lead is None else lead
    grids = [s.name for n in sorted(nets) for s, e in case.circuit.electrodes_at(n)
             if e in SIGNAL_GRIDS]  # fmt: skip
    return detector_load_open.finding(
        case,
        tuple(dict.fromkeys((first, diode.name, diode.name.partition(".")[0], *grids))),
        f"direct current of the detector {diode.name} has no return path to its other end: its "
        "capacitors stay charged to the highest peak, and no sound comes of it"
        + ("" if lead is None else f"; nothing is wired to {lead}"),
        "Give the detector a load of 100 kohm to 1 Mohm"
        if lead is None
        else f"Wire {lead} to the detector's other end, as a rule gnd",
        certainty="certain",
    )


RULES: tuple[Rule, ...] = (detector_held_off, detector_load_open)
