"""Gain control lines and tuning eyes that get their voltage by way of the volume control."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import warm_volts
from coldcheck.anatomy.detectors import diodes, diodes_beside
from coldcheck.anatomy.neighbourhood import own_text, resistors_at
from coldcheck.anatomy.reach import Ways, reach
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SIGNAL_GRIDS, SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.rules.signal.control_line import (
    COUPLES_F,
    FILTERS_F,
    couples,
    detected_nets,
    filtered,
    filtered_lines,
)
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.detectors import Diode
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@dataclass(frozen=True, slots=True)
class Control:
    """A volume control by the nets of its leads; ``high`` is the end that the detector is on."""

    name: str
    wiper: str
    high: str


@rule(
    "signal.gain-control-at-wiper",
    title="Gain control or tuning eye on the wiper of the volume control",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of detector, volume control and control line",
    criterion="The direct voltage of a detector gets to the filtered line on which grids hang, or "
    "to a grid that is held for audio, a tuning eye's say, by no way but the wiper of a pot "
    "across the detector's load, which also hands the audio on to another grid.",
    why="The control voltage is to tell how strong the station is. From the wiper it is that times "
    "the setting of the volume control: at half a turn of a logarithmic track a tenth is left, "
    "turned down nothing. Strong stations then overload the stages, and the eye does not move.",
    source=(PRACTICE, Citation("arithmetic", "the divider of the track")),
    limits="A pot whose wiper hands on no audio is taken for one that sets the control itself. "
    "Pots on a supply are not looked at.",
    thresholds=(FILTERS_F, COUPLES_F),
)
def gain_control_at_wiper(case: Case) -> Iterator[Outcome]:
    """Follow each line and each eye back to the detector without the wipers."""
    circuit = case.circuit
    controls = [c for c in _controls(circuit) if _sounds(circuit, c)]
    for line, grids in _heads(circuit).items() if controls else ():
        nets = set(reach(circuit, [line], LANDMARKS))
        for control in controls:
            if (
                control.wiper in nets
                and line != control.wiper
                and not _beside(circuit, line, control)
            ):
                yield _finding(case, control, line, grids)


def _controls(circuit: Circuit) -> Iterator[Control]:
    """The pots with one end on a detector's direct voltage and the other on what holds still."""
    detected, ways = detected_nets(circuit), Ways.of(circuit)
    names = dict.fromkeys(b.owner for b in circuit.branches.values() if b.kind is PartKind.POT)
    for name in names if detected else ():
        top, wiper, bottom = (circuit.points[f"{name}.{x}"] for x in ("top", "wiper", "bottom"))
        for high, low in ((top, bottom), (bottom, top)):
            apart = wiper not in (high, low) and high in detected
            if apart and low not in detected and not ways.fed(high):
                yield Control(name, wiper, high)


def _sounds(circuit: Circuit, control: Control) -> bool:
    """Whether the wiper hands audio on: a grid is on it, or behind a coupling capacitor."""
    handed = [b.other(control.wiper) for b in circuit.at(control.wiper) if couples(b)]
    near = {control.wiper, *handed} - set(LANDMARKS)
    behind = {b.other(n) for n in near for b in circuit.at(n) if b.kind is PartKind.RESISTOR}
    held = [n for n in {*near, *behind} - set(LANDMARKS) if not filtered(circuit, n)]
    return any(e in SIGNAL_GRIDS for n in held for _, e in circuit.electrodes_at(n))


def _heads(circuit: Circuit) -> dict[str, list[str]]:
    """The filtered nets that are to have a control voltage, each with the grids it is for."""
    found = {line: [g for g, _ in grids] for line, grids in filtered_lines(circuit).items()}
    for section in circuit.sections():
        net = section.net("grid")
        eye = section.kind is SectionKind.INDICATOR
        if net is not None and net not in LANDMARKS and (eye or filtered(circuit, net)):
            found.setdefault(net, []).append(f"{section.name}.grid")
    return found


def _beside(circuit: Circuit, line: str, control: Control) -> bool:
    """Whether a line gets to the detector, or to a supply, past the wiper."""
    nets = reach(circuit, [line], {*LANDMARKS, control.wiper})
    return control.high in nets or Ways.of(circuit).fed(line)


def _finding(case: Case, control: Control, line: str, grids: Collection[str]) -> Finding:
    circuit, pot = case.circuit, control.name
    lead = _from_wiper(circuit, control, line)
    first = f"{pot}.wiper" if lead is None else lead.name
    return gain_control_at_wiper.finding(
        case,
        (first, pot, *grids),
        f"{first} takes the control voltage of {listed(grids)} from the wiper of the volume "
        f"control {pot}: it goes up and down with the volume, and is gone when that is turned down",
        f"Take {first} from {own_text(circuit, control.high)}, the detector's side of {pot}",
        evidence={"grids": listed(grids)},
        certainty="certain",
    )


def _from_wiper(circuit: Circuit, control: Control, line: str) -> Branch | None:
    """The one part by which direct current leaves the wiper for a line."""
    stop = {*LANDMARKS, control.wiper}
    found = [
        b
        for b in circuit.at(control.wiper)
        if b.kind is PartKind.RESISTOR and line in reach(circuit, [b.other(control.wiper)], stop)
    ]
    return found[0] if len(found) == 1 else None


DELAY_V = Threshold(
    "largest delay of a gain control", 15.0, "V",
    Citation("practice", "1 to 5 V; the cathode of an output stage gives up to 12 V"),
)  # fmt: skip
USUAL_V = 3.0


@rule(
    "signal.gain-control-delayed-too-far",
    title="Diode of a gain control that a station hardly ever opens",
    level="notice",
    blame=Blame.VALUE,
    states="warm",
    needs="a solved warm state",
    criterion="A diode gets its signal by some picofarads, a resistor leads from its plate to a "
    "filtered line on which grids hang, and its cathode is more than "
    f"{DELAY_V.figure.text()} above its plate.",
    why="The diode of a delayed gain control conducts as soon as the signal's peak is above the "
    "voltage at its cathode. A volt or three keep it off weak stations; a decade more keeps it "
    "off all, and strong ones overload the stages as if there were no control.",
    source=(PRACTICE, Citation("arithmetic", "the divider at the cathode")),
    limits="Diodes that conduct into the line from their cathode are not looked at.",
    thresholds=(DELAY_V, FILTERS_F, COUPLES_F),
)
def gain_control_delayed_too_far(case: Case) -> Iterator[Outcome]:
    """Look how far each such diode is held off."""
    circuit = case.circuit
    lines = set(filtered_lines(circuit))
    for diode in (*diodes(circuit), *(d for _, d in diodes_beside(circuit))):
        high, low = warm_volts(case, diode.cathode), warm_volts(case, diode.plate)
        if high is None or low is None or not _controls_a_line(circuit, diode.plate, lines):
            continue
        if high - low > DELAY_V.value:
            yield _delayed(case, diode, high - low, high)


def _controls_a_line(circuit: Circuit, plate: str, lines: set[str]) -> bool:
    at = circuit.at(plate) if plate not in LANDMARKS else ()
    fed = any(b.kind is PartKind.CAPACITOR and not couples(b) and b.other(plate) not in LANDMARKS
              for b in at)  # fmt: skip
    return fed and any(b.kind is PartKind.RESISTOR and b.other(plate) in lines for b in at)


def _delayed(case: Case, diode: Diode, delay: float, high: float) -> Finding:
    near = resistors_at(case.circuit, diode.cathode)
    down = [b for b in near if b.other(diode.cathode) == GROUND]
    lower = down[0] if len(down) == 1 and len(near) > 1 else None
    ohm = 0.0 if lower is None else lower.ohms or 0.0
    wanted = ohm * USUAL_V / high
    places = (diode.name,) if lower is None else (lower.name, diode.name)
    return gain_control_delayed_too_far.finding(
        case,
        (*places, *(b.name for b in near if b is not lower)),
        f"{diode.name}, the diode of the gain control, is held off by {volts(delay)}: only a "
        "signal with a larger peak turns anything down",
        f"Use about {engineering(wanted, 'ohm')} for {lower.name}, for a delay of {USUAL_V:g} V"
        if lower is not None and ohm
        else f"Hold {diode.name}'s cathode at 1 to 5 V",
        state="warm",
        evidence={"delay": figure(delay, "V")},
        limit=DELAY_V.figure,
        excess=delay / DELAY_V.value,
    )


RULES: tuple[Rule, ...] = (gain_control_at_wiper, gain_control_delayed_too_far)
