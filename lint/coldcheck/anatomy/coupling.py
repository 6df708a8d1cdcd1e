"""What a signal gets to from a net: through parts, up to where something holds it still."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.output_stage import stiff_nets
from coldcheck.circuit.kinds import Passage
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.spread import spread
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.signal.outputs import named_out
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from coldcheck.circuit.model import Branch, Circuit, Section

GIVES = ("plate", "cathode", "f1", "f2")


def still_nets(circuit: Circuit) -> frozenset[str]:
    """Nets that hold still for a signal: landmarks, sources, and what is decoupled."""
    return stiff_nets(circuit) | set(LANDMARKS)


RADIO_F = Threshold("capacitor that holds a point still at radio frequencies", 1e-9, "F", PRACTICE)


def decoupled(circuit: Circuit, net: str) -> bool:
    """Whether a point holds still for a signal, if only at radio frequencies."""
    small = (b for b in circuit.at(net) if b.kind is PartKind.CAPACITOR and GROUND in (b.a, b.b))
    return net in still_nets(circuit) or any((b.farads or 0.0) >= RADIO_F.value for b in small)


def coupled(
    circuit: Circuit, start: Iterable[str], still: Collection[str], without: Collection[str] = ()
) -> frozenset[str]:
    """The nets a signal reaches from ``start`` by passive parts, those of ``without`` left out.

    It ends at nets that hold still, which are not among them, and at plates and cathodes, which
    are.
    """
    first = frozenset(n for n in start if n not in still)

    def leads(branch: Branch, here: str) -> bool:
        passes = _passes(branch) and branch.owner not in without
        if not passes or branch.other(here) in still:
            return False
        return here in first or not any(e in GIVES for _, e in circuit.electrodes_at(here))

    return spread(circuit, first, leads)


def _passes(branch: Branch) -> bool:
    traits = branch.traits
    through = (
        branch.kind in (PartKind.CAPACITOR, PartKind.FUSE)
        or branch.kind is PartKind.CRYSTAL
        or traits.steady
        or traits.opens
    )
    return (through or traits.passage is Passage.CLAMPS) and branch.closed


def givers(circuit: Circuit, nets: Collection[str]) -> frozenset[tuple[str, str]]:
    """What brings a signal to these nets: (section, electrode), signal sources, jack tips."""
    found = {(s.name, e) for n in nets for s, e in circuit.electrodes_at(n) if e in GIVES}
    found |= {
        (b.name, "")
        for n in nets
        for b in circuit.at(n)
        if b.kind in (PartKind.SIGNAL, PartKind.WINDING)
    }
    return frozenset(found | {(j.name, "tip") for j in jacks(circuit) if j.tip in nets})


def _loads(kind: PartKind) -> bool:
    """Whether a part uses a signal, and does not only pass it on or bring it."""
    match kind:
        case PartKind.WINDING | PartKind.INDUCTOR | PartKind.SPEAKER | PartKind.JACK:
            return True
        case PartKind.DIODE | PartKind.LAMP | PartKind.RELAY:
            return True
        case PartKind.GATE | PartKind.BASE:
            return True
        case (
            PartKind.RESISTOR
            | PartKind.POT
            | PartKind.THERMISTOR
            | PartKind.BARRETTER
            | PartKind.PHOTOCELL
            | PartKind.CAPACITOR
        ):
            return False
        case (
            PartKind.FUSE
            | PartKind.SWITCH
            | PartKind.CONTACT
            | PartKind.JACK_CONTACT
            | PartKind.PLUG
        ):
            return False
        case (
            PartKind.METER
            | PartKind.ARRESTER
            | PartKind.THYRISTOR
            | PartKind.TRIGGER
            | PartKind.VIBRATOR
            | PartKind.CRYSTAL
        ):
            return False
        case (
            PartKind.LED
            | PartKind.ZENER
            | PartKind.SOURCE
            | PartKind.SIGNAL
            | PartKind.HEATER
            | PartKind.CHANNEL
        ):
            return False
        case _:
            assert_never(kind)


def takers(
    circuit: Circuit, nets: Collection[str], *, but: Section | None = None
) -> frozenset[str]:
    """What uses a signal on these nets, a section's own electrodes left out.

    Any electrode of another section, transformers, chokes, speakers, jacks, detectors, and points
    called an output.
    """
    found = {s.name for n in nets for s, _ in circuit.electrodes_at(n) if s is not but}
    found |= {b.name for n in nets for b in circuit.at(n) if _loads(b.kind)}
    found |= {j.name for j in jacks(circuit) if {j.tip, j.switch, j.ring} & set(nets)}
    return frozenset(found | {p for n in nets for p in circuit.names.get(n, ()) if named_out(p)})


def steers_its_tail(circuit: Circuit, section: Section) -> bool:
    """Whether a capacitor leads from a plate to the grid of the tube below its own cathode.

    A White follower: its plate resistor senses the current, and is no load.
    """
    plate = section.net("plate")
    at = circuit.at(plate) if plate is not None and plate not in LANDMARKS else ()
    still = still_nets(circuit)
    far = [b.other(plate or "") for b in at if b.kind is PartKind.CAPACITOR]
    nets = coupled(circuit, [n for n in far if n not in still], {*still, plate or ""})
    return any(
        e == "grid" and s.net("plate") in section.cathode_nets
        for n in nets
        for s, e in circuit.electrodes_at(n)
    )
