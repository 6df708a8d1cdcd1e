"""The keys a settings file may have, and what each takes."""

from __future__ import annotations

import json
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from coldcheck.circuit.problems import did_you_mean
from coldcheck.drawing.values import BadValue, parse_amount
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.drawing.units import Quantity

LEVELS = ("advice", "notice", "caution", "warning", "danger")
"""As :data:`coldcheck.judge.finding.LEVELS`, which stands to the right; a test compares them."""

MAINS: Mapping[str, str] = MappingProxyType(
    {"voltage": "a voltage such as 230 V", "frequency": "a frequency such as 50 Hz",
     "tolerance": "a share such as 10 %"}
)  # fmt: skip

TOLERANCES: Mapping[str, str] = MappingProxyType(
    {
        "resistor": "resistor", "winding-resistance": "winding_resistance",
        "winding-voltage": "winding_voltage", "source": "source", "zener": "zener",
        "tube": "tube", "rectifier": "rectifier", "gas-tube": "gas_tube",
    }
)  # fmt: skip
"""Key under ``tolerance`` -> field of :class:`coldcheck.circuit.usual.Usual`."""

TABLES = ("off", "mains", "tolerance")
TOP = ("gate", "undecided", *TABLES, "data", "instruments", "folders")
OUTCOMES = ("held", "let through")
FORMER = MappingProxyType({"pass": "let through", "fail": "held"})
"""Words that verdicts had before -> those they have now."""

_MOST_SHARE = 50.0
_MOST_VOLTS, _MOST_HERTZ = 1000.0, 1000.0


@dataclass(slots=True, eq=False)
class Wrong(Exception):  # noqa: N818 - caught where the key is known
    """A value that cannot be taken."""

    found: str
    expected: str
    hint: str = ""


def shown(value: Any) -> str:
    """A value as the file has it, shortened."""
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 60 else f"{text[:57]}..."


def unknown(name: str, known: Iterable[str]) -> Wrong:
    """For a key that is not one of ``known``."""
    names = list(known)
    return Wrong("an unknown key", f"one of {', '.join(names)}", did_you_mean(name, names))


def gate(value: Any) -> str:
    """One of the levels."""
    if isinstance(value, str) and value in LEVELS:
        return value
    near = did_you_mean(value, LEVELS) if isinstance(value, str) else ""
    raise Wrong(shown(value), f"one of {', '.join(LEVELS)}", near)


def undecided(value: Any) -> str:
    """What becomes of a drawing that could not be decided."""
    if isinstance(value, str) and value in OUTCOMES:
        return value
    old = FORMER.get(value, "") if isinstance(value, str) else ""
    near = f"{value} is now {old}" if old else ""
    raise Wrong(shown(value), " or ".join(OUTCOMES), near)


def reason(value: Any, *, inside: bool) -> str | None:
    """Why a rule is off; ``False`` (``None`` here) puts it on again ``inside`` a folder."""
    if isinstance(value, str) and value.strip():
        return " ".join(value.split())
    if value is False and inside:
        return None
    raise Wrong(shown(value), "the reason, as a text", "why should the rule not run?")


def mains(name: str, value: Any) -> Quantity | float:
    """Voltage or frequency as a quantity, the tolerance as a fraction."""
    if name == "tolerance":
        return share(value)
    unit, most = ("volt", _MOST_VOLTS) if name == "voltage" else ("hertz", _MOST_HERTZ)
    amount = _amount(value, unit, MAINS[name])
    if not 0 < amount <= most:
        limit = f"{most:g} {'V' if unit == 'volt' else 'Hz'}"
        raise Wrong(shown(value), f"more than 0 and at most {limit}")
    return parse_amount(value, None).quantity


def share(value: Any) -> float:
    """A tolerance, as a fraction."""
    percent = _amount(value, "percent", "a share such as 10 %")
    if not 0 < percent <= _MOST_SHARE:
        raise Wrong(shown(value), f"more than 0 % and at most {_MOST_SHARE:g} %")
    return percent / 100


def _amount(value: Any, unit: str, expected: str) -> float:
    """The number of a text such as ``"10 %"``; what has another unit, or none, is refused."""
    if not isinstance(value, str):
        raise Wrong(shown(value), expected, "write it in quotes, with its unit")
    try:
        amount = parse_amount(value, None)
    except BadValue as bad:
        raise Wrong(shown(value), expected, bad.hint) from None
    if amount.unit != unit:
        raise Wrong(shown(value), expected)
    return amount.number


def words(value: Any, expected: str) -> tuple[str, ...]:
    """A list of texts."""
    if isinstance(value, list) and all(isinstance(v, str) and v.strip() for v in value):
        return tuple(value)
    raise Wrong(shown(value), expected)
