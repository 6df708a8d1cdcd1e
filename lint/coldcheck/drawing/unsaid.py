"""Parts of the trade that the language has no word for: known, so that none is read as another.

A relay read as a battery, or a varistor as a resistor, would be solved and judged as what it is
not. What stands here is refused by name, with what to write in its place.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import DIODES, KIND_WORDS, LETTERS, OHMIC, TUNED, PartKind, letters
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True)
class Unsaid:
    """A part without a word of its own: what it is called, and what to write instead.

    Beside letters that say what is drawn the word is a note, except beside those of a kind it is
    ``taken_for``: a varistor is no resistor, though one writes RV and R.
    """

    called: str
    instead: str
    taken_for: tuple[PartKind, ...] = ()


_RELAY = Unsaid("a relay", "it has a line of its own, relay K1 dpdt 12 V 250 ohm, and its leads")
_VARISTOR = Unsaid(
    "a surge arrester of another kind",
    "write it as an arrester for the volts it stands: [SG1 arrester 400 V]",
    OHMIC + DIODES,
)
_TRANSISTOR = Unsaid(
    "a transistor",
    "it has a line of its own, transistor Q1 IRF840, Q1 2N5457 or Q1 2N3055, and leads: Q1.drain, "
    "Q1.gate, Q1.source, or Q1.collector, Q1.base, Q1.emitter",
    DIODES,
)
_THYRISTOR = Unsaid(
    "a thyristor",
    "it has a line of its own, thyristor SCR1 400 V 4 A or triac TR1 600 V 4 A, and leads: "
    "SCR1.anode, SCR1.cathode, SCR1.gate, TR1.mt1, TR1.mt2; a diac is left out",
    DIODES,
)
_CIRCUIT = Unsaid(
    "an integrated circuit",
    "put a source where it holds a voltage: B1 --+[E1 12 V]--; one with three leads that regulates "
    "has a line of its own, regulator U1 LM317",
)
_REGULATOR = Unsaid(
    "a regulator", "it has a line of its own, regulator U1 LM317, and leads: U1.in, U1.out, U1.adj"
)
_BRIDGE = Unsaid(
    "a bridge block",
    "it has a line of its own, bridge BR1 400 V 4 A, and leads: BR1.ac1, BR1.ac2, BR1.plus, "
    "BR1.minus",
    DIODES,
)
_SET = Unsaid("an adjustable part", "write a plain R or C of the value it is set to, or a pot line",
              TUNED)  # fmt: skip
_POT = Unsaid("a potentiometer", "it has a line of its own, pot P1 250k, and three leads", OHMIC)
_TRANSFORMER = Unsaid("a transformer", "it has lines of its own: transformer T1, output T2")
_PICKUP = Unsaid(
    "a microphone or pickup", "draw its resistance, and a signal line for what it gives"
)
_TUBE = Unsaid(
    "a tube", "it has a line of its own, tube V1 12AX7; its heater on a wire is [V1 heater]"
)
_SWITCH = Unsaid("a switch", "write it as one: [S1 switch], or switch S1 spdt with its leads")
_RECTIFIER = Unsaid("a rectifier", "draw a diode with its arrow: A --[D1 selenium 130 V]-> B")
_PHOTO = Unsaid("a cell that light steers", "draw a resistor of its ohms in the light that it has",
                OHMIC + DIODES)  # fmt: skip
_COUPLER = Unsaid(
    "an optocoupler",
    "it has a line of its own, optocoupler OC1 led 20 mA cell 10M 500 ohm, and leads: OC1.a, "
    "OC1.k, OC1.cell1, OC1.cell2",
    OHMIC + DIODES,
)
_VARACTOR = Unsaid("a varactor", "draw a capacitor of what it is set to", DIODES)
_BREAKER = Unsaid("a circuit breaker", "draw a fuse of its amperes: [F1 fuse 3 A slow]")
_CUTOUT = Unsaid("a thermal cutout", "draw a switch that is closed: [S1 switch]")
_BUZZER = Unsaid("a coil that moves something", "draw a resistor of the ohms of its wire")
_PHONES = Unsaid("headphones", "draw a speaker of their ohms: [LS1 speaker 2000 ohm]")
_MACHINE = Unsaid("a converter of voltage", "put a source in its place: B1 --+[E1 90 V]--")
_METER = Unsaid("a meter of another kind", "draw a meter of its ohms: [M1 meter 100 ohm]")
_MOTOR = Unsaid("a motor", "leave it out, or draw a lamp of its volts and watts")

_TUNING = ("variable", "trimmer", "padder", "ganged")
"""What a capacitor may be called: it is solved as written, with its plates fully in."""
_SLUGS = ("variable", "adjustable", "ganged")
"""What a coil may be called: it is solved as written, where its slug stands."""

_WORDS = {
    "relay": _RELAY, "contactor": _RELAY,
    "surge": _VARISTOR,
    "transistor": _TRANSISTOR, "bjt": _TRANSISTOR, "fet": _TRANSISTOR, "jfet": _TRANSISTOR,
    "mosfet": _TRANSISTOR, "npn": _TRANSISTOR, "pnp": _TRANSISTOR, "darlington": _TRANSISTOR,
    "igbt": _TRANSISTOR,
    "thyristor": _THYRISTOR, "triac": _THYRISTOR, "diac": _THYRISTOR, "scr": _THYRISTOR,
    "opamp": _CIRCUIT, "op-amp": _CIRCUIT, "regulator": _REGULATOR,
    "bridge": _BRIDGE,
    "adjustable": _SET, "preset": _SET, "rheostat": _SET,
    **dict.fromkeys(_TUNING, _SET),
    "potentiometer": _POT, "pot": _POT,
    "transformer": _TRANSFORMER, "autotransformer": _TRANSFORMER,
    "microphone": _PICKUP, "pickup": _PICKUP, "cartridge": _PICKUP,
    "galvanometer": _METER,
    "motor": _MOTOR, "fan": _MOTOR,
    "tube": _TUBE, "valve": _TUBE, "nixie": _TUBE, "magic-eye": _TUBE,
    **dict.fromkeys(
        ("pushbutton", "push-button", "button", "interlock", "key", "toggle", "rotary", "selector"),
        _SWITCH,
    ),
    "rectifier": _RECTIFIER, "bridge-rectifier": _BRIDGE,
    **dict.fromkeys(("photodiode", "phototransistor"), _PHOTO),
    **dict.fromkeys(("optocoupler", "opto-coupler", "vactrol"), _COUPLER),
    "varactor": _VARACTOR, "varicap": _VARACTOR,
    **dict.fromkeys(("tvs", "thyrite", "surge-suppressor"), _VARISTOR),
    "breaker": _BREAKER, "circuit-breaker": _BREAKER,
    **dict.fromkeys(("cutout", "thermal-cutout", "thermostat"), _CUTOUT),
    **dict.fromkeys(("buzzer", "bell", "chime", "solenoid"), _BUZZER),
    **dict.fromkeys(("headphone", "headphones", "phones", "earphone"), _PHONES),
    **dict.fromkeys(("vibrator", "dynamotor", "generator", "inverter", "charger"), _MACHINE),
    "thermal-relay": _RELAY, "time-delay-relay": _RELAY, "delay-relay": _RELAY,
    "wattmeter": _METER,
    "trimpot": _POT, "variac": _TRANSFORMER,
}  # fmt: skip

# Reference letters of IEEE 315, and those drawings use besides, of the same parts.
_LETTERS = {
    "K": _RELAY, "RLY": _RELAY, "RL": _RELAY,
    "Q": _TRANSISTOR, "TR": _TRANSISTOR, "SCR": _THYRISTOR,
    "U": _CIRCUIT, "IC": _CIRCUIT, "BR": _BRIDGE,
    "RV": _SET, "P": _POT, "POT": _POT, "T": _TRANSFORMER,
    "V": _TUBE, "KT": _RELAY, "RY": _RELAY, "TVS": _VARISTOR,
    "TRIAC": _THYRISTOR, "UJT": _TRANSISTOR, "REC": _RECTIFIER, "MR": _RECTIFIER,
    "CB": _BREAKER, "BZ": _BUZZER, "HP": _PHONES,
    "G": _MACHINE, "MG": _MACHINE, "B": _MOTOR, "MOT": _MOTOR,
    "TX": _TRANSFORMER, "XF": _TRANSFORMER, "XFMR": _TRANSFORMER,
    "MK": _PICKUP, "MIC": _PICKUP,
}  # fmt: skip


def unsaid_word(word: str, name: str = "") -> Unsaid | None:
    """Return the part without a word of its own that ``word`` names, or ``None``.

    Beside a ``name`` whose letters say what is drawn (a varactor as C9) such a word is a note,
    unless the part would be taken for that. That a capacitor is variable is what tunes: it is
    solved at its largest value, and a coil at the one written.
    """
    known, drawn = _WORDS.get(word.lower()), LETTERS.get(letters(name))
    if known is None or drawn is None:
        return known
    tunes = {PartKind.CAPACITOR: _TUNING, PartKind.INDUCTOR: _SLUGS}
    if word.lower() in tunes.get(drawn, ()):
        return None
    return known if drawn in known.taken_for else None


def unsaid_device(name: str, kind: str) -> Unsaid | None:
    """Return what a ``tube`` line declares that is none, by its letters or a type of JEDEC's."""
    if re.fullmatch(r"1N\d{2,4}[A-Z]*", kind):
        return _RECTIFIER
    if re.fullmatch(r"[23]N\d{2,4}[A-Z]*", kind):
        return _TRANSISTOR
    known = _LETTERS.get(letters(name))
    return known if known in (_TRANSISTOR, _CIRCUIT, _THYRISTOR) else None


def unsaid_name(name: str, words: Sequence[str]) -> Unsaid | None:
    """Return the part that ``name``'s letters mean where none of ``words`` says what it is."""
    if any(word.lower() in KIND_WORDS for word in words):
        return None
    mark = letters(name)
    return None if mark in LETTERS else _LETTERS.get(mark)
