"""Detectors for frequency modulation: which way their diodes are, and the treble behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import fm_detectors as anatomy
from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.fm_detectors import (
    fm_detectors,
    heard_behind,
    intermediate_hertz,
    shunts,
)
from coldcheck.anatomy.reach import reach
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import listed, ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.fm_detectors import Detector, Leg, Shunt
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

LONGEST_S = Threshold(
    "longest de-emphasis of broadcast FM and television sound", 200e-6, "s",
    Citation("practice", "50 us in Europe, 75 us in the Americas"),
)  # fmt: skip
SHORTEST_S = Threshold(
    "shortest de-emphasis of broadcast FM and television sound", 25e-6, "s",
    Citation("practice", "50 us in Europe, 75 us in the Americas"),
)  # fmt: skip
WIDE_HZ = Threshold(
    "least intermediate frequency of broadcast FM and television sound", 4e6, "Hz",
    Citation("practice", "4.3, 4.5, 5.5, 6 and 10.7 MHz; narrow-band sets detect far below"),
)  # fmt: skip
SERIES_OHM = Threshold(
    "least series resistor of a de-emphasis", 20e3, "ohm",
    Citation("practice", "33k to 100k; smaller ones only keep intermediate frequency back"),
)  # fmt: skip
USUAL_S = 75e-6


@rule(
    "signal.detector-diode-turned",
    title="One diode of an FM detector turned round",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the wiring of the detector",
    criterion="Two diodes are on the ends of a tapped coil without iron. Behind them a capacitor "
    f"of {anatomy.STEADIES_F.figure.text()} or more goes from one to the other, or one from each "
    "to gnd, and both diodes conduct out of the coil, or both into it. Or there is no such "
    "capacitor, the coil is tuned and its tap leads to both loads, a grid or output is fed from "
    "behind the diodes, and one conducts out of the coil, the other into it.",
    why="A ratio detector's diodes are in series round the coil: together they charge the large "
    "capacitor, which holds the amplitude still. With one turned round both ends go the same way, "
    "the capacitor has no voltage, and the tap gives the amplitude in place of the frequency. A "
    "discriminator gives the difference of two loads; with one diode turned round it gives their "
    "sum.",
    source=(PRACTICE, Citation("arithmetic", "the way a diode conducts")),
    limits="Coils without a tap, more than one diode on an end, and a large capacitor behind a "
    "resistor are not looked at.",
    thresholds=(anatomy.STEADIES_F,),
)
def detector_diode_turned(case: Case) -> Iterator[Outcome]:
    """Compare the two diodes of each detector."""
    for detector in fm_detectors(case.circuit):
        if detector.steady and not detector.aiding:
            yield _ratio(case, detector)
        elif not detector.steady and _differs(case.circuit, detector):
            yield _discriminator(case, detector)


def _differs(circuit: Circuit, detector: Detector) -> bool:
    """Whether the diodes of a discriminator are in series, whose loads meet at the tap."""
    first, last = detector.coil.nets[0], detector.coil.nets[-1]
    tuned = any(b.kind is PartKind.CAPACITOR and b.other(first) == last for b in circuit.at(first))
    stop = {*LANDMARKS, first, last}
    loads = set(reach(circuit, detector.taps, stop))
    meet = all(g.far in loads or _on(circuit, g.far, loads) for g in detector.legs)
    return tuned and meet and detector.aiding and heard_behind(circuit, detector)


def _on(circuit: Circuit, net: str, loads: set[str]) -> bool:
    """Whether a resistor leads from a net to one of these, which is no landmark."""
    meeting = loads - set(LANDMARKS)
    return any(b.kind is PartKind.RESISTOR and b.other(net) in meeting for b in circuit.at(net))


def _ratio(case: Case, detector: Detector) -> Finding:
    turned = _against(detector)
    names = [g.diode.name for g in detector.legs]
    steady = [b.name for b in detector.steady]
    way = "out of" if detector.legs[0].gives else "into"
    return detector_diode_turned.finding(
        case,
        (*(g.diode.name for g in turned), *steady, detector.coil.name),
        f"{listed(names)} both conduct {way} {detector.coil.name}: with a signal both ends of "
        f"{listed(steady)} go the same way, so that there is no voltage across it and the "
        "detector gives the amplitude and not the frequency",
        _turn(turned),
        evidence={"diodes": listed(names)},
        certainty="certain",
    )


def _against(detector: Detector) -> tuple[Leg, ...]:
    """The diode that conducts against the + of the large capacitor; both where none is drawn."""
    plus = {b.plus for b in detector.steady}
    wrong = [g for g in detector.legs if None not in plus and g.gives is not (g.far in plus)]
    return tuple(wrong) if len(wrong) == 1 else detector.legs


def _turn(turned: tuple[Leg, ...]) -> str:
    names = [g.diode.name for g in turned]
    if len(turned) == 1:
        end = "cathode" if turned[0].gives else "plate"
        return f"Turn {names[0]} round: its {end} on the coil"
    return f"Turn one of {listed(names)} round"


def _discriminator(case: Case, detector: Detector) -> Finding:
    names = [g.diode.name for g in detector.legs]
    turned = [g for g in detector.legs if not g.gives]
    return detector_diode_turned.finding(
        case,
        (*(g.diode.name for g in turned), detector.coil.name),
        f"{names[0]} conducts {_way(detector.legs[0])} {detector.coil.name} and {names[1]} "
        f"{_way(detector.legs[1])} it: the voltages of their loads add up, and the detector gives "
        "the amplitude and not the frequency",
        _turn(tuple(turned)),
        evidence={"diodes": listed(names)},
        certainty="certain",
    )


def _way(leg: Leg) -> str:
    return "out of" if leg.gives else "into"


@rule(
    "signal.de-emphasis-off",
    title="De-emphasis far from 50 or 75 microseconds",
    level="notice",
    states="the drawing alone",
    needs="the intermediate frequency, from coil and capacitor, and the values of the de-emphasis",
    criterion="Behind an FM detector whose can resonates above "
    f"{WIDE_HZ.value / 1e6:g} MHz, the resistors in series and the capacitors to gnd before the "
    f"first coupling make more than {LONGEST_S.value * 1e6:g} us; or, with "
    f"{SERIES_OHM.value / 1e3:g} kohm or more in series, less than "
    f"{SHORTEST_S.value * 1e6:g} us with the detector's own loads, and no other "
    "capacitor on the audio's further way leads to gnd.",
    why="The transmitter raises the treble, and the receiver has to lower it by as much. Ten times "
    "too long, all above a few hundred hertz is gone; ten times too short, the sound is shrill and "
    "hisses.",
    source=(PRACTICE, Citation("arithmetic", "each capacitor times the resistance before it")),
    limits="What loads the de-emphasis is not counted. Narrow-band sets have longer ones and a "
    "lower intermediate frequency; where that is not known, and where the audio has two ways, "
    "nothing is judged.",
    thresholds=(
        LONGEST_S, SHORTEST_S, WIDE_HZ, SERIES_OHM, anatomy.STEADIES_F, anatomy.HANDS_ON_F,
    ),
)  # fmt: skip
def de_emphasis_off(case: Case) -> Iterator[Outcome]:
    """Add up the time constant behind each detector of a wide-band receiver."""
    circuit = case.circuit
    for detector in fm_detectors(circuit):
        found = shunts(circuit, detector)
        if not found or intermediate_hertz(circuit, detector) < WIDE_HZ.value:
            continue
        seconds, most = _seconds(found, 0.0), _seconds(found, _loads(circuit, detector))
        if seconds > LONGEST_S.value:
            yield _off(case, found, "dull", most, LONGEST_S)
        elif most < SHORTEST_S.value and _lowers_alone(circuit, found):
            yield _off(case, found, "shrill", most, SHORTEST_S)


def _seconds(found: tuple[Shunt, ...], before: float) -> float:
    """Each capacitor times the resistance before it, with so many ohms more; nan where open."""
    return sum(s.farad * (s.ohm + before) for s in found)


def _loads(circuit: Circuit, detector: Detector) -> float:
    """The load of each diode together, ohms: the most that is before the de-emphasis."""
    return sum(_smallest(circuit, n) for n in detector.fars)


def _smallest(circuit: Circuit, net: str) -> float:
    found = (b.ohms for b in circuit.at(net) if b.kind is PartKind.RESISTOR)
    return min((r for r in found if r is not None), default=0.0)


def _lowers_alone(circuit: Circuit, found: tuple[Shunt, ...]) -> bool:
    """Whether what is in series is meant for it, and no later capacitor leads to gnd."""
    still, last = still_nets(circuit), found[-1]
    nets = coupled(circuit, [last.net], still, [last.series.owner])
    near = (b for n in nets for b in circuit.at(n) if b.kind is PartKind.CAPACITOR)
    later = any(b.name != last.capacitor.name and {b.a, b.b} & still for b in near)
    return last.ohm >= SERIES_OHM.value and not later


def _off(
    case: Case, found: tuple[Shunt, ...], heard: str, most: float, limit: Threshold
) -> Finding:
    seconds = _seconds(found, 0.0)
    main = max(found, key=lambda s: s.farad * s.ohm)
    parts = (main.series.name, main.capacitor.name)
    return de_emphasis_off.finding(
        case,
        (main.capacitor.name, main.series.name),
        f"{listed(parts)} make a de-emphasis of {engineering(seconds, 's')} in place of 50 or "
        f"75 us: the sound is {heard}",
        f"Use about {engineering(USUAL_S / main.ohm, 'F')} for {main.capacitor.name}, or "
        f"{ohms(USUAL_S / main.farad)} for {main.series.name} (75 us; two thirds of it for 50 us)",
        evidence={"time_constant": figure(seconds, "s"), "with_loads": figure(most, "s")},
        limit=limit.figure,
        certainty="certain",
        excess=max(seconds / limit.value, limit.value / most),
    )


RULES: tuple[Rule, ...] = (detector_diode_turned, de_emphasis_off)
