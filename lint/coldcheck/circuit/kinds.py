"""What each kind of part is, electrically: one record of traits a kind.

Whoever wants to know what a kind *does* asks for a trait; whoever wants figures that only some
kinds have matches on the kind, with ``assert_never`` at the end. So a kind that is added stops
the type checker here and at every such match, and nowhere passes for a piece of nothing.
A trait has no default: each kind says each of them.
"""

from __future__ import annotations

from dataclasses import replace
from enum import Enum
from typing import assert_never

from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass


class Passage(Enum):
    """How direct current gets through."""

    METAL = "metal"
    """Both ways, through some resistance, when it is closed."""
    RECTIFIES = "rectifies"
    """One way, to make direct current of alternating."""
    CLAMPS = "clamps"
    """One way, at a voltage of its own."""
    STEERED = "steered"
    """One way, as much as a third lead lets."""
    DRIVES = "drives"
    """It holds its two ends a voltage apart, whatever the current."""
    NONE = "none"


class Ohms(Enum):
    """What says a kind's resistance to direct current."""

    STEADY = "steady"
    """Its value, the same in every state."""
    WARMS = "warms"
    """Its value when warm or at work; cold, or at rest, another."""
    COIL = "coil"
    """That of its wire, beside its value."""
    NIL = "nil"
    """None to speak of, when it is closed."""
    ABSENT = "absent"
    """It has no such figure."""


class Stamp(Enum):
    """How the solver enters a kind in its equations."""

    CONDUCTANCE = "conductance"
    CAPACITANCE = "capacitance"
    INDUCTANCE = "inductance"
    VOLTAGE = "voltage"
    COUPLED = "coupled"
    """With the other windings of its transformer."""
    JUNCTION = "junction"
    THRESHOLD = "threshold"
    ZENER = "zener"
    GLOW = "glow"
    """Nothing until it strikes, then it holds its volts either way (``circuit.lamps``)."""
    GATED = "gated"
    """A thyristor: nothing until it is fired, then a volt or so, one way or both; and its gate."""
    CHOPPED = "chopped"
    """A vibrator: a source of AC as high as the battery that it chops."""
    LAW = "law"
    """With the law of the transistor or regulator it is of (``solve.transistors``)."""
    OPEN = "open"
    """Nothing flows: a jack with nothing in it."""
    UNSOLVED = "unsolved"
    """No law yet: a circuit with such a part is refused, and has no numbers."""


class Holds(Enum):
    """Whether it fixes the voltage between its ends, so that a net on it is defined."""

    ALWAYS = "always"
    CLOSED = "closed"
    """Only while it conducts: closed, or in its socket."""
    NEVER = "never"


class Contact(Enum):
    """What throws it, where it is a contact that opens and closes."""

    NONE = "none"
    HAND = "hand"
    PLUG = "plug"


class Suffers(Enum):
    """What may be wrong with a part of a kind; the words are those of the solver's faults."""

    OPEN = "open"
    SHORT = "short"
    LEAK = "leak"
    WIPER = "wiper"
    THROWN = "thrown"


_OPENS, _BOTH = (Suffers.OPEN,), (Suffers.OPEN, Suffers.SHORT)
_THROWN = (Suffers.THROWN,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Traits:
    """A kind's traits.

    unit, needs_value
        Unit of its main value to the solver, and whether nothing can be solved for sure while
        that is not known.
    suffers
        In the order the faults are listed.
    series
        It stands in a line of wiring and passes the line's current on: no load, no winding.
    oriented
        Its two ends are not interchangeable (those of a polarised capacitor are not either).
    drains
        It may take a charge away once all is off.
    breaks
        It carries the rating of a contact: volts and amperes it may break.
    touchable
        One holds it, or plugs something into it, in use.
    insulated
        When it shorts, insulation has failed.
    by_rms
        Its current is meant as the rms of DC and AC together.
    """

    passage: Passage
    ohms: Ohms
    stamp: Stamp
    unit: str | None
    needs_value: bool
    holds: Holds
    contact: Contact
    suffers: tuple[Suffers, ...]
    series: bool
    oriented: bool
    drains: bool
    breaks: bool
    touchable: bool
    insulated: bool
    by_rms: bool

    @property
    def one_way(self) -> bool:
        """Whether it blocks one way."""
        return self.passage is Passage.RECTIFIES or self.passage is Passage.CLAMPS

    @property
    def blocks(self) -> bool:
        """Whether it passes nothing at all in some state, and is solved as a port."""
        return self.one_way or self.stamp in (Stamp.GLOW, Stamp.GATED)

    @property
    def steered(self) -> bool:
        """Whether another lead says how much it conducts."""
        return self.passage is Passage.STEERED

    @property
    def metal(self) -> bool:
        """Whether it conducts both ways when closed, as an ohmmeter sees it."""
        return self.passage is Passage.METAL

    @property
    def supplies(self) -> bool:
        """Whether direct current may come from it: a source, a rectifying diode."""
        return self.passage is Passage.DRIVES or self.passage is Passage.RECTIFIES

    @property
    def by_hand(self) -> bool:
        """Whether it is a pole of a switch."""
        return self.contact is Contact.HAND

    @property
    def opens(self) -> bool:
        """Whether it is a contact, thrown by hand or by a plug."""
        return self.contact is not Contact.NONE

    @property
    def coil(self) -> bool:
        """Whether it is wound: DC passes with hardly a drop, AC does not."""
        return self.ohms is Ohms.COIL

    @property
    def steady(self) -> bool:
        """Whether it is a resistance that one chose: a resistor, a pot's track."""
        return self.ohms is Ohms.STEADY


def _traits(kind: PartKind) -> Traits:
    match kind:
        case PartKind.RESISTOR:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.STEADY, stamp=Stamp.CONDUCTANCE,
                unit="ohm", needs_value=True, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=True, oriented=False, drains=True,
                breaks=False, touchable=False, insulated=False, by_rms=False,
            )  # fmt: skip
        case PartKind.CAPACITOR:
            return Traits(
                passage=Passage.NONE, ohms=Ohms.ABSENT, stamp=Stamp.CAPACITANCE,
                unit="farad", needs_value=True, holds=Holds.NEVER, contact=Contact.NONE,
                suffers=(*_BOTH, Suffers.LEAK), series=False, oriented=False, drains=False,
                breaks=False, touchable=False, insulated=True, by_rms=True,
            )  # fmt: skip
        case PartKind.INDUCTOR:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.COIL, stamp=Stamp.INDUCTANCE,
                unit="henry", needs_value=True, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=True, oriented=False, drains=True,
                breaks=False, touchable=False, insulated=True, by_rms=False,
            )  # fmt: skip
        case PartKind.DIODE:
            return Traits(
                passage=Passage.RECTIFIES, ohms=Ohms.ABSENT, stamp=Stamp.JUNCTION,
                unit=None, needs_value=False, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=True, drains=True,
                breaks=False, touchable=False, insulated=True, by_rms=False,
            )  # fmt: skip
        case PartKind.LED:
            return Traits(
                passage=Passage.CLAMPS, ohms=Ohms.ABSENT, stamp=Stamp.THRESHOLD,
                unit=None, needs_value=False, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=True, drains=True,
                breaks=False, touchable=False, insulated=True, by_rms=False,
            )  # fmt: skip
        case PartKind.ZENER:
            return Traits(
                passage=Passage.CLAMPS, ohms=Ohms.ABSENT, stamp=Stamp.ZENER,
                unit="volt", needs_value=True, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=True, drains=False,
                breaks=False, touchable=False, insulated=True, by_rms=False,
            )  # fmt: skip
        case PartKind.FUSE:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.NIL, stamp=Stamp.CONDUCTANCE,
                unit=None, needs_value=False, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_OPENS, series=True, oriented=False, drains=True,
                breaks=False, touchable=False, insulated=False, by_rms=True,
            )  # fmt: skip
        case PartKind.SWITCH:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.NIL, stamp=Stamp.CONDUCTANCE,
                unit=None, needs_value=False, holds=Holds.CLOSED, contact=Contact.HAND,
                suffers=_THROWN, series=True, oriented=False, drains=True,
                breaks=True, touchable=False, insulated=False, by_rms=True,
            )  # fmt: skip
        case PartKind.THERMISTOR:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.WARMS, stamp=Stamp.CONDUCTANCE,
                unit="ohm", needs_value=True, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=True, oriented=False, drains=True,
                breaks=False, touchable=False, insulated=False, by_rms=False,
            )  # fmt: skip
        case PartKind.LAMP:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.WARMS, stamp=Stamp.CONDUCTANCE,
                unit="ohm", needs_value=True, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=False, drains=True,
                breaks=False, touchable=False, insulated=False, by_rms=True,
            )  # fmt: skip
        case PartKind.SPEAKER:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.WARMS, stamp=Stamp.CONDUCTANCE,
                unit="ohm", needs_value=True, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=False, drains=True,
                breaks=False, touchable=True, insulated=False, by_rms=True,
            )  # fmt: skip
        case PartKind.JACK:
            return Traits(
                passage=Passage.NONE, ohms=Ohms.ABSENT, stamp=Stamp.OPEN,
                unit=None, needs_value=False, holds=Holds.NEVER, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=False, drains=True,
                breaks=True, touchable=False, insulated=False, by_rms=True,
            )  # fmt: skip
        case PartKind.SOURCE:
            return Traits(
                passage=Passage.DRIVES, ohms=Ohms.NIL, stamp=Stamp.VOLTAGE,
                unit="volt", needs_value=True, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=(), series=False, oriented=True, drains=False,
                breaks=False, touchable=False, insulated=False, by_rms=False,
            )  # fmt: skip
        case PartKind.HEATER:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.WARMS, stamp=Stamp.CONDUCTANCE,
                unit="ohm", needs_value=True, holds=Holds.CLOSED, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=False, drains=True,
                breaks=False, touchable=False, insulated=False, by_rms=True,
            )  # fmt: skip
        case PartKind.WINDING:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.COIL, stamp=Stamp.COUPLED,
                unit="volt", needs_value=True, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=True, drains=True,
                breaks=False, touchable=False, insulated=True, by_rms=True,
            )  # fmt: skip
        case PartKind.POT:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.STEADY, stamp=Stamp.CONDUCTANCE,
                unit="ohm", needs_value=True, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=(*_BOTH, Suffers.WIPER), series=True, oriented=True, drains=True,
                breaks=False, touchable=False, insulated=False, by_rms=False,
            )  # fmt: skip
        case PartKind.CONTACT:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.NIL, stamp=Stamp.CONDUCTANCE,
                unit=None, needs_value=False, holds=Holds.CLOSED, contact=Contact.HAND,
                suffers=_THROWN, series=True, oriented=True, drains=True,
                breaks=False, touchable=False, insulated=False, by_rms=False,
            )  # fmt: skip
        case PartKind.ARRESTER:
            return Traits(
                passage=Passage.NONE, ohms=Ohms.ABSENT, stamp=Stamp.OPEN,
                unit="volt", needs_value=False, holds=Holds.NEVER, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=False, drains=False,
                breaks=False, touchable=False, insulated=True, by_rms=False,
            )  # fmt: skip
        case PartKind.BARRETTER:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.WARMS, stamp=Stamp.CONDUCTANCE,
                unit="ohm", needs_value=True, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=True, oriented=False, drains=True,
                breaks=False, touchable=False, insulated=False, by_rms=True,
            )  # fmt: skip
        case PartKind.PHOTOCELL:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.WARMS, stamp=Stamp.CONDUCTANCE,
                unit="ohm", needs_value=True, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=True, oriented=False, drains=True,
                breaks=False, touchable=False, insulated=False, by_rms=False,
            )  # fmt: skip
        case PartKind.CRYSTAL:
            return Traits(
                passage=Passage.NONE, ohms=Ohms.ABSENT, stamp=Stamp.OPEN,
                unit="hertz", needs_value=False, holds=Holds.NEVER, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=False, drains=False,
                breaks=False, touchable=False, insulated=True, by_rms=False,
            )  # fmt: skip
        case PartKind.THYRISTOR:
            return Traits(
                passage=Passage.NONE, ohms=Ohms.ABSENT, stamp=Stamp.GATED,
                unit=None, needs_value=False, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=True, drains=False,
                breaks=False, touchable=False, insulated=False, by_rms=True,
            )  # fmt: skip
        case PartKind.TRIGGER:
            return Traits(
                passage=Passage.NONE, ohms=Ohms.ABSENT, stamp=Stamp.GATED,
                unit="volt", needs_value=False, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=True, drains=False,
                breaks=False, touchable=False, insulated=False, by_rms=False,
            )  # fmt: skip
        case PartKind.VIBRATOR:
            return Traits(
                passage=Passage.NONE, ohms=Ohms.ABSENT, stamp=Stamp.CHOPPED,
                unit="volt", needs_value=False, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=(), series=False, oriented=True, drains=False,
                breaks=False, touchable=False, insulated=False, by_rms=True,
            )  # fmt: skip
        case PartKind.METER:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.STEADY, stamp=Stamp.CONDUCTANCE,
                unit="ohm", needs_value=True, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=True, oriented=False, drains=True,
                breaks=False, touchable=False, insulated=False, by_rms=False,
            )  # fmt: skip
        case PartKind.RELAY:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.STEADY, stamp=Stamp.CONDUCTANCE,
                unit="ohm", needs_value=True, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=False, drains=True,
                breaks=False, touchable=False, insulated=False, by_rms=True,
            )  # fmt: skip
        case PartKind.CHANNEL:
            return Traits(
                passage=Passage.STEERED, ohms=Ohms.ABSENT, stamp=Stamp.LAW,
                unit=None, needs_value=False, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=_BOTH, series=False, oriented=True, drains=False,
                breaks=False, touchable=False, insulated=False, by_rms=False,
            )  # fmt: skip
        case PartKind.GATE:
            return Traits(
                passage=Passage.NONE, ohms=Ohms.ABSENT, stamp=Stamp.OPEN,
                unit=None, needs_value=False, holds=Holds.NEVER, contact=Contact.NONE,
                suffers=(Suffers.SHORT,), series=False, oriented=True, drains=False,
                breaks=False, touchable=False, insulated=True, by_rms=False,
            )  # fmt: skip
        case PartKind.BASE:
            return Traits(
                passage=Passage.STEERED, ohms=Ohms.ABSENT, stamp=Stamp.LAW,
                unit=None, needs_value=False, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=(Suffers.SHORT,), series=False, oriented=True, drains=False,
                breaks=False, touchable=False, insulated=False, by_rms=False,
            )  # fmt: skip
        case PartKind.JACK_CONTACT:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.NIL, stamp=Stamp.CONDUCTANCE,
                unit=None, needs_value=False, holds=Holds.CLOSED, contact=Contact.PLUG,
                suffers=_THROWN, series=True, oriented=False, drains=True,
                breaks=False, touchable=False, insulated=False, by_rms=False,
            )  # fmt: skip
        case PartKind.PLUG:
            return Traits(
                passage=Passage.METAL, ohms=Ohms.NIL, stamp=Stamp.CONDUCTANCE,
                unit=None, needs_value=False, holds=Holds.CLOSED, contact=Contact.PLUG,
                suffers=_THROWN, series=True, oriented=True, drains=True,
                breaks=False, touchable=False, insulated=False, by_rms=True,
            )  # fmt: skip
        case PartKind.SIGNAL:
            return Traits(
                passage=Passage.NONE, ohms=Ohms.ABSENT, stamp=Stamp.CONDUCTANCE,
                unit=None, needs_value=False, holds=Holds.ALWAYS, contact=Contact.NONE,
                suffers=(), series=False, oriented=False, drains=False,
                breaks=False, touchable=True, insulated=False, by_rms=False,
            )  # fmt: skip
        case _:
            assert_never(kind)


TRAITS = {kind: _traits(kind) for kind in PartKind}
GLOWING = replace(
    TRAITS[PartKind.LAMP], passage=Passage.NONE, ohms=Ohms.ABSENT, stamp=Stamp.GLOW,
    unit=None, needs_value=False, drains=False,
)  # fmt: skip
"""A neon of which no figures are written, among lamps."""
