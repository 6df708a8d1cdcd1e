"""A user's own instrument from a table of the settings, checked entry by entry.

    [[tool.coldcheck.instruments]]
    name = "the grey one"
    response = "average"            # mean, average, true-rms or trace
    input-resistance = "10 Mohm"    # or ohms-per-volt = 20000 with ranges = ["10 V", "50 V"]
    max-volts = "600 V"             # DC and peak AC together
    max-rms = "300 V"               # default: max-volts
    accuracy = "1 %"                # of the reading; accuracy-of-range for a needle
    counts = 6000                   # of a display: the steps of a range; with ranges
    accuracy-counts = 3             # so many steps it is off besides
    ac-rejection = "0.1 %"          # of a DC meter: the share of AC left in the reading
    category = "CAT II 300 V"
    divisions = 8                   # a scope: also volts-per-division = ["2 mV", "5 V"], probes
    probes = [{ attenuation = 10, input-resistance = "10 Mohm", max-volts = "600 V" }]

A number is in ohms, volts or (accuracy) a fraction; a text is a value with its unit.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from coldcheck.bench.instruments.instruments import (
    DC_DIGITS,
    GENERIC,
    MEAN,
    PROBES,
    RESPONSES,
    TRACE,
    Category,
    Digits,
    Instrument,
    Probe,
    Screen,
)
from coldcheck.drawing.values import BadValue, parse_amount
from coldcheck.sources.register import Citation

KEYS = frozenset(
    (
        *("name", "response", "input-resistance", "ohms-per-volt", "ranges", "max-volts"),
        *("max-rms", "accuracy", "accuracy-of-range", "category", "divisions"),
        *("counts", "accuracy-counts", "ac-rejection"),
        *("volts-per-division", "probes"),
    )
)
LEAST_COUNTS = 1000
"""Steps of a range that a display has at least: three digits."""

LEVELS = ("I", "II", "III", "IV")
_CATEGORY = re.compile(r"CAT (I|II|III|IV) ([0-9]{2,4}) ?V", re.ASCII)
PROBE_KEYS = frozenset(("attenuation", "input-resistance", "max-volts"))


class BadInstrument(ValueError):  # noqa: N818 - reads as what it is
    """The table does not describe an instrument; the message says what is wrong, in one line."""


def instruments_of(value: object) -> tuple[Instrument, ...]:
    """The bench of the settings' key ``instruments``: a list of tables, or ``None`` for none.

    A generic instrument stays for each response that none of one's own has. Raises BadInstrument.
    """
    if value is None:
        return GENERIC
    if not isinstance(value, Sequence) or isinstance(value, str):
        raise BadInstrument("instruments is a list of tables, each headed [[...instruments]]")
    own = tuple(instrument_of(table) for table in value)
    had = {one.response for one in own}
    return (*own, *(one for one in GENERIC if one.response not in had))


def instrument_of(table: Mapping[str, Any]) -> Instrument:
    """The instrument a table describes. Raises BadInstrument for the first thing wrong with it."""
    given = _keyed(table, KEYS, "an instrument")
    name = given.get("name")
    if not isinstance(name, str) or not name.strip():
        raise BadInstrument("an instrument wants a name")
    response = given.get("response", MEAN)
    if response not in RESPONSES:
        raise BadInstrument(f"{name}: response is one of {', '.join(RESPONSES)}, not {response!r}")
    highest = _amount(given, "max-volts", "volt", name)
    if highest is None:
        raise BadInstrument(f"{name}: max-volts is wanted: what its input stands, DC + peak AC")
    rms = _amount(given, "max-rms", "volt", name)
    ohms, per_volt, ranges = _loading(given, name)
    digits = _digits(given, name, ranges)
    return Instrument(
        name,
        response,
        ohms,
        highest,
        highest if rms is None else rms,
        _amount(given, "accuracy", "percent", name, zero=True) or 0.0,
        (Citation("settings"),),
        "settings",
        _amount(given, "accuracy-of-range", "percent", name, zero=True) or 0.0,
        per_volt,
        () if digits is not None else ranges,
        _category(given, name),
        _screen(given, name) if response == TRACE else None,
        digits,
        _amount(given, "ac-rejection", "percent", name, zero=True) or 0.0,
    )


def _keyed(table: Mapping[str, Any], known: frozenset[str], what: str) -> dict[str, Any]:
    if not isinstance(table, Mapping):
        raise BadInstrument(f"{what} is a table of its properties")
    given = {str(key).replace("_", "-"): value for key, value in table.items()}
    strange = [key for key in given if key not in known]
    if strange:
        raise BadInstrument(f"{what} has no {strange[0]}; it has {', '.join(sorted(known))}")
    return given


def _loading(
    given: Mapping[str, Any], name: str
) -> tuple[float | None, float | None, tuple[float, ...]]:
    ohms = _amount(given, "input-resistance", "ohm", name)
    per_volt = _amount(given, "ohms-per-volt", "ohm", name)
    listed = given.get("ranges", ())
    if not isinstance(listed, Sequence) or isinstance(listed, str):
        raise BadInstrument(f"{name}: ranges is a list of voltages")
    ranges = tuple(_value(item, "volt", f"{name}: ranges") for item in listed)
    if (ohms is None) == (per_volt is None):
        raise BadInstrument(f"{name}: input-resistance or ohms-per-volt is wanted, one of them")
    if per_volt is not None and not ranges:
        raise BadInstrument(f"{name}: ohms-per-volt wants the ranges as well")
    return ohms, per_volt, ranges


def _digits(given: dict[str, Any], name: str, ranges: tuple[float, ...]) -> Digits | None:
    """The display; the usual ranges of one where none are given."""
    counts, off = given.get("counts"), given.get("accuracy-counts", 0)
    if counts is None:
        if off:
            raise BadInstrument(f"{name}: accuracy-counts wants the counts of the display as well")
        return None
    if "ohms-per-volt" in given:
        raise BadInstrument(f"{name}: a needle with ohms-per-volt has no counts")
    if not isinstance(counts, int) or isinstance(counts, bool) or counts < LEAST_COUNTS:
        raise BadInstrument(f"{name}: counts is a whole number from {LEAST_COUNTS} on: 6000")
    steps = _value(off, "", f"{name}: accuracy-counts", zero=True)
    return Digits(counts, ranges or DC_DIGITS.ranges, steps)


def _category(given: Mapping[str, Any], name: str) -> Category | None:
    """``CAT II 300 V``. Where it is not just that it is refused: lives hang on it."""
    text = given.get("category")
    if text is None:
        return None
    match = _CATEGORY.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise BadInstrument(f"{name}: category is a text such as 'CAT II 300 V', not {text!r}")
    return Category(LEVELS.index(match[1]) + 1, float(match[2]))


def _screen(given: Mapping[str, Any], name: str) -> Screen:
    divisions = given.get("divisions", 8)
    if not isinstance(divisions, int) or isinstance(divisions, bool) or divisions < 1:
        raise BadInstrument(f"{name}: divisions is a whole number above zero")
    scale = given.get("volts-per-division", (2e-3, 5.0))
    if not isinstance(scale, Sequence) or isinstance(scale, str) or len(scale) != 2:
        raise BadInstrument(f"{name}: volts-per-division is the least and the most")
    least, most = (_value(v, "volt", f"{name}: volts-per-division") for v in scale)
    if least > most:
        raise BadInstrument(f"{name}: volts-per-division is the least first, then the most")
    listed = given.get("probes")
    if listed is not None and (not isinstance(listed, Sequence) or isinstance(listed, str)):
        raise BadInstrument(f"{name}: probes is a list of probes")
    probes = PROBES if not listed else tuple(_probe(p, name) for p in listed)
    return Screen(divisions, least, most, probes=tuple(sorted(probes, key=_attenuation)))


def _probe(table: Mapping[str, Any], name: str) -> Probe:
    given = _keyed(table, PROBE_KEYS, f"{name}: a probe")
    attenuation = _value(given.get("attenuation", 0), "", f"{name}: attenuation")
    ohms = _amount(given, "input-resistance", "ohm", name)
    highest = _amount(given, "max-volts", "volt", name)
    if ohms is None or highest is None:
        raise BadInstrument(f"{name}: a probe wants input-resistance and max-volts")
    return Probe(attenuation, ohms, highest)


def _attenuation(probe: Probe) -> float:
    return probe.attenuation


def _amount(
    given: Mapping[str, Any], key: str, unit: str, name: str, *, zero: bool = False
) -> float | None:
    if key not in given:
        return None
    return _value(given[key], unit, f"{name}: {key}", zero=zero)


def _value(value: object, unit: str, where: str, *, zero: bool = False) -> float:
    """A number as it is, or a text with its unit, in SI; above zero (or not below it)."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise BadInstrument(f"{where} is a number or a text such as '10 Mohm', not {value!r}")
    try:
        number = float(value) if not isinstance(value, str) else _read(value, unit, where)
    except OverflowError:  # an integer of hundreds of digits
        raise BadInstrument(f"{where} is a number that is too large") from None
    if not 0 <= number < float("inf") or (number == 0 and not zero):
        raise BadInstrument(f"{where} is above zero, not {value!r}")
    return number


def _read(text: str, unit: str, where: str) -> float:
    try:
        amount = parse_amount(text, unit or None)
    except BadValue as bad:
        raise BadInstrument(f"{where}: found {bad.found}; expected {bad.expected}") from bad
    if unit and amount.unit != unit:
        raise BadInstrument(f"{where}: {text!r} is not in {unit}s")
    return amount.number / 100 if unit == "percent" else amount.number
