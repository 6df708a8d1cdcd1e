"""A drawing with other ratings written on its parts, all else as it is.

Parts are known by name here (``R1``, ``L/C2``, ``T1.ht``): each instance of a sheet may have
ratings of its own.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import (
    BridgeLine,
    Chain,
    CoilLine,
    CompoundLine,
    JackLine,
    OutputLine,
    Part,
    PotLine,
    RelayLine,
    SwitchLine,
    TransformerLine,
    WindingLine,
)
from coldcheck.drawing.units import quantity
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.drawing.model import Drawing, Statement
    from coldcheck.drawing.units import Quantity

_Wound = TypeVar("_Wound", WindingLine, CoilLine)


@dataclass(frozen=True, slots=True)
class Ratings:
    """What a part is made for; ``None`` is not said. ``ac``: the volts are rms of AC.

    The volts of a winding or choke are those of its insulation to the core.
    """

    volts: float | None = None
    watts: float | None = None
    amps: float | None = None
    ac: bool = False


def rerated(drawing: Drawing, ratings: Mapping[str, Ratings]) -> Drawing:
    """The drawing with these ratings in the place of those written; what is ``None`` stays."""
    return replace(drawing, statements=tuple(_statements(drawing, ratings)))


def _statements(drawing: Drawing, ratings: Mapping[str, Ratings]) -> Iterator[Statement]:
    owner = ""
    for line in drawing.statements:
        match line:
            case TransformerLine():
                owner = line.name
                yield line
            case WindingLine():
                yield _winding(line, ratings.get(f"{owner}.{line.name}", Ratings()))
            case CoilLine():
                yield _winding(line, ratings.get(f"{owner}.{line.name}", Ratings()))
            case Chain():
                links = (None if x is None else _part(x, ratings.get(x.name)) for x in line.links)
                yield replace(line, links=tuple(links))
            case PotLine() | SwitchLine() | RelayLine() | JackLine() | OutputLine():
                found = ratings.get(line.name)
                yield line if found is None else _declared(line, found)
            case BridgeLine():
                yield replace(line, part=_part(line.part, ratings.get(line.name)))
            case CompoundLine():
                inside = (replace(x, part=_part(x.part, ratings.get(x.part.name)))
                          for x in line.inside)  # fmt: skip
                yield replace(line, inside=tuple(inside))
            case _:
                yield line


def _part(part: Part, new: Ratings | None) -> Part:
    if new is None:
        return part
    if part.kind is PartKind.INDUCTOR:
        return replace(
            part,
            insulation=_or(new.volts, "volt", part.insulation),
            current=_or(new.amps, "ampere", part.current),
        )
    if part.kind is PartKind.FUSE:
        return replace(
            part,
            value=_or(new.amps, "ampere", part.value),
            voltage=_or(new.volts, "volt", part.voltage),
        )
    return replace(
        part,
        power=_or(new.watts, "watt", part.power),
        current=_or(new.amps, "ampere", part.current),
        voltage=_or(new.volts, "volt", part.voltage),
        voltage_is_ac=part.voltage_is_ac if new.volts is None else new.ac,
    )


def _winding(line: _Wound, new: Ratings) -> _Wound:
    return replace(
        line,
        current=_or(new.amps, "ampere", line.current),
        insulation=_or(new.volts, "volt", line.insulation),
    )


def _declared(
    line: PotLine | SwitchLine | RelayLine | JackLine | OutputLine, new: Ratings
) -> PotLine | SwitchLine | RelayLine | JackLine | OutputLine:
    if isinstance(line, PotLine):
        return replace(line, power=_or(new.watts, "watt", line.power))
    current = _or(new.amps, "ampere", line.current)
    if isinstance(line, OutputLine):
        return replace(line, current=current)
    return replace(
        line,
        current=current,
        voltage=_or(new.volts, "volt", line.voltage),
        voltage_is_ac=line.voltage_is_ac if new.volts is None else new.ac,
    )


def _or(number: float | None, unit: str, old: Quantity | None) -> Quantity | None:
    return old if number is None else quantity(number, unit)
