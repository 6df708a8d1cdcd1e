"""Values as the trade writes them: ``4k7``, ``22 nF``, ``0.1u``, ``250 Vac``, ``5 %``.

Letter codes follow IEC 60062 (the letter stands for the decimal point), with ``k`` and ``K`` both
kilo as drawings have it. Nothing is ever handed raw to a unit library: ``100k``, ``1M`` and ``1 m``
all mean something else there.
"""

from __future__ import annotations

import math
import re
from enum import Enum
from functools import lru_cache
from typing import TYPE_CHECKING

from coldcheck.drawing.units import quantity
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Sequence

    from coldcheck.drawing.units import Quantity

PREFIXES = {
    "p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "": 1.0, "k": 1e3, "K": 1e3, "M": 1e6,
    "meg": 1e6, "pico": 1e-12, "nano": 1e-9, "micro": 1e-6, "milli": 1e-3, "kilo": 1e3, "mega": 1e6,
}  # fmt: skip
UNITS = {
    "V": "volt", "volt": "volt", "volts": "volt",
    "A": "ampere", "amp": "ampere", "amps": "ampere", "ampere": "ampere", "amperes": "ampere",
    "W": "watt", "watt": "watt", "watts": "watt",
    "ohm": "ohm", "ohms": "ohm", "R": "ohm",
    "F": "farad", "farad": "farad", "farads": "farad",
    "H": "henry", "henry": "henry", "henries": "henry", "henrys": "henry",
    "Hz": "hertz", "hertz": "hertz", "S": "siemens", "siemens": "siemens",
    "s": "second", "second": "second", "seconds": "second", "%": "percent", "percent": "percent",
    "turn": "turn", "turns": "turn",
    "K/W": "kelvin_per_watt", "C/W": "kelvin_per_watt", "°C/W": "kelvin_per_watt",
}  # fmt: skip
SYMBOLS = {
    "volt": "V", "ampere": "A", "watt": "W", "ohm": "ohm", "farad": "F", "henry": "H",
    "hertz": "Hz", "siemens": "S", "second": "s", "percent": "%", "turn": "turns",
    "kelvin_per_watt": "K/W",
}  # fmt: skip
QUANTITIES = {
    "volt": "a voltage such as 250 V", "ampere": "a current such as 70 mA",
    "watt": "a power such as 2 W", "ohm": "a resistance such as 10k or 470 ohm",
    "farad": "a capacitance such as 22n or 40 uF", "henry": "an inductance such as 8 H",
    "hertz": "a frequency such as 60 Hz", "siemens": "a conductance such as 5 mS",
    "second": "a time such as 3 s", "percent": "a share such as 10 %",
    "turn": "a number of turns such as 30 turns",
    "kelvin_per_watt": "a thermal resistance such as 4 K/W",
}  # fmt: skip
# Prefixes a bare value (no unit written) may carry; outside these it is more likely a slip.
_BARE = {
    "ohm": ("", "k", "K", "M", "meg"), "farad": ("p", "n", "u"), "henry": ("", "m", "u"),
    "volt": ("", "m", "k"), "ampere": ("", "m", "u"), "watt": ("", "m"), "hertz": ("", "k"),
    "percent": ("",), "": ("",),
}  # fmt: skip
_MILLI = "m is milli and needs a unit; mega is M"
_HOMES = {"p": "farad", "n": "farad", "u": "farad", "k": "ohm", "K": "ohm", "M": "ohm"}

# Micro sign and Greek mu; ohm sign and Greek omega; the true minus.
_ALIKE = str.maketrans(
    {"\u00b5": "u", "\u03bc": "u", "\u2126": "ohm", "\u03a9": "ohm", "\u2212": "-"}
)
_INFIX = re.compile(r"([-+]?\d+)([RrkKMunpmV])(\d+)(?![\d.])\s*(.*)$", re.ASCII)
_PREFIXED = re.compile(r"([Rrunp])(\d+)\s*(.*)$", re.ASCII)
_PLAIN = re.compile(r"([-+]?(?:\d+(?:\.\d*)?|\.\d+))\s*(.*)$", re.ASCII)
_AC = re.compile(r"(.*V)\s?(ac|AC|rms|RMS|dc|DC)$")


class Lacks(Enum):
    """What a text is short of to be a value."""

    VALUE = "a value"
    """It cannot be read as one at all."""
    UNIT = "a unit after the number"
    KIND = "another value"
    """It is one, and not of the kind that belongs here."""


class BadValue(ValueError):  # noqa: N818 - reads as what it is at every raise
    """A text that is not a value; ``rule`` is ``drawing.bad-value`` or ``drawing.wrong-unit``."""

    def __init__(
        self, found: str, expected: str, hint: str = "", *, lacks: Lacks = Lacks.KIND
    ) -> None:
        super().__init__(f"found {found}; expected {expected}")
        self.found, self.expected, self.hint, self.lacks = found, expected, hint, lacks
        self.rule = "drawing.bad-value"


@dataclass(frozen=True, slots=True)
class Amount:
    """A number in a base unit: ``number`` in ``unit`` (a key of ``SYMBOLS``, or ``""``)."""

    number: float
    unit: str
    ac: bool = False

    @property
    def quantity(self) -> Quantity:
        """The amount as a pint quantity of the project's registry."""
        return quantity(self.number, self.unit or "dimensionless")


def parse_value(text: str, default_unit: str | None) -> Quantity:
    """Read one value; a bare one takes ``default_unit`` (``"ohm"``, ``"farad"``, ... or ``None``).

    >>> parse_value("4k7", "ohm").m_as("kiloohm")
    4.7

    Raises BadValue.
    """
    return parse_amount(text, default_unit).quantity


def parse_amount(text: str, default_unit: str | None) -> Amount:
    """Read one value as an :class:`Amount`; raises BadValue as :func:`parse_value` does."""
    plain = text.strip().translate(_ALIKE).removeprefix("±")
    number, prefix, rest = _split(plain, text)
    scale, unit, ac = _resolve(prefix, rest, default_unit, text)
    value = number * scale
    if not math.isfinite(value) or abs(value) > 1e15:
        raise BadValue(_quote(text), "a number a circuit can have")
    return Amount(value, unit, ac)


def is_unit(word: str) -> bool:
    """Whether a word after a number belongs to the number: a unit, or a prefix set off by a space.

    >>> [is_unit(word) for word in ("uF", "k", "Vac", "film")]
    [True, True, True, False]
    """
    word = word.translate(_ALIKE)
    return word in ("k", "K", "M", "meg", "u", "n", "p") or _unit(word) is not None


def looks_like_code(word: str) -> bool:
    """Whether a word is a letter code that begins with its letter: ``R47``, ``u33``."""
    return re.fullmatch(r"[Rrunpµμ]\d+", word) is not None


def is_ohms(text: str) -> bool:
    """Whether a value is in the letter code of resistances: no other rating is written so.

    >>> [is_ohms(text) for text in ("10k", "4k7", "2M", "22n", "250", "10 k")]
    [True, True, True, False, False, False]
    """
    return re.fullmatch(r"\d+(\.\d+)?[kKMR]\d*", text) is not None


def _split(plain: str, text: str) -> tuple[float, str, str]:
    """Return (number, prefix letter, what follows) or raise BadValue with the likeliest slip."""
    match = _INFIX.match(plain)
    if match:
        whole, letter, decimals, rest = match.groups()
        if letter == "m" and not rest:
            raise BadValue(_quote(text), "a value", _MILLI, lacks=Lacks.VALUE)
        return _number(f"{whole}.{decimals}"), letter, rest
    match = _PREFIXED.match(plain)
    if match:
        letter, decimals, rest = match.groups()
        return _number(f"0.{decimals}"), letter, rest
    match = _PLAIN.match(plain)
    if match is None:
        raise BadValue(_quote(text), "a value", slip(text), lacks=Lacks.VALUE)
    return _number(match[1]), "", match[2]


def _number(digits: str) -> float:
    return float(digits) if len(digits) < 60 else math.inf


def _resolve(prefix: str, rest: str, default: str | None, text: str) -> tuple[float, str, bool]:
    """Find scale and unit from the code letter and what follows the digits."""
    if prefix in ("R", "r", "V"):
        unit = "volt" if prefix == "V" else "ohm"
        if rest and _unit(rest) != (1.0, unit, False):
            raise BadValue(_quote(text), "a value", slip(text), lacks=Lacks.VALUE)
        return 1.0, unit, False
    if not rest or (not prefix and rest in PREFIXES):
        return _bare(prefix or rest, default, text)
    found = _unit((prefix + rest).replace(" ", ""))
    if found is None:
        hint = slip(text) or unit_hint(rest)
        raise BadValue(_quote(text), "a value with a known unit", hint, lacks=Lacks.VALUE)
    if found[1] == "farad" and found[0] in (1e-3, 1e6):
        raise BadValue(_quote(text), "a capacitance in uF, nF or pF", unit_hint("mF"))
    return found


def _bare(prefix: str, default: str | None, text: str) -> tuple[float, str, bool]:
    if default is None:
        home = _HOMES.get(prefix, "")
        raise BadValue(
            _quote(text), "a unit after the number",
            f"for example {text.strip()} {SYMBOLS[home]}" if home == "ohm" else "",
            lacks=Lacks.UNIT,
        )  # fmt: skip
    if prefix in _BARE.get(default, ("",)):
        return PREFIXES[prefix], default, False
    expected = QUANTITIES.get(default, "a plain number")
    if default == "farad" and prefix == "":
        hint = f"nobody means whole farads: write {text.strip()}u for microfarads, or p or n"
        raise BadValue(_quote(text), expected, hint)
    if prefix == "m":
        raise BadValue(_quote(text), expected, _MILLI)
    hint = f"{prefix} does not go with {SYMBOLS[default]}" if default in SYMBOLS else ""
    if prefix in _HOMES:
        hint += "; a capacitor is named C..." if _HOMES[prefix] == "farad" else ""
    raise BadValue(_quote(text), expected, hint)


@lru_cache(maxsize=1024)
def _unit(text: str) -> tuple[float, str, bool] | None:
    """Return (scale, unit name, written as AC) of a unit with an optional prefix, or None."""
    match = _AC.match(text)
    ac = bool(match and match[2].lower() != "dc")
    text = match[1] if match else text
    if text in UNITS:
        return 1.0, UNITS[text], ac
    for prefix in PREFIXES:
        if prefix and text.startswith(prefix) and text[len(prefix) :] in UNITS:
            name = UNITS[text[len(prefix) :]]
            if name not in ("percent", "second", "turn", "kelvin_per_watt"):
                return PREFIXES[prefix], name, ac
    return None


_OLD_MARKS = {
    "mfd": "mfd on old prints is microfarad: write uF",
    "mf": "mf on old prints is microfarad: write uF",
    "ufd": "write uF",
    "mmfd": "mmfd on old prints is picofarad: write pF",
    "mmf": "mmf on old prints is picofarad: write pF",
    "uuf": "uuF on old prints is picofarad: write pF",
    "db": "a gain is written as a plain ratio: 20 dB is 10, 40 dB is 100",
    "kc": "write kHz", "cps": "write Hz", "cycles": "write Hz", "hy": "write H", "mhy": "write mH",
    "ma": "write mA", "kv": "write kV", "mv": "write mV", "mw": "write mW",
    "vpp": "an AC voltage is given as its rms value, Vac", "va": "write the current in A",
    "vpk": "an AC voltage is given as its rms value, Vac",
}  # fmt: skip


def unit_hint(word: str) -> str:
    """Return a hint for a word that should have been a unit, or an empty string."""
    word = word.strip()
    if word.lower() in _OLD_MARKS:
        return _OLD_MARKS[word.lower()]
    plain = word.translate(_ALIKE)
    for spelling in _spellings():
        if spelling.lower() == plain.lower():
            return f"write {spelling}"
    return ""


@lru_cache(maxsize=1)
def _spellings() -> Sequence[str]:
    symbols = ("V", "A", "W", "ohm", "F", "H", "Hz")
    return [p + s for s in symbols for p in ("", "u", "p", "n", "k", "m", "M")]


def slip(text: str) -> str:
    """Return a hint for the usual slips of the pen in a value, or an empty string."""
    word = text.strip()
    zeros = re.sub("[oO](?!hm)", "0", word)
    # Only what the mending changes: else reading it again comes back here, and again.
    if re.search(r"\d[oO]|[oO]\d|[oO]k", word) and zeros != word and _reads(zeros):
        return f"the letter O stands where a zero belongs: {zeros}"
    if re.search(r"\dl|l\d", word) and _reads(word.replace("l", "1")):
        return f"a small letter l stands where a one belongs: {word.replace('l', '1')}"
    if re.match(r"[-+]?\d*,\d", word):
        return f"write a decimal point, not a comma: {word.replace(',', '.', 1)}"
    if word.startswith("?"):
        return "? stands alone for a value that is not known"
    if word.endswith((",", ";")):
        return "fields are separated by spaces only"
    if re.match(r"\d+/\d+", word):
        return "write a decimal fraction, such as 0.5"
    if re.match(r"[\d.]+[eE]\d", word):
        return "write a prefix (k, M, u, n, p) in place of a power of ten"
    if match := re.fullmatch(r"[\d.]+-([\d.]+ ?[pnu]F?)", word):
        return f"write the largest of a range: {match[1]}"
    if re.match(r"\d+-0-\d+", word):
        return "write the halves apart: " + re.sub(r"^(\d+)-0-(\d+).*", r"\1 V ct \2 V", word)
    return ""


def _reads(text: str) -> bool:
    try:
        parse_amount(text, "ohm")
    except BadValue:
        try:
            parse_amount(text, "farad")
        except BadValue:
            return False
    return True


def _quote(text: str) -> str:
    return f'"{text.strip()}"'
