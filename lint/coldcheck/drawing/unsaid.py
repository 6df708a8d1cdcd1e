"""Parts of the trade that the language has no word for: known, so that none is read as another.

A relay read as a battery, or a varistor as a resistor, would be solved and judged as what it is
not. What stands here is refused by name, with what to write in its place.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import KIND_WORDS, LETTERS, PartKind, letters
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True)
class Unsaid:
    """A part without a word of its own: what it is called, and what to write instead.

    ``note``: whether the word says nothing that matters beside letters that say what is drawn.
    """

    called: str
    instead: str
    note: bool = True


_RELAY = Unsaid("a relay", "draw its contacts as a switch line, its coil as a resistor of its ohms")
_VARISTOR = Unsaid(
    "a surge arrester",
    "leave it out, and say so in a # note: it conducts in surges only and is not judged",
)
_TRANSISTOR = Unsaid(
    "a transistor", "put a source or a resistor where it holds a voltage or current"
)
_THYRISTOR = Unsaid("a thyristor", "draw a switch, or the diode it is while it conducts")
_CIRCUIT = Unsaid(
    "an integrated circuit", "put a source where it holds a voltage: B1 --+[E1 12 V]--"
)
_BRIDGE = Unsaid("a bridge block", "draw its four diodes")
_BALLAST = Unsaid("a ballast tube", "draw the resistor it is at work: its volts over its amperes")
_SET = Unsaid("an adjustable part", "write a plain R or C of the value it is set to, or a pot line",
              note=False)  # fmt: skip
_POT = Unsaid("a potentiometer", "it has a line of its own: pot P1 250k from A to B wiper W")
_TRANSFORMER = Unsaid("a transformer", "it has lines of its own: transformer T1, output T2")
_CRYSTAL = Unsaid("a crystal", "leave it out, and say so in a # note: it carries no direct current")
_PICKUP = Unsaid(
    "a microphone or pickup", "draw its resistance, and a signal line for what it gives"
)
_METER = Unsaid("a meter", "draw the resistor it is: its shunt, or its ohms per volt")
_MOTOR = Unsaid("a motor", "leave it out, or draw a lamp of its volts and watts")

_TUNING = ("variable", "trimmer", "padder", "ganged")
"""What a capacitor may be called: it is solved as written, with its plates fully in."""

_WORDS = {
    "relay": _RELAY, "contactor": _RELAY,
    "varistor": _VARISTOR, "mov": _VARISTOR, "vdr": _VARISTOR, "arrester": _VARISTOR,
    "surge": _VARISTOR, "spark-gap": _VARISTOR,
    "transistor": _TRANSISTOR, "bjt": _TRANSISTOR, "fet": _TRANSISTOR, "jfet": _TRANSISTOR,
    "mosfet": _TRANSISTOR, "npn": _TRANSISTOR, "pnp": _TRANSISTOR, "darlington": _TRANSISTOR,
    "igbt": _TRANSISTOR,
    "thyristor": _THYRISTOR, "triac": _THYRISTOR, "diac": _THYRISTOR, "scr": _THYRISTOR,
    "optocoupler": _CIRCUIT, "opamp": _CIRCUIT, "op-amp": _CIRCUIT, "regulator": _CIRCUIT,
    "bridge": _BRIDGE, "ballast": _BALLAST, "barretter": _BALLAST,
    "adjustable": _SET, "preset": _SET, "rheostat": _SET,
    **dict.fromkeys(_TUNING, _SET),
    "potentiometer": _POT, "pot": _POT,
    "transformer": _TRANSFORMER, "autotransformer": _TRANSFORMER,
    "crystal": _CRYSTAL, "microphone": _PICKUP, "pickup": _PICKUP, "cartridge": _PICKUP,
    "meter": _METER, "ammeter": _METER, "voltmeter": _METER, "galvanometer": _METER,
    "motor": _MOTOR, "fan": _MOTOR,
}  # fmt: skip

# Reference letters of IEEE 315, and those drawings use besides, of the same parts.
_LETTERS = {
    "K": _RELAY, "RLY": _RELAY, "RL": _RELAY,
    "MOV": _VARISTOR, "VDR": _VARISTOR, "SG": _VARISTOR,
    "Q": _TRANSISTOR, "TR": _TRANSISTOR, "SCR": _THYRISTOR,
    "U": _CIRCUIT, "IC": _CIRCUIT, "BR": _BRIDGE,
    "RV": _SET, "P": _POT, "POT": _POT, "T": _TRANSFORMER,
    "Y": _CRYSTAL, "XTAL": _CRYSTAL, "MK": _PICKUP, "MIC": _PICKUP, "M": _METER,
}  # fmt: skip


def unsaid_word(word: str, name: str = "") -> Unsaid | None:
    """Return the part without a word of its own that ``word`` names, or ``None``.

    Beside a ``name`` whose letters say what is drawn (a crystal as C9) such a word is a note; that
    a part is adjustable is none, since it is solved at one value: but of capacitors it is what
    tunes, and its value the largest.
    """
    known = _WORDS.get(word.lower())
    if word.lower() in _TUNING and LETTERS.get(letters(name)) is PartKind.CAPACITOR:
        return None
    return None if known is not None and known.note and letters(name) in LETTERS else known


def unsaid_name(name: str, words: Sequence[str]) -> Unsaid | None:
    """Return the part that ``name``'s letters mean where none of ``words`` says what it is."""
    if any(word.lower() in KIND_WORDS for word in words):
        return None
    mark = letters(name)
    return None if mark in LETTERS else _LETTERS.get(mark)
