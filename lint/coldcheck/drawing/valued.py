"""A drawing with other values: of its parts, its pots, its mains. Nothing else changes.

Parts are known by name here (``R1``, ``L/C2``, ``P1``): each instance of a sheet may have values
of its own.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import FORMS, PartKind
from coldcheck.drawing.model import Chain, Mains, Part, PotLine
from coldcheck.drawing.units import engineering, magnitude
from coldcheck.drawing.values import QUANTITIES, SYMBOLS, Amount, BadValue, parse_amount
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.drawing.model import Drawing, Statement

MAINS = "mains"
"""The name of the mains voltage among the values."""

SHARE = "percent"
"""The unit of a pot's setting."""


@dataclass(frozen=True, slots=True)
class Value:
    """A value that a drawing writes, and that can be another.

    kind
        What has it, as a drawing calls it: ``resistor``, ``pot``, ``mains``.
    number
        In ``unit``; ``None`` where the drawing has ``?``.
    unit
        ``ohm``, ``farad``, ``henry``, ``volt``, ``ampere`` (a fuse), ``percent`` (where a pot
        stands, from 0 at the bottom of its track).
    """

    kind: str
    number: float | None
    unit: str

    def __str__(self) -> str:
        return "?" if self.number is None else engineering(self.number, SYMBOLS[self.unit], 4)


def values(drawing: Drawing) -> dict[str, Value]:
    """Name -> value of everything whose value can be another, in the order of the text."""
    found: dict[str, Value] = {}
    for line in drawing.statements:
        for name, value in _values(line):
            found.setdefault(name, value)
    return found


def _values(line: Statement) -> Iterator[tuple[str, Value]]:
    match line:
        case Chain():
            yield from (v for part in line.links if part is not None for v in _of_part(part))
        case PotLine():
            yield line.name, Value(PartKind.POT.value, 100 * line.at, SHARE)
        case Mains():
            yield MAINS, Value(MAINS, magnitude(line.voltage, "volt"), "volt")
        case _:
            pass


def _of_part(part: Part) -> Iterator[tuple[str, Value]]:
    unit = FORMS[part.kind].main
    if unit is not None and (part.value is not None or "value" in part.unknown):
        number = None if part.value is None else magnitude(part.value, unit)
        yield part.name, Value(part.kind.value, number, unit)


def amount_of(value: Value, given: str | float) -> Amount:
    """What is to take the place of a value; a number is in the value's own unit.

    Text is read as a drawing would be: ``680``, ``4k7``, ``30 %``; for a pot also the ohms of its
    track. Raises BadValue.
    """
    if not isinstance(given, str):
        return _possible(Amount(_number(given), value.unit), f"{given}")
    amount = parse_amount(given, None if value.unit == SHARE else value.unit)
    units = (SHARE, "ohm") if value.unit == SHARE else (value.unit,)
    if amount.unit not in units or (amount.ac and value.kind != MAINS):
        expected = " or ".join(QUANTITIES[u] for u in units)
        raise BadValue(f'"{given.strip()}"', expected)
    return _possible(amount, f'"{given.strip()}"')


def _number(given: object) -> float:
    try:
        return float(given)  # type: ignore[arg-type] # whatever a notebook hands in
    except OverflowError:  # an integer of hundreds of digits, which nobody wants to read either
        raise BadValue("a number that is too large", "a number of a part") from None
    except (TypeError, ValueError):
        raise BadValue(f"{given!r}", "a number, or text as in a drawing") from None


def _possible(amount: Amount, shown: str) -> Amount:
    """The amount, if there can be such a value; raises BadValue."""
    if amount.unit == SHARE:
        if not 0 <= amount.number <= 100:
            raise BadValue(shown, "a share from 0 % to 100 %")
    elif not 0 < amount.number <= 1e15:
        raise BadValue(shown, "a value above zero")
    return amount


def valued(drawing: Drawing, new: Mapping[str, Amount]) -> Drawing:
    """The drawing with these values in the place of those written; names are of :func:`values`."""
    new = turned_together(drawing, new)
    return replace(drawing, statements=tuple(_statement(s, new) for s in drawing.statements))


def turned_together(drawing: Drawing, new: Mapping[str, Amount]) -> Mapping[str, Amount]:
    """The values with those of every pot that is on the shaft of one that is turned."""
    pots = {s.name: s.ganged or s.name for s in drawing.statements if isinstance(s, PotLine)}
    shafts = {pots[n]: a for n, a in new.items() if n in pots and a.unit == SHARE}
    return {**{n: shafts[s] for n, s in pots.items() if s in shafts}, **new}


def _statement(line: Statement, new: Mapping[str, Amount]) -> Statement:
    match line:
        case Chain():
            return replace(line, links=tuple(x and valued_part(x, new) for x in line.links))
        case PotLine() if line.name in new:
            return valued_pot(line, new[line.name])
        case Mains() if MAINS in new:
            return replace(line, voltage=new[MAINS].quantity)
        case _:
            return line


def valued_part(part: Part, new: Mapping[str, Amount]) -> Part:
    """The part with its new value, if it has one."""
    if part.name not in new:
        return part
    return replace(part, value=new[part.name].quantity, unknown=part.unknown - {"value"})


def valued_pot(line: PotLine, new: Amount) -> PotLine:
    """The pot turned, or with another track."""
    if new.unit == SHARE:
        return replace(line, at=new.number / 100)
    return replace(line, value=new.quantity)
