"""A state at one value after the other: arrays along the sweep, K values long."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from coldcheck.api.errors import MissingError, missing
from coldcheck.api.reading import Curve
from coldcheck.api.state import Tube
from coldcheck.api.table import Table
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    import pandas as pd
    from numpy.typing import NDArray

    from coldcheck.api.reading import Reading
    from coldcheck.api.state import State
    from coldcheck.api.table import Cell

    Array = NDArray[np.float64]

T = TypeVar("T")

__all__ = ["PartCurves", "Sweep", "SweptParts", "SweptTubes", "TubeCurves"]

ENDS = ("lowest", "highest")
FIGURES = tuple(f.name for f in fields(Tube) if f.type in ("float", "float | None"))


@dataclass(frozen=True, slots=True, eq=False)
class Sweep(Table[Curve]):
    """Net -> its voltage to gnd at each value; NaN where a state was not solved.

    swept
        Part -> the values it was given, (K,), in the unit of ``units``.
    units
        Part -> ``ohm``, ``farad``, ``henry``, ``volt``, ``percent``.
    states
        The state at each value, whole: whether it was solved, and why not.
    """

    swept: Mapping[str, Array]
    units: Mapping[str, str]
    states: tuple[State, ...]

    def __getitem__(self, point: str) -> Curve:
        """The voltage of a net, point or lead to gnd; MissingError where no state has a number."""
        return self._curve("V", lambda state: state[point])

    def __iter__(self) -> Iterator[str]:
        """The nets that have a number in any of the states."""
        return iter(dict.fromkeys(net for state in self.states for net in state))

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def between(self, a: str, b: str) -> Curve:
        """What is between two points, ``a`` measured from ``b``."""
        return self._curve("V", lambda state: state.between(a, b))

    @property
    def parts(self) -> SweptParts:
        """Name -> its volts, amperes and watts along the sweep."""
        return SweptParts(self)

    @property
    def tubes(self) -> SweptTubes:
        """Name of a tube section -> its figures along the sweep: ``sweep.tubes["V2"].plate_ma``."""
        return SweptTubes(self)

    def array(self, figure: Callable[[State], float | None]) -> Array:
        """Any figure of a state along the sweep, (K,); NaN where there is none."""
        found = (_tried(figure, state) for state in self.states)
        return np.array([np.nan if x is None else x for x in found], dtype=float)

    def to_frame(self) -> pd.DataFrame:
        """A pandas data frame, a row a value: the values, then the DC volts of each net."""
        from pandas import DataFrame

        curves = {f"{net} (V DC)": self[net].dc for net in self}
        named = {f"{name} ({self.units[name]})": x for name, x in self.swept.items()}
        return DataFrame({**named, **curves})

    def _curve(self, unit: str, reading: Callable[[State], Reading]) -> Curve:
        found = tuple(_tried(reading, state) for state in self.states)
        if not any(found) and self.states:
            reading(next((s for s in self.states if s.solved), self.states[0]))  # says why
        return Curve(unit, found)

    def _heads(self) -> Sequence[str]:
        return ("net", *(f"V DC, {which}" for which in ("first", *ENDS, "last")))

    def _row(self, name: str) -> Sequence[Cell]:
        dc = self[name].dc
        return [float(dc[0]), *_ends(dc), float(dc[-1])]

    def _title(self) -> str:
        swept = ", ".join(
            f"{name} from {x[0]:.4g} to {x[-1]:.4g} {self.units[name]}"
            for name, x in self.swept.items()
        )
        return f"{swept}: {len(self.states)} values, volts to gnd"

    def __repr__(self) -> str:
        return f"<Sweep {', '.join(self.swept)}: {len(self.states)} values>"


def _tried(figure: Callable[[State], T], state: State) -> T | None:
    try:
        return figure(state)
    except MissingError:
        return None


@dataclass(frozen=True, slots=True, eq=False)
class PartCurves:
    """A part along a sweep."""

    _sweep: Sweep
    _name: str

    @property
    def volts(self) -> Curve:
        """What is across it, as of ``Part.volts``."""
        return self._sweep._curve("V", lambda s: s.parts[self._name].volts)

    @property
    def amps(self) -> Curve:
        """The current through it, as of ``Part.amps``."""
        return self._sweep._curve("A", lambda s: s.parts[self._name].amps)

    @property
    def watts(self) -> Curve:
        """The power it takes, as of ``Part.watts``."""
        return self._sweep._curve("W", lambda s: s.parts[self._name].watts)


@dataclass(frozen=True, slots=True, eq=False)
class SweptParts(Table[PartCurves]):
    """The parts along a sweep by name."""

    _sweep: Sweep

    def __getitem__(self, name: str) -> PartCurves:
        """The part; MissingError where there is none of that name."""
        if name not in list(self):
            raise missing("a part", name, self)
        return PartCurves(self._sweep, name)

    def __iter__(self) -> Iterator[str]:
        return iter(self._sweep.states[0].parts if self._sweep.states else ())

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def _title(self) -> str:
        return f"parts, {self._sweep._title()}"

    def _heads(self) -> Sequence[str]:
        return ("part", *(f"{u}, {end}" for u in ("V DC", "A DC", "W") for end in ENDS))

    def _row(self, name: str) -> Sequence[Cell]:
        part = self[name]
        try:
            curves = (part.volts.dc, part.amps.dc, part.watts.dc)
        except MissingError:
            return [None] * 6
        return [x for curve in curves for x in _ends(curve)]


@dataclass(frozen=True, slots=True, eq=False)
class TubeCurves:
    """A tube section along a sweep: every figure of :class:`Tube` as an array, (K,)."""

    _sweep: Sweep
    _name: str

    def __getattr__(self, figure: str) -> Array:
        """NaN where there is no number; AttributeError for what is no figure of a tube."""
        if figure not in FIGURES:
            raise AttributeError(f"{figure!r} is no figure of a tube: {', '.join(FIGURES)}")
        return self._sweep.array(lambda s: getattr(s.tubes[self._name], figure))

    def __dir__(self) -> list[str]:
        return list(FIGURES)


@dataclass(frozen=True, slots=True, eq=False)
class SweptTubes(Table[TubeCurves]):
    """The tube sections along a sweep by name."""

    _sweep: Sweep

    def __getitem__(self, name: str) -> TubeCurves:
        """The section; MissingError where no state has a number of it."""
        if name not in list(self):
            raise missing("a tube section", name, self)
        return TubeCurves(self._sweep, name)

    def __iter__(self) -> Iterator[str]:
        return iter(dict.fromkeys(n for state in self._sweep.states for n in state.tubes))

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def _title(self) -> str:
        return f"tubes, {self._sweep._title()}"

    def _heads(self) -> Sequence[str]:
        return ("tube", *(f"{u}, {end}" for u in ("mA plate", "W plate") for end in ENDS))

    def _row(self, name: str) -> Sequence[Cell]:
        tube = self[name]
        return [*_ends(tube.plate_ma), *_ends(tube.plate_w)]


def _ends(curve: Array) -> tuple[Cell, Cell]:
    """The lowest and the highest figure of a curve."""
    known = curve[~np.isnan(curve)]
    return (float(known.min()), float(known.max())) if len(known) else (None, None)
