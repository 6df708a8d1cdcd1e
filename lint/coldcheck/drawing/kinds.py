"""The kinds of two-lead parts: reference letters, kind words, and the fields each may have."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import lru_cache


@dataclass(frozen=True, slots=True)
class Kind:
    """What a kind of part may carry.

    ``main`` is the unit of its value (``None``: it has none), ``fields`` maps other units to the
    field of Part they fill, ``needs_value`` says that a value or ``?`` must be written.
    """

    name: str
    article: str
    main: str | None = None
    needs_value: bool = False
    fields: dict[str, str] = field(default_factory=dict)
    plus: bool = False
    arrow: bool = False
    typed: bool = False
    insulated: bool = False


_RATING = {"volt": "voltage", "watt": "power", "percent": "tolerance"}
_V_A = {"volt": "voltage", "ampere": "current"}
_BULB = {"volt": "voltage", "ampere": "current", "watt": "power", "ohm": "resistance"}
_LIST = (
    Kind("resistor", "a resistor", "ohm", True, _RATING),
    Kind("capacitor", "a capacitor", "farad", True,
         {**_V_A, "percent": "tolerance"}, plus=True),
    Kind("inductor", "an inductor", "henry", True,
         {"ampere": "current", "ohm": "resistance"}, insulated=True),
    Kind("diode", "a diode", fields={**_V_A, "watt": "power"}, arrow=True, typed=True),
    Kind("led", "a light-emitting diode", "volt", fields={"ampere": "current", "watt": "power"},
         arrow=True, typed=True),
    Kind("zener", "a zener diode", "volt", True,
         {"ampere": "current", "watt": "power", "percent": "tolerance"}, arrow=True, typed=True),
    Kind("fuse", "a fuse", "ampere", True, {"volt": "voltage"}),
    Kind("switch", "a switch", fields=_V_A),
    Kind("thermistor", "a thermistor", "ohm", True,
         {**_RATING, "ampere": "current", "ohm": "resistance"}),
    Kind("lamp", "a lamp", fields=_BULB),
    Kind("speaker", "a speaker", "ohm", True, {"watt": "power"}),
    Kind("jack", "a jack", fields={"volt": "voltage"}),
    Kind("source", "a DC source", "volt", True,
         {"ampere": "current", "ohm": "resistance"}, plus=True),
    Kind("heater", "a heater"),
)  # fmt: skip
KINDS = {kind.name: kind for kind in _LIST}

# Reference letters of IEEE 315 that mean a two-lead part, and those drawings use besides.
LETTERS = {
    "R": "resistor", "C": "capacitor", "L": "inductor", "CH": "inductor", "D": "diode",
    "CR": "diode", "LED": "led", "Z": "zener", "ZD": "zener", "VR": "zener", "F": "fuse",
    "S": "switch", "SW": "switch", "E": "source", "BT": "source",
    "LS": "speaker", "RT": "thermistor", "DS": "lamp", "PL": "lamp", "LP": "lamp", "NE": "lamp",
    "J": "jack",
}  # fmt: skip
KIND_WORDS = {
    **{name: name for name in KINDS},
    "choke": "inductor", "battery": "source", "ntc": "thermistor", "ptc": "thermistor",
    "bulb": "lamp", "neon": "lamp", "loudspeaker": "speaker",
}  # fmt: skip
SAFETY_CLASSES = ("X1", "X2", "Y1", "Y2")
"""The classes of IEC 60384-14 in use; a part marked for both (X1/Y2) is its Y class."""
DIODE_STUFF = ("silicon", "selenium", "germanium", "schottky", "copper-oxide")
WORDS = frozenset(
(
        "film", "carbon", "metal", "oxide", "composition", "wirewound", "ceramic", "mica", "paper",
        "polyester", "polypropylene", "polystyrene", "electrolytic", "tantalum", "oil",
        "non-polar", "bipolar", "slow", "fast", "anti-surge", "time-delay", "open", "closed",
        "standby", "insulation", "power", "mains", "signal", "bleeder", "gas", "iron", "air",
        *DIODE_STUFF,
    )
)  # fmt: skip
UNREAD = {
    ("heater", "volt"): "the volts and amperes of a heater are those of its tube's type",
    ("heater", "ampere"): "the volts and amperes of a heater are those of its tube's type",
    ("capacitor", "ohm"): "draw its series resistance as a resistor in the same lead",
    ("fuse", "ohm"): "a fuse is taken to have 50 mohm; draw more as a resistor in series",
    ("inductor", "volt"): "what it stands to its core is written insulation 500 V",
    ("inductor", "percent"): "chokes are taken as written",
    ("resistor", "ampere"): "write what it stands in watts",
    ("jack", "ampere"): "what is plugged in, and draws the current, is not known",
}
"""What is written on real parts and nothing here would look at: why it is refused."""

_BY_UNIT = {"ohm": "resistor", "farad": "capacitor", "henry": "inductor", "volt": "source"}


def safety_class(word: str) -> str | None:
    """Return the class a word names: ``Y2`` of ``y2`` and of ``X1/Y2``, else ``None``.

    A capacitor fit for the place to the chassis is fit across the mains as well.
    """
    match = re.fullmatch(r"(?:(X[12])/?)?(Y[12])|(X[12])", word.upper())
    return (match[2] or match[3]) if match else None


def letters(name: str) -> str:
    """Return the reference letters a part's name begins with: ``C`` of ``C12a``."""
    match = re.match(r"[A-Za-z]+", name)
    return match[0].upper() if match else ""


def kind_by_letters(name: str) -> Kind | None:
    """Return the kind a part's name implies, or ``None``."""
    kind = LETTERS.get(letters(name))
    return KINDS[kind] if kind else None


def kind_by_unit(unit: str) -> Kind | None:
    """Return the kind whose value has this unit, for names whose letters mean nothing."""
    kind = _BY_UNIT.get(unit)
    return KINDS[kind] if kind else None


@lru_cache(maxsize=1024)
def nearest_word(word: str) -> str:
    """Return the known word this one is probably a misspelling of, or an empty string."""
    known = [*KIND_WORDS, *WORDS]
    close = get_close_matches(word.lower(), known, n=1, cutoff=0.75) if len(word) > 2 else []
    return close[0] if close and close[0] != word.lower() else ""
