"""The project's own unit registry and the one way to print a quantity.

pint's default registry reads ``100k`` as a physical constant and ``1M`` as a molarity without a
word, and takes 400 ms to build. This one knows the dozen electrical units a schematic uses and
nothing else.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    from pint import UnitRegistry
    from pint.facets.plain import PlainQuantity

    Quantity: TypeAlias = PlainQuantity[Any]

_DEFINITIONS = (
    "pico- = 1e-12 = p-",
    "nano- = 1e-9 = n-",
    "micro- = 1e-6 = u- = µ- = μ-",
    "milli- = 1e-3 = m-",
    "kilo- = 1e3 = k-",
    "mega- = 1e6 = M- = meg-",
    "volt = [potential] = V",
    "ampere = [current] = A",
    "second = [time] = s",
    "ohm = volt / ampere = Ω",
    "siemens = ampere / volt = S",
    "watt = volt * ampere = W",
    "joule = watt * second = J",
    "farad = ampere * second / volt = F",
    "henry = volt * second / ampere = H",
    "hertz = 1 / second = Hz",
    "percent = 0.01 = %",
    "turn = [turns]",
    "kelvin_per_watt = [thermal_resistance]",
)

_SCALES = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"), (1e-12, "p"))


@lru_cache(maxsize=1)
def registry() -> UnitRegistry[Any]:
    """Return the registry shared by the whole process (built on first use, about 13 ms)."""
    from pint import UnitRegistry

    units: UnitRegistry[Any] = UnitRegistry(None)
    for line in _DEFINITIONS:
        units.define(line)
    return units


def quantity(magnitude: float, unit: str) -> Quantity:
    """Return ``magnitude`` in ``unit`` (a name this registry defines, e.g. ``"ohm"``)."""
    return registry().Quantity(magnitude, unit)


def magnitude(value: Quantity, unit: str) -> float:
    """Return ``value`` as a plain float in ``unit``; raises pint's DimensionalityError."""
    # A unit of pint is slow to make and to compare; the rules ask this for every part.
    return float(value.m) * _factor(tuple(value.unit_items()), unit)


@lru_cache(maxsize=256)
def _factor(given: tuple[tuple[str, Any], ...], wanted: str) -> float:
    """What turns a magnitude in one unit (names and powers) into another."""
    from pint.util import UnitsContainer

    return float(registry().Quantity(1.0, UnitsContainer(dict(given))).m_as(wanted))


def engineering(number: float, symbol: str, digits: int = 3) -> str:
    """Print a plain SI number with a prefix: ``engineering(0.0448, "A") == "44.8 mA"``."""
    if number == 0 or symbol in ("", "%"):
        return f"{number:.{digits}g} {symbol}".rstrip()
    size = abs(number)
    scale, prefix = next(((s, p) for s, p in _SCALES if size >= s * 0.9995), _SCALES[-1])
    return f"{_fixed(number / scale, digits)} {prefix}{symbol}"


def _fixed(number: float, digits: int) -> str:
    """Significant digits without an exponent, and without losing whole volts above 1000."""
    whole = len(str(int(abs(number))))
    text = f"{number:.{max(digits - whole, 0)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def volt_digits(number: float) -> str:
    """Volts as a list or a drawing has them: one decimal below 100 V, none above 1000 V."""
    size = abs(number)
    text = f"{number:.{2 if size < 10 else 1 if size < 1000 else 0}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def in_unit(value: Quantity | None, unit: str) -> float | None:
    """A quantity as a plain float; ``None`` where it is not given, or is of something else."""
    if value is None or not _measures(tuple(value.unit_items()), unit):
        return None
    return magnitude(value, unit)


@lru_cache(maxsize=256)
def _measures(given: tuple[tuple[str, Any], ...], unit: str) -> bool:
    from pint.errors import DimensionalityError

    try:
        _factor(given, unit)
    except DimensionalityError:
        return False
    return True


def si(value: Quantity | None, unit: str) -> float | None:
    """A quantity as a plain float, ``None`` where it is not given."""
    return None if value is None else magnitude(value, unit)
