"""What keeps a fault in the high tension small: a fuse, and a resistor where it is very high."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

import networkx as nx
import numpy as np

from coldcheck.anatomy.galvanic import jacks, opens_in_time
from coldcheck.anatomy.neighbourhood import AMPLIFYING
from coldcheck.anatomy.rectifiers import rectifier_tubes
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.preferred import preferred
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.drawing.wording import amperes, ohms, volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.rules.mains.fuse import fitting_fuse
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section, Winding
    from coldcheck.judge.finding import Outcome

HIGH_V = Threshold("winding voltage that asks for a fuse", 100.0, "V", PRACTICE)
VERY_HIGH_V = Threshold("voltage from which a fault resistor is asked for", 1000.0, "V", PRACTICE)
LARGE_F = Threshold("capacitance from which a fault resistor is asked for", 10e-6, "F", PRACTICE)
LIMITING_OHM = Threshold("resistance that limits a fault", 10.0, "ohm", PRACTICE)
INRUSH = 2.0
"""A fuse behind the transformer also has to pass the charging of the first capacitor."""

PEAK_A = 50.0
SMOOTHING_H = Threshold("inductance that limits a fault", 0.5, "H", PRACTICE)


@rule(
    "supply.no-fuse-after-rectifier",
    title="High-voltage winding of a rectifier tube without a fuse",
    level="advice",
    states="the drawing; warm for the size of the fuse",
    needs="the wiring of the rectifier and its winding",
    criterion=(
        "A rectifier tube is fed from a winding of 100 V or more, and there is no fuse in the "
        "winding's tap, in the plate leads or between its cathode and the first load."
    ),
    why=(
        "A rectifier tube that arcs over shorts half the winding. The mains fuse, chosen for the "
        "heaters and the inrush as well, may sit through that until the winding has burnt."
    ),
    source=(
        Citation(
            "rectifier-sheet",
            "slow fuse in the tap for capacitor input, behind the choke for choke input",
        ),
        Citation("web-fuses"),
    ),
    limits=(
        "Advice: most sets were built without one, and a mains fuse of the right size gives some "
        "protection. Windings with their own thermal fuse inside are not known to the drawing."
    ),
    thresholds=(HIGH_V,),
)
def no_fuse_after_rectifier(case: Case) -> Iterator[Outcome]:
    """Look for a fuse around every winding that feeds a rectifier tube."""
    circuit = case.circuit
    done: set[str] = set()
    for tube, section in rectifier_tubes(circuit):
        plates = {section.electrodes[p] for p in section.plates}
        for winding in circuit.windings():
            volts_rms = si(winding.volts, "volt") or 0.0
            fed = (
                not winding.primary
                and volts_rms >= HIGH_V.value
                and bool(set(winding.nets) & plates)
            )
            if fed and winding.name not in done and not _fused(circuit, winding, section):
                done.add(winding.name)
                yield _unfused(case, winding, tube.name)


def _fused(circuit: Circuit, winding: Winding, section: Section) -> bool:
    """Whether a fuse hangs on the winding's leads or on the rectifier's output."""
    nets = {*winding.nets, *section.cathode_nets} - {GROUND}
    behind = {b.other(n) for n in nets for b in circuit.at(n) if b.kind is PartKind.INDUCTOR}
    return any(opens_in_time(b) for n in nets | behind - {GROUND} for b in circuit.at(n))


def _unfused(case: Case, winding: Winding, tube: str) -> Outcome:
    tapped = len(winding.nets) > 2
    amps = _return_amps(case, winding)
    where = f"{winding.name}.ct" if tapped else f"a lead of {winding.name}"
    size = (
        f"{fitting_fuse(amps, INRUSH):g} A slow, twice the {amperes(amps)} rms there"
        if amps
        else "slow"
    )
    evidence: dict[str, Figure | str] = {"fuse": "none"}
    return no_fuse_after_rectifier.finding(
        case,
        (winding.name, tube),
        f"nothing but the mains fuse protects {winding.name} when {tube} arcs over",
        f"Put a fuse in {where}: {size}",
        evidence=evidence | ({"return_rms": figure(amps, "A")} if amps else {}),
        certainty="certain",
    )


def _return_amps(case: Case, winding: Winding) -> float | None:
    """The rms current in the tap (or the whole winding) when warm, amperes."""
    waves = [case.warm.current(b.name) for b in winding.branches] if case.warm.converged else []
    known = [w.samples for w in waves if w is not None]
    if not known or len(known) != len(winding.branches):
        return None
    middle = len(winding.half)
    total = known[middle - 1] - known[middle] if winding.centred else known[0]
    return float(np.sqrt(np.mean(total**2))) or None


@rule(
    "supply.no-fault-limiting",
    title="Kilovolts of stored charge with nothing to limit an arc",
    level="caution",
    states="every solved state",
    needs="a solved state and the capacitors' values",
    criterion=(
        "A capacitor of more than 10 uF charged to more than 1 kV reaches the plate of a tube, or "
        "a jack, through less than 10 ohm. Chokes of half a henry or more count as enough."
    ),
    why=(
        "An arc in a tube empties the capacitor in a flash of hundreds of amperes: the tube, the "
        "meters and the diodes go with it. A few tens of ohms turn that into a pop and a blown "
        "fuse."
    ),
    source=Citation("web-mistakes", "fault resistor in the high-voltage lead"),
    limits=(
        "The resistance of output transformers that is not written counts as enough. Where the "
        "current goes in the fault is not followed, and wiring inductance is left out."
    ),
    thresholds=(LARGE_F, LIMITING_OHM, SMOOTHING_H, VERY_HIGH_V),
)
def no_fault_limiting(case: Case) -> Iterator[Outcome]:
    """Measure the way from every large, very high capacitor to what may arc."""
    if unsolved(case) is not None:
        return
    graph = _fault_graph(case.circuit)
    targets = _may_arc(case.circuit)
    for branch in case.circuit.branches.values():
        farads = branch.farads if branch.kind is PartKind.CAPACITOR else None
        if farads is None or farads <= LARGE_F.value * 1.001 or branch.a == branch.b:
            continue
        worst = max(
            ((abs(w.dc), s) for s in case.solved() if (w := s.between(branch.a, branch.b))),
            key=lambda pair: pair[0],
            default=None,
        )
        if worst is None or worst[0] <= VERY_HIGH_V.value:
            continue
        for hot in {branch.a, branch.b} - {GROUND}:
            near = _nearest(graph, hot, targets)
            if near is not None and near[1] < LIMITING_OHM.value:
                yield _unlimited(case, branch, worst[0], worst[1].state.name, near)


def _may_arc(circuit: Circuit) -> dict[str, str]:
    """Net -> what may arc over there: plates of amplifying tubes, and jacks."""
    found = {n: name for name, nets in jacks(circuit).items() for n in nets}
    for section in circuit.sections():
        if section.kind in AMPLIFYING and "plate" in section.electrodes:
            found[section.electrodes["plate"]] = f"{section.name}.plate"
    found.pop(GROUND, None)
    return found


def _fault_graph(circuit: Circuit) -> nx.Graph[str]:
    graph: nx.Graph[str] = nx.Graph()
    for branch in circuit.branches.values():
        weight = _fault_ohms(branch)
        if weight is not None and GROUND not in (branch.a, branch.b):
            old = graph.get_edge_data(branch.a, branch.b, {"weight": weight})
            graph.add_edge(branch.a, branch.b, weight=min(weight, old["weight"]))
    return graph


def _fault_ohms(branch: Branch) -> float | None:
    """Ohms against a sudden current; ``None`` for what lets none through or holds it back."""
    kind = branch.kind
    match kind:
        case PartKind.RESISTOR | PartKind.METER:
            return branch.ohms
        case PartKind.FUSE:
            return 0.0
        case PartKind.SWITCH | PartKind.CONTACT:
            return 0.0 if branch.closed else None
        case PartKind.INDUCTOR:
            small = (branch.henries or SMOOTHING_H.value) < SMOOTHING_H.value
            return (si(branch.resistance, "ohm") or 0.0) if small else None
        case PartKind.WINDING:
            return si(branch.resistance, "ohm")
        case (
            PartKind.CAPACITOR | PartKind.DIODE | PartKind.LED | PartKind.ZENER
            | PartKind.THERMISTOR | PartKind.BARRETTER | PartKind.PHOTOCELL | PartKind.LAMP
            | PartKind.SPEAKER | PartKind.JACK
            | PartKind.SOURCE | PartKind.HEATER | PartKind.POT | PartKind.JACK_CONTACT
            | PartKind.PLUG
            | PartKind.SIGNAL | PartKind.RELAY
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return None
        case _:
            assert_never(kind)


def _nearest(graph: nx.Graph[str], hot: str, targets: dict[str, str]) -> tuple[str, float] | None:
    """What may arc with the least resistance on the way, and those ohms."""
    if hot not in graph:
        return (targets[hot], 0.0) if hot in targets else None
    lengths = nx.single_source_dijkstra_path_length(graph, hot, cutoff=LIMITING_OHM.value)
    found = [(targets[n], float(length)) for n, length in lengths.items() if n in targets]
    return min(found, key=lambda pair: pair[1], default=None)


def _unlimited(
    case: Case, branch: Branch, across: float, state: str, near: tuple[str, float]
) -> Outcome:
    place, least = near
    peak = across / least if least >= 0.1 else None
    current = (
        f"{engineering(peak, 'A')} at the first instant" if peak else "no limit but the wiring"
    )
    wanted = max(preferred(across / PEAK_A), LIMITING_OHM.value)
    joules = 0.5 * (branch.farads or 0.0) * across**2
    return no_fault_limiting.finding(
        case,
        (branch.name, place.partition(".")[0]),
        f"an arc at {place} empties {branch.name} ({volts(across)}, {joules:.3g} J) through "
        f"{ohms(least)}: {current}",
        f"Put {ohms(wanted)}, wire-wound and made for the surge, between {branch.name} and "
        f"{place}: {amperes(across / wanted)} at most",
        state=state,
        evidence={
            "voltage": figure(across, "V"),
            "energy": figure(joules, "J"),
            "series": figure(least, "ohm"),
            "resistor": figure(wanted, "ohm"),
        },
        limit=LIMITING_OHM.figure,
        certainty="certain",
        excess=LIMITING_OHM.value / max(least, 0.1),
    )


RULES = (
    no_fuse_after_rectifier,
    no_fault_limiting,
)
