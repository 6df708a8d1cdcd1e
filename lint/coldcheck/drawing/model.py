"""What a drawing says: statements, each with the place it stands at.

Nothing here knows what a tube type is or which leads exist; that is the circuit's business. All
values carry units (pint, the project's own registry). ``None`` means "not given"; a value
written ``?`` is named in ``unknown``.
"""

from __future__ import annotations

from dataclasses import field
from enum import Enum
from typing import TYPE_CHECKING, TypeAlias

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from coldcheck.drawing.kinds import PartKind
    from coldcheck.drawing.units import Quantity


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A stretch of one physical line; lines and columns count from 1, the end is exclusive."""

    file: str
    line: int
    column: int
    end_column: int


@dataclass(frozen=True, slots=True)
class Problem:
    """Something in the text that could not be read, as data; the report makes the words.

    ``rule`` is a ``drawing.*`` identifier. ``source_line`` is the physical line, for the caret.
    """

    span: Span
    rule: str
    found: str
    expected: str
    hint: str = ""
    source_line: str = ""


@dataclass(frozen=True, slots=True)
class Point:
    """A place on the circuit as written: ``B1``, ``V1A.plate``, ``T1.warm.ct`` or ``V3:8``.

    ``lead`` is what follows the first dot (``warm.ct``), ``pin`` what follows the colon.
    """

    owner: str
    lead: str | None
    pin: str | None
    span: Span

    @property
    def text(self) -> str:
        """The point as a drawing would write it."""
        if self.pin is not None:
            return f"{self.owner}:{self.pin}"
        return self.owner if self.lead is None else f"{self.owner}.{self.lead}"


@dataclass(frozen=True, slots=True)
class Part:
    """A two-lead part written in brackets on a wire; its leads are the points beside it.

    kind
        One of ``coldcheck.drawing.kinds.FORMS``.
    value
        The main value: ohm, farad, henry; volt for a source or a zener; ampere for a fuse.
    voltage, voltage_is_ac
        Working voltage, and whether it was written ``Vac``.
    plus
        ``"left"`` or ``"right"``: where the + is drawn (electrolytics, sources).
    arrow
        ``"right"`` or ``"left"``: direction of conduction of a diode.
    unknown
        Names of the fields written as ``?`` (today only ``"value"``).
    insulation
        What the winding of a choke stands against its core.
    """

    name: str
    kind: PartKind
    span: Span
    value: Quantity | None = None
    power: Quantity | None = None
    voltage: Quantity | None = None
    voltage_is_ac: bool = False
    current: Quantity | None = None
    resistance: Quantity | None = None
    tolerance: float | None = None
    safety_class: str | None = None
    type: str | None = None
    open: bool = False
    plus: str | None = None
    arrow: str | None = None
    unknown: frozenset[str] = frozenset()
    words: tuple[str, ...] = ()
    insulation: Quantity | None = None


@dataclass(frozen=True, slots=True)
class Chain:
    """One wiring statement: points joined by wires (``None``) and parts.

    ``len(points) == len(links) + 1``; a point is ``None`` where two parts meet without a name.
    """

    points: tuple[Point | None, ...]
    links: tuple[Part | None, ...]
    span: Span


@dataclass(frozen=True, slots=True)
class Title:
    """``drawing "..."``."""

    text: str
    span: Span


@dataclass(frozen=True, slots=True)
class Mains:
    """``mains 120 V 60 Hz tolerance 10 %``; tolerance as a fraction, ``None`` where not said."""

    voltage: Quantity
    frequency: Quantity
    tolerance: float | None
    span: Span


@dataclass(frozen=True, slots=True)
class WindingLine:
    """``primary NAME V ...`` or ``winding NAME V [ct [V]] A ohm`` under a transformer.

    ``voltages`` has one entry, or two where the halves were written apart (``250 V ct 250 V``),
    or none where they are not known (``?``);
    ``tapped`` says that there is a ``ct`` lead. ``6.3 V ct`` is 6.3 V overall, ``tapped``, one
    entry. ``dot`` is the lead with the polarity dot, ``"1"`` or ``"2"``; ``insulation`` what the
    winding stands against the core and the other windings. ``taps`` has the taps of each entry of
    ``voltages``, in rising order: counted from lead 1, those of halves from ``ct``.
    """

    name: str
    primary: bool
    voltages: tuple[Quantity, ...]
    tapped: bool
    current: Quantity | None
    resistance: Quantity | None
    span: Span
    dot: str = "1"
    insulation: Quantity | None = None
    taps: tuple[tuple[Quantity, ...], ...] = ()

    @property
    def sizes(self) -> tuple[Quantity, ...]:
        """By what its parts are compared: the voltages."""
        return self.voltages


class Measure(Enum):
    """By what the windings of a signal transformer are compared."""

    TURNS = "turns"
    IMPEDANCE = "impedance"
    HENRIES = "henries"
    UNKNOWN = "unknown"
    """Written ``?``: beside windings in volts it is one of those."""


@dataclass(frozen=True, slots=True)
class CoilLine:
    """``winding NAME 3 turns ct 2000 ohm`` under a transformer for signals, or a coil.

    ``sizes`` (turns, impedance or henries, as ``measure`` says) has one entry, or two where the
    halves were written apart, and ``taps`` those below each entry, as in :class:`WindingLine`; it
    has none where the size is not known.
    ``henries`` is the inductance where it is given besides; ``current`` is the rated DC.
    """

    name: str
    primary: bool
    measure: Measure
    sizes: tuple[Quantity, ...]
    taps: tuple[tuple[Quantity, ...], ...]
    tapped: bool
    henries: Quantity | None
    current: Quantity | None
    resistance: Quantity | None
    dot: str
    insulation: Quantity | None
    span: Span


@dataclass(frozen=True, slots=True)
class TransformerLine:
    """``transformer T1 [coupling 2 %] [gapped|ungapped]``; the coupling is a fraction."""

    name: str
    span: Span
    coupling: float | None = None
    gapped: bool | None = None


@dataclass(frozen=True, slots=True)
class TubeLine:
    """``tube V1 12AX7 heater T1.warm [series|parallel]``."""

    name: str
    type: str
    type_span: Span
    heater: Point | None
    heater_mode: str | None
    span: Span


@dataclass(frozen=True, slots=True)
class OutputLine:
    """``output T2 5k [ct] [taps 40 %] : 8 ohm [210 ohm] [12 H]``; leads p1 [ct] [u1 u2] p2 s1 s2.

    ``tap`` is the ultra-linear tap as a fraction of a half primary, counted from ``ct``.
    ``dots`` are the leads with the polarity dot: that of the primary, that of the secondary.
    ``current`` is the rated DC of the primary, ``gapped`` whether the core has an air gap for it
    (``None``: not said). ``secondary`` is the whole secondary, ``steps`` the impedances of its
    taps, in rising order from ``s1``.
    """

    name: str
    primary: Quantity
    secondary: Quantity
    resistance: Quantity | None
    inductance: Quantity | None
    tapped: bool
    tap: float | None
    span: Span
    dots: tuple[str, ...] = ("p1", "s1")
    current: Quantity | None = None
    gapped: bool | None = None
    steps: tuple[Quantity, ...] = ()


@dataclass(frozen=True, slots=True)
class ReverbLine:
    """``reverb TK1 8 ohm 0.8 ohm : 2k2 200 ohm``: a spring tank, its two coils.

    Each is ``drive`` or ``recovery``, by the impedance it has at 1 kHz, and the ohms of its wire.
    """

    name: str
    coils: tuple[CoilLine, CoilLine]
    span: Span


class Taper(Enum):
    """How the resistance below the wiper goes with the turn; marked on most pots."""

    LINEAR = "linear"
    LOG = "log"
    REVERSE_LOG = "reverse-log"

    def share(self, turn: float) -> float:
        """The share of the track below the wiper after a share of the turn from the bottom.

        Two straight lines, as a carbon track is made: a tenth at half the turn (audio taper: 10 %
        in makers' and wholesalers' notes; 15 and 20 % are made as well).
        """
        match self:
            case Taper.LINEAR:
                return turn
            case Taper.LOG:
                return _bent(turn)
            case Taper.REVERSE_LOG:
                return 1 - _bent(1 - turn)


HALF_TURN = 0.1


def _bent(turn: float) -> float:
    low = 2 * HALF_TURN * turn
    return low if turn <= 1 / 2 else HALF_TURN + (1 - HALF_TURN) * (2 * turn - 1)


@dataclass(frozen=True, slots=True)
class PotLine:
    """``pot P1 500k [log] [tap 30 %] [ganged P2] [at 50 %]``; leads top, wiper, bottom, taps.

    ``at`` is the turn from the bottom, 0..1; ``taps`` are shares of the track from the bottom, in
    rising order; ``ganged`` is the pot on whose shaft it is, and where that stands it stands.
    """

    name: str
    value: Quantity | None
    at: float
    power: Quantity | None
    span: Span
    taper: Taper = Taper.LINEAR
    taps: tuple[float, ...] = ()
    ganged: str | None = None

    @property
    def leads(self) -> tuple[str, ...]:
        """Its leads: ``tap``, or ``tap1`` and ``tap2`` from the bottom."""
        count = len(self.taps)
        taps = ("tap",) if count == 1 else tuple(f"tap{n}" for n in range(1, count + 1))
        return ("top", "wiper", "bottom", *taps)

    @property
    def shares(self) -> tuple[tuple[str, float], ...]:
        """Every lead with its share of the track from the bottom, from the top down."""
        fixed = zip(self.leads[3:], self.taps, strict=True)
        below = [("bottom", 0.0), *fixed, ("wiper", self.taper.share(self.at))]
        return (("top", 1.0), *sorted(below, key=lambda lead: lead[1])[::-1])


@dataclass(frozen=True, slots=True)
class SwitchLine:
    """``switch S1 spdt at 1``; leads common 1 2, or a.common a.1 a.2 b.common b.1 b.2.

    ``layout`` is what the trade calls it: poles and throws, ``spdt``, ``2p5t``; ``at`` the
    operating position (of a single throw 1 is closed, 2 is open). ``voltage`` and ``current`` are
    the rating of its contacts, ``voltage_is_ac`` says that the voltage was written ``Vac``.
    """

    name: str
    layout: str
    at: int
    span: Span
    voltage: Quantity | None = None
    voltage_is_ac: bool = False
    current: Quantity | None = None

    @property
    def poles(self) -> tuple[str, ...]:
        """What stands before the leads of each pole: nothing, or ``a.``, ``b.``, ..."""
        return _poles(self.layout)

    @property
    def throws(self) -> int:
        """How many contacts a pole has."""
        return _throws(self.layout)

    @property
    def contacts(self) -> tuple[tuple[str, int], ...]:
        """Every contact: what stands before its pole's leads, and its position."""
        return tuple((pole, n) for pole in self.poles for n in range(1, self.throws + 1))

    @property
    def ends(self) -> tuple[str, ...]:
        """The leads of a pole, as they are written behind what its pole begins with."""
        return ("common", *map(str, range(1, self.throws + 1)))


def _counted(word: str) -> int:
    return {"s": 1, "d": 2}.get(word) or int(word)


def _poles(layout: str) -> tuple[str, ...]:
    count = _counted(layout.partition("p")[0])
    return ("",) if count == 1 else tuple(f"{chr(ord('a') + n)}." for n in range(count))


def _throws(layout: str) -> int:
    return _counted(layout.partition("p")[2].removesuffix("t"))


@dataclass(frozen=True, slots=True)
class RelayLine:
    """``relay K1 dpdt 12 V 250 ohm [contacts 250 Vac 5 A] [delay 45 s] [released]``.

    Leads coil.1 coil.2 and common no nc, or a.common a.no a.nc b.common ...; ``coil`` is the
    voltage of the coil, ``coil_is_ac`` that it is one for AC, ``ohms`` its resistance (of AC its
    impedance). ``delay`` is the time that its contacts are late; ``released`` says that it is at
    rest while the set works. ``voltage`` and ``current`` are the rating of its contacts.
    """

    name: str
    layout: str
    coil: Quantity
    coil_is_ac: bool
    ohms: Quantity | None
    span: Span
    delay: Quantity | None = None
    released: bool = False
    voltage: Quantity | None = None
    voltage_is_ac: bool = False
    current: Quantity | None = None

    @property
    def poles(self) -> tuple[str, ...]:
        """What stands before the leads of each pole: nothing, or ``a.``, ``b.``, ..."""
        return _poles(self.layout)

    @property
    def ends(self) -> tuple[str, ...]:
        """The leads of a pole: the contact that makes, and of a change-over that which breaks."""
        return ("common", "no") if _throws(self.layout) == 1 else ("common", "no", "nc")

    @property
    def leads(self) -> tuple[str, ...]:
        """Every lead, the coil's first."""
        return ("coil.1", "coil.2", *(pole + end for pole in self.poles for end in self.ends))


@dataclass(frozen=True, slots=True)
class BridgeLine:
    """``bridge BR1 400 V 4 A``: four diodes in one block, leads ac1 ac2 plus minus.

    ``part`` is what is written on it, as on a diode: volts and type are those of each diode (volts
    written ``Vac`` are the rms across ac1 and ac2), amperes the DC of the block.
    """

    name: str
    part: Part
    span: Span


class Compound(Enum):
    """What a part in one case is that has several two-lead parts in it."""

    OPTOCOUPLER = "optocoupler"
    THYRISTOR = "thyristor"
    TRIAC = "triac"
    VIBRATOR = "vibrator"
    BALLAST = "ballast"
    MAINS_PLUG = "mains plug"
    CONNECTOR = "connector"

    __hash__ = object.__hash__


@dataclass(frozen=True, slots=True)
class Inner:
    """One two-lead part of a compound, and the leads of the compound that it lies between."""

    part: Part
    ends: tuple[str, str]


@dataclass(frozen=True, slots=True)
class CompoundLine:
    """``optocoupler OC1 led 20 mA cell 10M 500 ohm``: several two-lead parts in one case.

    Its parts are called after it: ``OC1.lamp``, ``OC1.cell``. ``more`` are leads without a part;
    ``frequency`` is that of a vibrator, where it is written.
    """

    name: str
    sort: Compound
    inside: tuple[Inner, ...]
    span: Span
    more: tuple[str, ...] = ()
    frequency: Quantity | None = None

    @property
    def leads(self) -> tuple[str, ...]:
        """Every lead, in the order of the parts."""
        own = (end for inner in self.inside for end in inner.ends)
        return tuple(dict.fromkeys((*self.more, *own)))


@dataclass(frozen=True, slots=True)
class TransistorLine:
    """``transistor Q1 IRF840 [heatsink 4 K/W]``, ``regulator U1 LM317``.

    ``sink`` is the thermal resistance of what it is screwed to, ``None`` where nothing is said.
    """

    name: str
    type: str
    type_span: Span
    sink: Quantity | None
    span: Span
    regulates: bool = False


BRIDGE_LEADS = ("ac1", "ac2", "plus", "minus")


@dataclass(frozen=True, slots=True)
class JackLine:
    """``jack J1``; leads tip, sleeve, ring, switch (the contact the plug lifts from tip).

    ``plugged``: whether a plug is in, in operation; ``None``: as what hangs on the tip says.
    """

    name: str
    span: Span
    voltage: Quantity | None = None
    voltage_is_ac: bool = False
    current: Quantity | None = None
    plugged: bool | None = None


@dataclass(frozen=True, slots=True)
class SignalLine:
    """``signal IN 0.4 V 1 kHz``: drives the point against gnd."""

    name: str
    voltage: Quantity
    frequency: Quantity | None
    span: Span


@dataclass(frozen=True, slots=True)
class TypeLine:
    """``type MY6V6 like 6V6GT [heater 12.6 V 0.225 A] [base "octal 7AC"] [pins "1 nc 2 h1 ..."]``.

    ``heater`` is its volts and amperes, ``pins`` the text between the quotes.
    """

    name: str
    like: str
    span: Span
    heater: tuple[Quantity, Quantity] | None = None
    base: str | None = None
    pins: str | None = None


@dataclass(frozen=True, slots=True)
class RatingLine:
    """``rating plate-voltage 400 V`` under a type; the circuit knows the names."""

    name: str
    value: Quantity
    span: Span


@dataclass(frozen=True, slots=True)
class Expect:
    """``expect V2.cathode = 12.5 V within 10 %`` (also below, above, between; ``in STATE``).

    point
        What it is expected of: a point, or the part, tube or winding.
    low, high
        The bounds the designer allows, in the unit of the quantity; ``None`` is unbounded.
    quantity
        voltage (DC), current, dissipation, gain (a plain ratio), ripple (rms), drain (seconds).
    other
        The point a voltage is measured from (else ``gnd``), or the source a gain is counted from.
    """

    point: Point
    low: Quantity | None
    high: Quantity | None
    state: str | None
    text: str
    span: Span
    quantity: str = "voltage"
    other: Point | None = None

    @property
    def what(self) -> str:
        """What is expected, without the bounds: ``B1 - B2``, ``ripple B1``, ``gain IN to LS1``."""
        here, other = self.point.text, "" if self.other is None else self.other.text
        if self.quantity == "voltage":
            return f"{here} - {other}" if other else here
        return f"{self.quantity} {other} to {here}" if other else f"{self.quantity} {here}"


@dataclass(frozen=True, slots=True)
class Accept:
    """``accept RULE at PLACE because "..." [until 2027-06-30]``."""

    rule: str
    place: str
    reason: str
    until: date | None
    span: Span


@dataclass(frozen=True, slots=True)
class SheetLine:
    """``sheet "channel.tube" as L joining B1, gnd, IN = IN_L``.

    ``joints`` are (point inside the sheet, point here); only those are common to both.
    A drawing read from its file has the sheet's statements in the place of this line.
    """

    path: str
    path_span: Span
    name: str
    joints: tuple[tuple[Point, Point], ...]
    span: Span


Statement: TypeAlias = (
    Chain
    | Title
    | Mains
    | WindingLine
    | CoilLine
    | TransformerLine
    | TubeLine
    | OutputLine
    | ReverbLine
    | PotLine
    | SwitchLine
    | RelayLine
    | BridgeLine
    | CompoundLine
    | TransistorLine
    | JackLine
    | SignalLine
    | TypeLine
    | RatingLine
    | Expect
    | Accept
    | SheetLine
)


@dataclass(frozen=True, slots=True)
class Drawing:
    """A whole file: its statements in order, its lines, and what could not be read.

    ``sheets`` are the lines of the files its sheets were read from, by the name of the file. The
    statements of a sheet stand among the others under the name of their instance (``L/R1``); the
    places of theirs are in the sheet's file. A sheet that could not be opened has no lines.
    """

    file: str
    lines: tuple[str, ...]
    statements: tuple[Statement, ...]
    problems: tuple[Problem, ...] = field(default=())
    sheets: Mapping[str, tuple[str, ...]] = field(default_factory=dict, hash=False)

    @property
    def files(self) -> tuple[str, ...]:
        """Every file it was made from, its own first."""
        return (self.file, *self.sheets)

    def line(self, span: Span) -> str:
        """The physical line a place is in, empty where it is in no file of this drawing."""
        lines = self.lines if span.file == self.file else self.sheets.get(span.file, ())
        return lines[span.line - 1] if 1 <= span.line <= len(lines) else ""

    @property
    def title(self) -> str:
        """The title statement's text, or an empty string."""
        return next((s.text for s in self.statements if isinstance(s, Title)), "")
