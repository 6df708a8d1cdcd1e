"""The kinds of parts, and of those in brackets: reference letters, words, fields."""

from __future__ import annotations

import re
from dataclasses import field
from difflib import get_close_matches
from enum import Enum
from functools import lru_cache
from typing import assert_never

from coldcheck.records import dataclass


class PartKind(Enum):
    """Every kind of thing with two ends: on a wire, and what declared parts are made of.

    One list for the drawing (``Part.kind``) and the circuit (``Branch.kind``). ``form`` below says
    how each is written; what it does electrically is in ``coldcheck.circuit.kinds``. A plain enum,
    so that a comparison with a bare word is an error to the type checker and not merely false;
    ``value`` is the word the language and every report use.
    """

    RESISTOR = "resistor"
    CAPACITOR = "capacitor"
    INDUCTOR = "inductor"
    DIODE = "diode"
    LED = "led"
    ZENER = "zener"
    FUSE = "fuse"
    SWITCH = "switch"
    THERMISTOR = "thermistor"
    LAMP = "lamp"
    SPEAKER = "speaker"
    JACK = "jack"
    SOURCE = "source"
    HEATER = "heater"
    WINDING = "winding"
    """A winding of a transformer, or its part between two leads."""
    POT = "pot"
    """A pot's track on one side of its wiper."""
    CONTACT = "contact"
    """A pole of a declared switch, or a link between two pins in a tube."""
    RELAY = "relay"
    """The coil of a relay, or what heats one that is late; its contacts are those of a switch."""
    METER = "meter"
    """An instrument in the circuit: its resistance, and what takes its pointer to the end."""
    ARRESTER = "arrester"
    """A varistor, spark gap or gas arrester: it conducts in surges only."""
    BARRETTER = "barretter"
    """A ballast tube in a line of heaters: it holds its current over a range of volts."""
    PHOTOCELL = "photocell"
    """A light-dependent resistor: its ohms in the dark, and those in the light of its lamp."""
    CRYSTAL = "crystal"
    """A quartz crystal: no direct current, and near its frequency alone a way for a signal."""
    THYRISTOR = "thyristor"
    """A thyristor or triac between its main leads: off, or fired by its gate."""
    TRIGGER = "trigger"
    """The gate of a thyristor or triac, to the lead that its current flows back by."""
    VIBRATOR = "vibrator"
    """A vibrator between the two contacts that chop a battery into a winding."""
    CHANNEL = "channel"
    """A transistor from drain to source or collector to emitter, a regulator from in to out."""
    GATE = "gate"
    """A gate, insulated or a junction that blocks, to its source."""
    BASE = "base"
    """A transistor's base to its emitter, what a regulator measures its output by."""
    JACK_CONTACT = "jack-contact"
    PLUG = "plug"
    """A way of a plug and its socket: of a connector, or of a mains plug that can be turned."""
    SIGNAL = "signal"

    # Members are the only ones of their class: the object's own hash is right, and Enum's is
    # written in Python, which the rules' walks over a circuit would pay for at every branch.
    __hash__ = object.__hash__


@dataclass(frozen=True, slots=True)
class Form:
    """What a two-lead part of a kind may carry in its bracket.

    ``main`` is the unit of its value (``None``: it has none), ``fields`` maps other units to the
    field of Part they fill, ``needs_value`` says that a value or ``?`` must be written.
    ``typed``: a type may say the rest; ``numbered``: a number of the trade may, ``#47``.
    """

    kind: PartKind
    article: str
    main: str | None = None
    needs_value: bool = False
    fields: dict[str, str] = field(default_factory=dict)
    plus: bool = False
    arrow: bool = False
    typed: bool = False
    numbered: bool = False
    insulated: bool = False


_RATING = {"volt": "voltage", "watt": "power", "percent": "tolerance"}
_V_A = {"volt": "voltage", "ampere": "current"}


def form(kind: PartKind) -> Form | None:
    """How a kind is written in a bracket; ``None`` for what has a statement of its own."""
    match kind:
        case PartKind.RESISTOR:
            return Form(kind, "a resistor", "ohm", True, _RATING)
        case PartKind.CAPACITOR:
            fields = {**_V_A, "percent": "tolerance"}
            return Form(kind, "a capacitor", "farad", True, fields, plus=True)
        case PartKind.INDUCTOR:
            fields = {"ampere": "current", "ohm": "resistance"}
            return Form(kind, "an inductor", "henry", True, fields, insulated=True)
        case PartKind.DIODE:
            fields = {**_V_A, "watt": "power"}
            return Form(kind, "a diode", fields=fields, arrow=True, typed=True)
        case PartKind.LED:
            fields = {"ampere": "current", "watt": "power"}
            article = "a light-emitting diode"
            return Form(kind, article, "volt", fields=fields, arrow=True, typed=True)
        case PartKind.ZENER:
            fields = {"ampere": "current", "watt": "power", "percent": "tolerance"}
            return Form(kind, "a zener diode", "volt", True, fields, arrow=True, typed=True)
        case PartKind.FUSE:
            return Form(kind, "a fuse", "ampere", True, {"volt": "voltage"})
        case PartKind.SWITCH:
            return Form(kind, "a switch", fields=_V_A)
        case PartKind.THERMISTOR:
            return Form(
                kind,
                "a thermistor",
                "ohm",
                True,
                {**_RATING, "ampere": "current", "ohm": "resistance"},
            )
        case PartKind.LAMP:
            fields = {"volt": "voltage", "ampere": "current", "watt": "power", "ohm": "resistance"}
            return Form(kind, "a lamp", fields=fields, numbered=True)
        case PartKind.SPEAKER:
            return Form(kind, "a speaker", "ohm", True, {"watt": "power"})
        case PartKind.JACK:
            return Form(kind, "a jack", fields={"volt": "voltage"})
        case PartKind.ARRESTER:
            return Form(kind, "a surge arrester", "volt", True)
        case PartKind.METER:
            return Form(kind, "a meter", "ohm", fields=_V_A)
        case PartKind.BARRETTER:
            fields = {"ampere": "current", "volt": "voltage"}
            return Form(kind, "a barretter", "volt", fields=fields)
        case PartKind.PHOTOCELL:
            fields = {"watt": "power", "volt": "voltage", "ohm": "resistance"}
            return Form(kind, "a photocell", "ohm", True, fields)
        case PartKind.CRYSTAL:
            return Form(kind, "a crystal", "hertz")
        case PartKind.SOURCE:
            fields = {"ampere": "current", "ohm": "resistance"}
            return Form(kind, "a DC source", "volt", True, fields, plus=True)
        case PartKind.HEATER:
            return Form(kind, "a heater")
        case (
            PartKind.WINDING | PartKind.POT | PartKind.CONTACT
            | PartKind.RELAY | PartKind.JACK_CONTACT | PartKind.SIGNAL | PartKind.PLUG
            | PartKind.THYRISTOR | PartKind.TRIGGER | PartKind.VIBRATOR
            | PartKind.CHANNEL | PartKind.GATE | PartKind.BASE
        ):  # fmt: skip
            return None
        case _:
            assert_never(kind)


FORMS = {kind: found for kind in PartKind if (found := form(kind)) is not None}

# Reference letters of IEEE 315 that mean a two-lead part, and those drawings use besides.
LETTERS = {
    "R": PartKind.RESISTOR, "C": PartKind.CAPACITOR,
    "VC": PartKind.CAPACITOR, "CV": PartKind.CAPACITOR, "TC": PartKind.CAPACITOR,
    "L": PartKind.INDUCTOR, "CH": PartKind.INDUCTOR,
    "D": PartKind.DIODE, "CR": PartKind.DIODE, "LED": PartKind.LED,
    "Z": PartKind.ZENER, "ZD": PartKind.ZENER, "VR": PartKind.ZENER, "F": PartKind.FUSE,
    "S": PartKind.SWITCH, "SW": PartKind.SWITCH, "E": PartKind.SOURCE, "BT": PartKind.SOURCE,
    "LS": PartKind.SPEAKER, "RT": PartKind.THERMISTOR,
    "DS": PartKind.LAMP, "PL": PartKind.LAMP, "LP": PartKind.LAMP, "NE": PartKind.LAMP,
    "MOV": PartKind.ARRESTER, "VDR": PartKind.ARRESTER, "SG": PartKind.ARRESTER,
    "LDR": PartKind.PHOTOCELL, "Y": PartKind.CRYSTAL, "XTAL": PartKind.CRYSTAL,
    "GDT": PartKind.ARRESTER, "M": PartKind.METER, "VM": PartKind.METER, "AM": PartKind.METER,
    "J": PartKind.JACK, "JK": PartKind.JACK, "FU": PartKind.FUSE, "PB": PartKind.SWITCH,
    "SR": PartKind.DIODE, "DZ": PartKind.ZENER, "RFC": PartKind.INDUCTOR,
    "NTC": PartKind.THERMISTOR, "PTC": PartKind.THERMISTOR, "TH": PartKind.THERMISTOR,
    "SP": PartKind.SPEAKER, "SPK": PartKind.SPEAKER, "LA": PartKind.LAMP,
}  # fmt: skip
KIND_WORDS = {
    **{kind.value: kind for kind in FORMS},
    "choke": PartKind.INDUCTOR, "battery": PartKind.SOURCE,
    "varistor": PartKind.ARRESTER, "mov": PartKind.ARRESTER, "spark-gap": PartKind.ARRESTER,
    "ammeter": PartKind.METER, "milliammeter": PartKind.METER, "microammeter": PartKind.METER,
    "voltmeter": PartKind.METER,
    "ntc": PartKind.THERMISTOR, "ptc": PartKind.THERMISTOR,
    "ballast": PartKind.BARRETTER,
    "ldr": PartKind.PHOTOCELL, "photoresistor": PartKind.PHOTOCELL,
    "quartz": PartKind.CRYSTAL, "xtal": PartKind.CRYSTAL,
    "bulb": PartKind.LAMP, "neon": PartKind.LAMP, "loudspeaker": PartKind.SPEAKER,
}  # fmt: skip
_NOTES = {
    **dict.fromkeys(("crystal", "xtal", "quartz"), PartKind.CAPACITOR),
    "ballast": PartKind.RESISTOR,
}
"""Words of kinds that drawings have beside these letters, for a part that is drawn so."""
OHMIC = (PartKind.RESISTOR,)
DIODES = (PartKind.DIODE, PartKind.LED, PartKind.ZENER)
TUNED = (PartKind.RESISTOR, PartKind.CAPACITOR, PartKind.INDUCTOR)
"""What a varistor, a thyristor, an adjustable part would be taken for (drawing/unsaid.py)."""

SAFETY_CLASSES = ("X1", "X2", "Y1", "Y2")
"""The classes of IEC 60384-14 in use; a part marked for both (X1/Y2) is its Y class."""
DIODE_STUFF = ("silicon", "selenium", "germanium", "schottky", "copper-oxide")
WORDS = frozenset(
(
        "film", "carbon", "metal", "oxide", "composition", "wirewound", "ceramic", "mica", "paper",
        "polyester", "polypropylene", "polystyrene", "electrolytic", "tantalum", "oil",
        "non-polar", "bipolar", "slow", "fast", "anti-surge", "time-delay", "open", "closed",
        "standby", "insulation", "fusible", "power", "mains", "signal", "bleeder", "gas",
        "iron", "air",
        *DIODE_STUFF,
    )
)  # fmt: skip
UNREAD = {
    (PartKind.HEATER, "volt"): "the volts and amperes of a heater are those of its tube's type",
    (PartKind.HEATER, "ampere"): "the volts and amperes of a heater are those of its tube's type",
    (PartKind.CAPACITOR, "ohm"): "draw its series resistance as a resistor in the same lead",
    (PartKind.FUSE, "ohm"): "a fuse is taken to have 50 mohm; draw more as a resistor in series",
    (PartKind.INDUCTOR, "volt"): "what it stands to its core is written insulation 500 V",
    (PartKind.INDUCTOR, "percent"): "chokes are taken as written",
    (PartKind.RESISTOR, "ampere"): "write what it stands in watts",
    (PartKind.JACK, "ampere"): "what is plugged in, and draws the current, is not known",
}
"""What is written on real parts and nothing here would look at: why it is refused."""
NOTED = {(PartKind.INDUCTOR, "turn")}
"""What is written beside a value and says nothing more: how a coil of so many henries is wound."""

_BY_UNIT = {
    "ohm": PartKind.RESISTOR, "farad": PartKind.CAPACITOR,
    "henry": PartKind.INDUCTOR,
}  # fmt: skip


def safety_class(word: str) -> str | None:
    """Return the class a word names: ``Y2`` of ``y2`` and of ``X1/Y2``, else ``None``.

    A capacitor fit for the place to the chassis is fit across the mains as well.
    """
    match = re.fullmatch(r"(?:(X[12])/?)?(Y[12])|(X[12])", word.upper())
    return (match[2] or match[3]) if match else None


def is_note(word: str, name: str) -> bool:
    """Whether a word that names a kind is a note beside a name's letters: a crystal as C9."""
    kind = _NOTES.get(word.lower())
    return kind is not None and LETTERS.get(letters(name)) is kind


def letters(name: str) -> str:
    """Return the reference letters a part's name begins with: ``C`` of ``C12a``."""
    match = re.match(r"[A-Za-z]+", name)
    return match[0].upper() if match else ""


def form_by_letters(name: str) -> Form | None:
    """Return the form of the kind a part's name implies, or ``None``."""
    kind = LETTERS.get(letters(name))
    return FORMS[kind] if kind else None


def form_by_unit(unit: str) -> Form | None:
    """Return the form of the kind whose value has this unit, where letters say nothing.

    Never a source: volts alone may be the rating of anything, and a source makes them.
    """
    kind = _BY_UNIT.get(unit)
    return FORMS[kind] if kind else None


@lru_cache(maxsize=1024)
def nearest_word(word: str) -> str:
    """Return the known word this one is probably a misspelling of, or an empty string."""
    known = [*KIND_WORDS, *WORDS]
    close = get_close_matches(word.lower(), known, n=1, cutoff=0.75) if len(word) > 2 else []
    return close[0] if close and close[0] != word.lower() else ""
