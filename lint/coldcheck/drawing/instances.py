"""A sheet's statements under the name of their instance: ``R1`` of sheet ``L`` is ``L/R1``.

The landmarks (gnd, chassis, earth, line, neutral) are the same everywhere and keep their names;
everything else is the sheet's own. The places in the text stay as they are.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, TypeAlias

from coldcheck.drawing import model
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable

LANDMARKS = frozenset(("gnd", "chassis", "earth", "line", "neutral"))

_Declared: TypeAlias = (
    model.TransformerLine
    | model.OutputLine
    | model.ReverbLine
    | model.PotLine
    | model.SwitchLine
    | model.RelayLine
    | model.BridgeLine
    | model.JackLine
)


@dataclass(frozen=True, slots=True)
class Instance:
    """How one use of a sheet names things.

    prefix
        ``L/``, or ``L/M/`` for a sheet in a sheet; empty for the drawing itself.
    types
        The tube types the sheet defines; others are those on file or of the drawing itself.
    states
        Names of tubes and switches that states are called after.
    driven
        Points joined from outside: a ``signal`` of the sheet there is the outside's affair.
    """

    prefix: str = ""
    types: frozenset[str] = frozenset()
    states: frozenset[str] = frozenset()
    driven: frozenset[str] = frozenset()

    def point(self, point: model.Point) -> model.Point:
        """The point under its full name."""
        if point.owner.casefold() in LANDMARKS:
            return point
        return replace(point, owner=f"{self.prefix}{point.owner}")

    def text(self, text: str) -> str:
        """The same of a point given by its text."""
        owner = re.split(r"[.:]", text, maxsplit=1)[0]
        return text if owner.casefold() in LANDMARKS else f"{self.prefix}{text}"

    def statement(self, line: model.Statement) -> model.Statement | None:
        """A statement under this instance's names, ``None`` where it counts only on its own."""
        match line:
            case model.Chain():
                return self._chain(line)
            case model.Title() | model.Mains():
                return None
            case model.SignalLine():
                joined = line.name in self.driven
                return None if joined else replace(line, name=self.text(line.name))
            case model.TubeLine():
                return self._tube(line)
            case model.TransistorLine():
                return replace(line, name=f"{self.prefix}{line.name}", type=self._type(line.type))
            case model.PotLine():
                ganged = None if line.ganged is None else f"{self.prefix}{line.ganged}"
                return replace(line, name=f"{self.prefix}{line.name}", ganged=ganged)
            case model.CompoundLine():
                inside = tuple(
                    replace(x, part=replace(x.part, name=f"{self.prefix}{x.part.name}"))
                    for x in line.inside
                )
                return replace(line, name=f"{self.prefix}{line.name}", inside=inside)
            case model.TypeLine():
                like = line.like if line.like == line.name else self._type(line.like)
                return replace(line, name=f"{self.prefix}{line.name}", like=like)
            case model.Expect():
                return self._expect(line)
            case model.Accept():
                return replace(line, place=self.text(line.place))
            case model.WindingLine() | model.CoilLine() | model.RatingLine() | model.SheetLine():
                return line
            case _:
                return self._declared(line)

    def _declared(self, line: _Declared) -> _Declared:
        return replace(line, name=f"{self.prefix}{line.name}")

    def _chain(self, line: model.Chain) -> model.Chain:
        points = tuple(None if p is None else self.point(p) for p in line.points)
        links = tuple(
            None if part is None else replace(part, name=f"{self.prefix}{part.name}")
            for part in line.links
        )
        return model.Chain(points, links, line.span)

    def _tube(self, line: model.TubeLine) -> model.TubeLine:
        heater = None if line.heater is None else self.point(line.heater)
        name = f"{self.prefix}{line.name}"
        return replace(line, name=name, type=self._type(line.type), heater=heater)

    def _type(self, name: str) -> str:
        return f"{self.prefix}{name}" if name in self.types else name

    def _expect(self, line: model.Expect) -> model.Expect:
        other = None if line.other is None else self.point(line.other)
        return replace(
            line, point=self.point(line.point), other=other, state=self._state(line.state)
        )  # fmt: skip

    def _state(self, state: str | None) -> str | None:
        """``pulled V2`` is ``pulled L/V2``; what is not the sheet's own stays."""
        if state is None:
            return None
        full = (f"{self.prefix}{w}" if w in self.states else w for w in state.split(" "))
        return " ".join(full)


def instance_of(prefix: str, lines: Iterable[model.Statement], driven: frozenset[str]) -> Instance:
    """The naming of one use of a sheet with these statements."""
    types, states = set(), set()
    for line in lines:
        match line:
            case model.TypeLine():
                types.add(line.name)
            case model.TubeLine() | model.SwitchLine() | model.RelayLine() | model.CompoundLine():
                states.add(line.name)
            case model.Chain():
                states.update(
                    p.name for p in line.links if p is not None and p.kind is PartKind.SWITCH
                )
            case _:
                pass
    return Instance(prefix, frozenset(types), frozenset(states), driven)
