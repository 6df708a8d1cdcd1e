"""Gain control lines that the direct voltage of the detector does not get to."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.detectors import diodes, diodes_beside
from coldcheck.anatomy.neighbourhood import metal
from coldcheck.anatomy.reach import Ways, reach
from coldcheck.anatomy.reflex import reflexed
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import listed
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.reflex import Reflexed
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

FILTERS_F = Threshold(
    "least capacitor that takes the audio off a gain control line", 1e-8, "F",
    Citation("practice", "10 to 100 nF; a grid that is to have audio as well has picofarads"),
)  # fmt: skip
COUPLES_F = Threshold(
    "least capacitor that hands a detector's audio to a control line", 1e-9, "F",
    Citation("practice", "intermediate frequency is coupled by picofarads"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Blocked:
    """A resistor that takes a control voltage from ``net``, behind a capacitor that keeps it."""

    net: str
    resistor: str
    capacitor: str


@rule(
    "signal.gain-control-blocked",
    title="Gain control taken from behind a coupling capacitor",
    level="notice",
    states="the drawing alone",
    needs="the wiring of detector and gain control",
    criterion="A grid hangs by a coil or resistor on a line with "
    f"{FILTERS_F.figure.text()} or more to gnd. Direct current gets from there to no diode, no "
    "electrode but grids, and no supply, but a capacitor of "
    f"{COUPLES_F.figure.text()} or more brings audio to where the line comes from, and on its "
    "other side, at most one such capacitor further, is a diode with a coil: the detector.",
    why="Automatic gain control is the direct voltage of the detector, and the capacitor keeps "
    "just that back. The line stays where it is whatever the station: strong ones overload the "
    "stages and the detector. The line also joins the audio grid to the others, and loads it.",
    source=(PRACTICE, Citation("arithmetic", "a capacitor passes no direct current")),
    limits="Lines that also have a diode of their own, or a bias, are not looked at, nor grids of "
    "reflexed stages, which are to have audio.",
    thresholds=(FILTERS_F, COUPLES_F),
)
def gain_control_blocked(case: Case) -> Iterator[Outcome]:
    """Follow what each grid's line has its direct voltage from."""
    found: dict[Blocked, dict[str, None]] = {}
    detected = detected_nets(case.circuit)
    for line, grids in filtered_lines(case.circuit).items() if detected else ():
        blocked = _blocked(case.circuit, line, detected)
        if blocked is not None:
            held = (name for name, net in grids if net != blocked.net)
            found.setdefault(blocked, {}).update(dict.fromkeys(held))
    for blocked, names in found.items():
        if names:
            yield _finding(case, blocked, tuple(names))


def filtered_lines(circuit: Circuit) -> dict[str, list[tuple[str, str]]]:
    """The filtered nets on which grids hang by a coil or a resistor, each with (grid, its net)."""
    found: dict[str, list[tuple[str, str]]] = {}
    twice = {r.section.name for r in reflexed(circuit)}  # their grids are to have audio
    for _, section in working(circuit):
        for name, net in () if section.name in twice else _grids(section):
            hang = (b for b in circuit.at(net) if b.traits.coil or b.kind is PartKind.RESISTOR)
            for far in {b.other(net) for b in hang}:
                if far not in LANDMARKS and filtered(circuit, far):
                    found.setdefault(far, []).append((name, net))
    return found


def _grids(section: Section) -> Iterator[tuple[str, str]]:
    for electrode in SIGNAL_GRIDS:
        net = section.net(electrode)
        if net is not None and section.kind.amplifies:
            yield f"{section.name}.{electrode}", net


def filtered(circuit: Circuit, net: str) -> bool:
    """Whether a net has so large a capacitor to gnd that no audio is meant to be there."""
    return any(farads >= FILTERS_F.value for farads in _to_gnd(circuit, net))


def _to_gnd(circuit: Circuit, net: str) -> list[float]:
    """Farads of each capacitor from a net to gnd."""
    near = (b for b in circuit.at(net) if b.kind is PartKind.CAPACITOR and b.other(net) == GROUND)
    return [b.farads or 0.0 for b in near]


def _blocked(circuit: Circuit, line: str, detected: frozenset[str]) -> Blocked | None:
    """What keeps a line from the detector, where it has no voltage from elsewhere."""
    nets = set(reach(circuit, [line], LANDMARKS)) - set(LANDMARKS)
    if nets & detected or _has_a_voltage(circuit, nets) or Ways.of(circuit).fed(line):
        return None
    heard = (detected | _coupled_once(circuit, detected)) - nets
    for net in sorted(nets - {line}):
        for branch in circuit.at(net):
            if couples(branch) and branch.other(net) in heard:
                resistor = _first(circuit, net, line)
                return None if resistor is None else Blocked(net, resistor, branch.name)
    return None


def _has_a_voltage(circuit: Circuit, nets: set[str]) -> bool:
    """Whether a diode, or an electrode that is no grid, is on these nets."""
    found = {e for n in nets for _, e in circuit.electrodes_at(n)}
    return bool(found - set(SIGNAL_GRIDS)) or any(
        b.kind is PartKind.DIODE for n in nets for b in circuit.at(n)
    )


def couples(branch: Branch) -> bool:
    """Whether a part is a capacitor that hands audio on, or holds it off."""
    farad = branch.farads if branch.kind is PartKind.CAPACITOR else None
    return (farad or 0.0) >= COUPLES_F.value


def detected_nets(circuit: Circuit) -> frozenset[str]:
    """The nets that direct current of a diode with a coil on it gets to, no landmark.

    The coil may be the one before, at the other end of some picofarads.
    """
    found = (*diodes(circuit), *(d for _, d in diodes_beside(circuit)))
    ends = {n for d in found for n in (d.plate, d.cathode)} - set(LANDMARKS)
    hot = [n for n in ends if _driven_by_coil(circuit, n)]
    return frozenset(reach(circuit, hot, LANDMARKS)) - set(LANDMARKS)


def _driven_by_coil(circuit: Circuit, net: str) -> bool:
    small = [b for b in circuit.at(net) if b.kind is PartKind.CAPACITOR and not couples(b)]
    near = {net, *(b.other(net) for b in small)} - set(LANDMARKS)
    return any(b.traits.coil for n in near for b in circuit.at(n))


def _coupled_once(circuit: Circuit, detected: frozenset[str]) -> frozenset[str]:
    """What direct current gets to behind a coupling capacitor: a volume control, say."""
    behind = [b.other(n) for n in detected for b in circuit.at(n) if couples(b)]
    start = [n for n in behind if n not in LANDMARKS]
    return frozenset(reach(circuit, start, LANDMARKS)) - set(LANDMARKS)


def _first(circuit: Circuit, net: str, line: str) -> str | None:
    """The first resistor on the easiest way from a net to a line."""
    graph = metal(circuit)
    path = nx.dijkstra_path(graph, net, line)
    way: list[Branch] = [graph.edges[pair]["branch"] for pair in pairwise(path)]
    return next((b.name for b in way if b.kind is PartKind.RESISTOR), None)


def _finding(case: Case, blocked: Blocked, grids: tuple[str, ...]) -> Finding:
    return gain_control_blocked.finding(
        case,
        (blocked.resistor, blocked.capacitor, *grids),
        f"{blocked.resistor} takes the gain control of {listed(grids)} from behind "
        f"{blocked.capacitor}, which keeps the detector's direct voltage back: nothing is "
        "turned down, however strong the station",
        f"Take {blocked.resistor} from the load of the detector, before {blocked.capacitor} and "
        "the volume control",
        evidence={"grids": listed(grids)},
        certainty="certain",
    )


PASSES_HZ = Threshold(
    "corner of a gain control line's filter above which it takes audio", 50.0, "Hz",
    Citation("practice", "1 to 2 Mohm with 47 to 100 nF: a hertz or two"),
)  # fmt: skip


@rule(
    "signal.gain-control-takes-audio",
    title="Gain control whose filter shorts the audio",
    level="notice",
    states="the drawing alone",
    needs="the values of the line's resistor and capacitor",
    criterion="A grid hangs by a coil or resistor on a line with a capacitor to gnd, one resistor "
    "leads to the line from a control or a load of the detector's, and the corner of the two is "
    f"above {PASSES_HZ.figure.text()}.",
    why="The resistor is to keep the line's capacitor off the audio, and the audio off the line. A "
    "decade or three too small, it lays the capacitor across the volume control: speech is gone, "
    "and what is left of it modulates the stages before.",
    source=(PRACTICE, Citation("arithmetic", "f = 1 / (2 pi R C)")),
    limits="Lines with more than one resistor between detector and capacitor are not looked at.",
    thresholds=(PASSES_HZ, FILTERS_F),
)
def gain_control_takes_audio(case: Case) -> Iterator[Outcome]:
    """Look at the resistor between the detector's load and each line."""
    circuit, detected = case.circuit, detected_nets(case.circuit)
    for line, grids in filtered_lines(circuit).items() if detected else ():
        farads = sum(_to_gnd(circuit, line))
        for branch in circuit.at(line):
            ohms = branch.ohms if branch.kind is PartKind.RESISTOR else None
            far = branch.other(line)
            if not ohms or far not in detected or not _is_load(circuit, far, branch):
                continue
            corner = 1 / (2 * math.pi * ohms * farads)
            if corner > PASSES_HZ.value:
                yield _takes(case, branch, (ohms, farads, corner), tuple(g for g, _ in grids))


def _is_load(circuit: Circuit, net: str, but: Branch) -> bool:
    """Whether a control's end is on a net, or a resistor to gnd: audio stands there."""
    others = (b for b in circuit.at(net) if b is not but)
    return any(
        b.kind is PartKind.POT or (b.kind is PartKind.RESISTOR and b.other(net) in LANDMARKS)
        for b in others
    )


def _takes(
    case: Case, resistor: Branch, values: tuple[float, float, float], grids: tuple[str, ...]
) -> Finding:
    ohms, farads, corner = values
    sections = (g.rpartition(".")[0] for g in grids)
    return gain_control_takes_audio.finding(
        case,
        (resistor.owner, *dict.fromkeys(sections)),
        f"{resistor.owner} is {engineering(ohms, 'ohm')}: with {engineering(farads, 'F')} on the "
        f"control line of {listed(grids)} everything above {engineering(corner, 'Hz')} is taken "
        "off the detector's audio",
        f"Use 1 to 2 Mohm for {resistor.owner}",
        evidence={"corner": figure(corner, "Hz")},
        limit=PASSES_HZ.figure,
        certainty="likely",
        excess=corner / PASSES_HZ.value,
    )


SPEECH_HZ = Threshold(
    "corner of a bypass under which it takes the audio", 500.0, "Hz",
    Citation("practice", "100 pF behind 47 kohm: above 30 kHz"),
)  # fmt: skip


@rule(
    "signal.reflex-audio-shorted",
    title="Audio of a reflexed stage shorted at its grid or plate",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the values of the bypass and of what brings the audio, or is its load",
    criterion="A stage has a coil at its grid and one at its plate, and from the cold end of the "
    "plate's a capacitor takes audio to a grid or control. At the cold end of the grid's coil, to "
    "which a resistor brings audio, or of the plate's, where a resistor is its load, a capacitor "
    f"to gnd makes a corner with that resistor under {SPEECH_HZ.figure.text()}.",
    why="Such a stage amplifies twice: the intermediate frequency comes and goes by the coils, the "
    "audio by their cold ends. The bypass there is for the intermediate frequency alone, some "
    "hundred picofarads; a larger one shorts the audio, and the set is next to mute.",
    source=(PRACTICE, Citation("arithmetic", "f = 1 / (2 pi R C)")),
    limits="Leaks to gnd bring no audio and are not counted.",
    thresholds=(SPEECH_HZ,),
)
def reflex_audio_shorted(case: Case) -> Iterator[Outcome]:
    """Look at what is to gnd at the cold ends of each reflexed stage's coils."""
    for stage in reflexed(case.circuit):
        for net, end in ((stage.cold, "grid"), (stage.audio, "plate")):
            found = _to_gnd_before(case.circuit, net)
            if found is not None and found[1] < SPEECH_HZ.value:
                yield _shorted(case, stage, end, *found)


def _to_gnd_before(circuit: Circuit, net: str) -> tuple[Branch, float] | None:
    """The largest capacitor from a net to gnd, and the corner of all with what is in series."""
    at = circuit.at(net)
    series = [b for b in at if b.kind is PartKind.RESISTOR and b.other(net) not in LANDMARKS]
    ohm = [value for b in series if (value := b.ohms)]
    bypasses = [b for b in at if b.kind is PartKind.CAPACITOR and b.other(net) == GROUND]
    farads = sum(_to_gnd(circuit, net))
    if not ohm or not farads:
        return None
    largest = max(bypasses, key=lambda b: b.farads or 0.0)
    return largest, 1 / (2 * math.pi * min(ohm) * farads)


def _shorted(case: Case, stage: Reflexed, end: str, bypass: Branch, corner: float) -> Finding:
    name, farad = stage.section.name, bypass.farads or 0.0
    comes = "comes to" if end == "grid" else "is taken from"
    usual = "100 pF" if end == "grid" else "1 nF"
    return reflex_audio_shorted.finding(
        case,
        (bypass.name, name),
        f"{name} amplifies the audio as well: it {comes} the cold end of the coil at its {end}, "
        f"where {bypass.name}, {engineering(farad, 'F')}, takes everything above "
        f"{engineering(corner, 'Hz')} to gnd",
        f"Use about {usual} for {bypass.name}, which is for the intermediate frequency alone",
        evidence={"corner": figure(corner, "Hz")},
        limit=SPEECH_HZ.figure,
        certainty="likely",
        excess=SPEECH_HZ.value / corner,
    )


RULES: tuple[Rule, ...] = (gain_control_blocked, gain_control_takes_audio, reflex_audio_shorted)
