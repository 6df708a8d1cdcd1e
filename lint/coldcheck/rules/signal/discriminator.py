"""Discriminators that the primary's voltage does not get to, or of which half is listened to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import fm_detectors as anatomy
from coldcheck.anatomy.coupling import coupled, still_nets
from coldcheck.anatomy.fm_detectors import fm_detectors, heard_behind, heard_in, way_to_audio
from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.fm_detectors import Detector
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "signal.discriminator-uncoupled",
    title="FM detector whose tap does not get the primary's voltage",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of the detector's can",
    criterion="Two diodes are on the ends of a tapped coil without iron that a capacitor tunes "
    "from end to end; another coil of its can is on a plate. To the tap lead neither a capacitor "
    "from a point that carries a signal, nor another coil, nor a plate.",
    why="Such a detector compares the voltage across the secondary with that of the primary, "
    "which is brought to the tap. Without it both diodes have the same voltage at every frequency: "
    "their outputs cancel, and frequency modulation gives no sound.",
    source=(PRACTICE, Citation("handbooks")),
    limits="Coils of which each half is tuned on its own need no such capacitor and are left "
    "alone, and so are those whose tap is on gnd.",
)
def discriminator_uncoupled(case: Case) -> Iterator[Outcome]:
    """Look at what is on the tap of each detector."""
    for detector in fm_detectors(case.circuit):
        plate = _primary_plate(case.circuit, detector)
        if plate and _tuned_whole(case.circuit, detector) and _alone(case.circuit, detector):
            yield _uncoupled(case, detector, plate)


def _primary_plate(circuit: Circuit, detector: Detector) -> str:
    """The plate that another coil of the can is on."""
    nets = {n for c in detector.coil_set.coils if c is not detector.coil for n in c.nets}
    found = (f"{s.name}.{e}" for n in sorted(nets - set(LANDMARKS))
             for s, e in circuit.electrodes_at(n) if e == "plate")  # fmt: skip
    return next(found, "")


def _tuned_whole(circuit: Circuit, detector: Detector) -> bool:
    first, last = detector.coil.nets[0], detector.coil.nets[-1]
    return any(b.kind is PartKind.CAPACITOR and b.other(first) == last for b in circuit.at(first))


def _alone(circuit: Circuit, detector: Detector) -> bool:
    """Whether nothing brings a signal to any tap."""
    still, own = still_nets(circuit), {b.name for _, b in detector.coil.parts}
    wound = {b.name for c in circuit.coils() for _, b in c.parts} - own
    for tap in detector.taps:
        plates = any(e in ("plate", "cathode") for _, e in circuit.electrodes_at(tap))
        brought = (
            b.name in wound or (b.kind is PartKind.CAPACITOR and b.other(tap) not in still)
            for b in circuit.at(tap)
        )
        if tap in still or plates or any(brought):
            return False
    return bool(detector.taps)


def _uncoupled(case: Case, detector: Detector, plate: str) -> Finding:
    tap = next(lead for lead, net in detector.coil.leads if net in detector.taps)
    lead = f"{detector.coil.name}.{tap}"
    return discriminator_uncoupled.finding(
        case,
        (lead, plate, *(g.diode.name for g in detector.legs)),
        f"nothing brings the voltage of {plate} to {lead}, the tap between the diodes: both get "
        "the same at every frequency, and the detector gives no sound",
        f"Put a capacitor of 20 to 100 pF from {plate} to {lead}; a coil between that tap and the "
        "loads keeps them off it",
        certainty="certain",
    )


@rule(
    "signal.discriminator-half-taken",
    title="Audio taken from one load of a discriminator",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring of the detector and of what follows",
    criterion="Both diodes of an FM detector without a large capacitor conduct out of a tapped "
    "coil, or both into it; one of them has its other end on a point that holds still, and two "
    "loads in series lead there from the other. A grid or output is fed from where the loads meet, "
    "and none from the end of both.",
    why="The frequency is the difference of the two loads, which is at their end. Where they "
    "meet there is the voltage of one diode alone: half the sound, with the amplitude and "
    "its noise in it, and a direct voltage that is not nothing at the middle of the station.",
    source=(PRACTICE, Citation("arithmetic", "the sum of two voltages in series")),
    limits="Ratio detectors, whose audio comes from the tap, are left alone.",
    thresholds=(anatomy.STEADIES_F, anatomy.HANDS_ON_F),
)
def discriminator_half_taken(case: Case) -> Iterator[Outcome]:
    """Look where each discriminator's audio comes from."""
    circuit = case.circuit
    for detector in fm_detectors(circuit):
        ends = [n for n in detector.fars if n not in still_nets(circuit)]
        if detector.steady or detector.aiding or len(ends) != 1:
            continue
        for middle in _middles(circuit, detector, ends[0]):
            barred = {*still_nets(circuit), *detector.coil.nets}
            whole = coupled(circuit, ends, {*barred, middle})
            way = way_to_audio(circuit, middle, {*barred, ends[0]})
            if way and not heard_in(circuit, whole) and heard_behind(circuit, detector):
                yield _half(case, detector, way[0][0].name, (middle, ends[0]))


def _middles(circuit: Circuit, detector: Detector, end: str) -> list[str]:
    """Where a load from the end of both meets one from the point that holds still."""
    still = still_nets(circuit)
    loads = [b.other(end) for b in circuit.at(end) if b.kind is PartKind.RESISTOR]
    return [
        m for m in loads if m not in {*still, *detector.coil.nets}
        and any(b.kind is PartKind.RESISTOR and b.other(m) in still for b in circuit.at(m))
    ]  # fmt: skip


def _half(case: Case, detector: Detector, part: str, nets: tuple[str, str]) -> Finding:
    middle, end = (net_text(case.circuit, n) for n in nets)
    return discriminator_half_taken.finding(
        case,
        (part, *(g.diode.name for g in detector.legs), detector.coil.name),
        f"{part} takes the audio from {middle}, where the loads of the two diodes meet: one diode "
        "alone is heard, its amplitude and not the difference of both",
        f"Take {part} from {end}, the end of both loads",
        certainty="certain",
    )


RULES: tuple[Rule, ...] = (discriminator_uncoupled, discriminator_half_taken)
