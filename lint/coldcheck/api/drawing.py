"""A drawing to work with: its states when asked for, and the same drawing at other values."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from coldcheck.api.errors import BadValueError, UnreadableError, missing
from coldcheck.api.given import amount_of, drawing_of, settings_of
from coldcheck.api.review import Review
from coldcheck.api.state import State, state_of
from coldcheck.api.sweep import Sweep
from coldcheck.api.table import Table, html
from coldcheck.circuit.limits import shortened
from coldcheck.circuit.valued import valued
from coldcheck.drawing import read_drawing
from coldcheck.drawing.valued import Value, values
from coldcheck.records import dataclass
from coldcheck.settings.apply import circuit_of
from coldcheck.solve.solution import WARM
from coldcheck.solve.values import Asked
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.too_much import too_much

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

    from coldcheck.api.table import Cell
    from coldcheck.drawing.model import Drawing as Read
    from coldcheck.drawing.values import Amount
    from coldcheck.settings.model import Settings

__all__ = ["Drawing", "States", "Values", "read", "read_text"]

NOTHING: Mapping[str, Any] = MappingProxyType({})


def read(path: str | Path, *, settings: Mapping[str, Any] | None = None) -> Drawing:
    """The drawing in a file, with its sheets and its project's settings.

    ``settings`` (keys as in ``coldcheck.toml``) take the place of those that are found upwards from
    the file. Raises UnreadableError for a drawing that cannot be read, ``ValueError``
    (:class:`coldcheck.settings.model.SettingsError`) for settings that cannot be used.
    """
    from coldcheck.settings.find import find

    found = find(Path(path)) if settings is None else settings_of(settings)
    return _drawing(read_drawing(path), found)


def read_text(
    text: str,
    name: str = "drawing",
    *,
    sheets: Mapping[str, str] = NOTHING,
    settings: Mapping[str, Any] = NOTHING,
) -> Drawing:
    """A drawing given as text; ``name`` stands for its file in what is reported.

    ``sheets`` are the texts of the sheets it names, by the names it gives them; no file is opened.
    ``settings`` have the keys of ``coldcheck.toml``; none are looked for. Raises as :func:`read`.
    """
    return _drawing(drawing_of(text, name, sheets), settings_of(settings))


def _drawing(read: Read, settings: Settings) -> Drawing:
    circuit = circuit_of(read, settings)
    problems = (*read.problems, *circuit.problems)
    if problems:
        raise UnreadableError(shortened(problems))
    return Drawing(settings, Asked(circuit), NOTHING)


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """A drawing that could be read. Nothing of it changes; another value makes another drawing.

    Each state is solved when it is first asked for, and once.
    """

    _settings: Settings
    _asked: Asked
    _changed: Mapping[str, Value]

    @property
    def file(self) -> str:
        """The drawing's file, as it was named."""
        return self._read.file

    @property
    def title(self) -> str:
        """The drawing's title; empty where it has none."""
        return self._read.title

    @property
    def values(self) -> Values:
        """Name -> value of all that can be another: parts, settings of pots, ``mains``."""
        return Values(values(self._read))

    @property
    def changed(self) -> Values:
        """The values that are not those of the text."""
        return Values(self._changed)

    @property
    def states(self) -> States:
        """State name -> state, each solved when it is asked for."""
        return States(self._asked)

    @property
    def warm(self) -> State:
        """The nominal state."""
        return self.states[WARM]

    def with_values(
        self, values: Mapping[str, str | float] = NOTHING, /, **more: str | float
    ) -> Drawing:
        """The same drawing at other values; this one stays as it is.

        Text is read as in a drawing (``R7="680 ohm"``, ``P1="30 %"``, ``mains="117 V"``); a number
        is in the unit that ``values`` names. A name that Python cannot write goes into the mapping:
        ``{"L/R7": 680}``. Raises MissingError for an unknown name, BadValueError for no value.
        """
        new = _amounts(self.values, {**values, **more})
        asked = self._asked.beside(valued(self._asked.circuit, new))
        changed = {**self._changed, **_named(asked, new)}
        return Drawing(self._settings, asked, MappingProxyType(changed))

    def sweep(
        self,
        values: Mapping[str, Iterable[str | float]] = NOTHING,
        /,
        *,
        state: str = WARM,
        **more: Iterable[str | float],
    ) -> Sweep:
        """A state at one value after the other; the values are as for :meth:`with_values`.

        Several names go together, the first values of all, then the second. The states are solved
        together from this drawing's answer; each is what ``with_values(...)`` gives alone. Raises
        MissingError for an unknown name or state, BadValueError for what is no value and where
        there are not as many values of each name.
        """
        if state not in self._asked.states:
            raise missing("a state", state, self._asked.states)
        rows = [_amounts(self.values, row) for row in _rows({**values, **more})]
        circuits = [valued(self._asked.circuit, new) for new in rows]
        states = tuple(state_of(s) for s in self._asked.sweep(circuits, state))
        names = tuple(rows[0]) if rows else ()
        swept = {n: np.array([row[n].number for row in rows]) for n in names}
        units = {n: rows[0][n].unit for n in names}
        return Sweep(swept, units, states)

    def review(self, *, today: date | None = None) -> Review:
        """The review of the drawing at these values; ``today`` decides which waivers have run out.

        What it quotes of the text is the text as it was written.
        """
        return Review(review_drawing(self._read, today, self._settings))

    @property
    def _read(self) -> Read:
        return self._asked.circuit.drawing

    def _repr_html_(self) -> str:
        rows = [
            (n, v.kind, str(v), "changed" if n in self._changed else "")
            for n, v in self.values.items()
        ]
        return html(self.title or self.file, ("name", "kind", "value", ""), rows)

    def __repr__(self) -> str:
        changed = "".join(f", {name} = {value}" for name, value in self._changed.items())
        return f"<Drawing {self.title or self.file}{changed}>"


def _amounts(known: Mapping[str, Value], given: Mapping[str, str | float]) -> dict[str, Amount]:
    return {name: amount_of(known, name, value) for name, value in given.items()}


def _named(asked: Asked, new: Mapping[str, Amount]) -> Mapping[str, Value]:
    now = values(asked.circuit.drawing)
    return {name: now[name] for name in new}


def _rows(given: Mapping[str, Iterable[str | float]]) -> list[dict[str, str | float]]:
    """The values one after the other. Raises BadValueError where there are not as many of each."""
    columns = {name: _column(name, row) for name, row in given.items()}
    lengths = {name: len(row) for name, row in columns.items()}
    if not lengths:
        raise BadValueError("found no name; expected the values of at least one part")
    if len(set(lengths.values())) > 1:
        told = ", ".join(f"{n} of {name}" for name, n in lengths.items())
        raise BadValueError(f"found {told}; expected as many values of each")
    return [dict(zip(given, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def _column(name: str, row: object) -> list[str | float]:
    if isinstance(row, str) or not isinstance(row, Iterable):
        expected = "values one after the other, such as [220, 330]"
        raise BadValueError(f"{name}: found {row!r}; expected {expected}")
    return list(row)


@dataclass(frozen=True, slots=True, eq=False)
class Values(Table[Value]):
    """Values of a drawing by name."""

    _known: Mapping[str, Value]

    def __getitem__(self, name: str) -> Value:
        """The value; MissingError where there is none of that name."""
        if name not in self._known:
            raise missing("a value", name, self._known)
        return self._known[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._known)

    def __len__(self) -> int:
        return len(self._known)

    def _heads(self) -> Sequence[str]:
        return ("name", "kind", "value", "unit")

    def _row(self, name: str) -> Sequence[Cell]:
        value = self._known[name]
        return [value.kind, value.number, value.unit]

    def _shown(self, name: str) -> Sequence[Cell]:
        value = self._known[name]
        return [value.kind, str(value), value.unit]


@dataclass(frozen=True, slots=True, eq=False)
class States(Table[State]):
    """The states of a drawing by name, ``warm`` first; each is solved when it is asked for."""

    _asked: Asked

    def __getitem__(self, name: str) -> State:
        """The state; MissingError where the drawing has none of that name.

        Raises UnreadableError for a drawing that would cost too much to solve.
        """
        if name not in self._asked.states:
            raise missing("a state", name, self._asked.states)
        solution = self._asked.solution(name)
        problem = too_much(self._asked.circuit, (solution,))
        if problem is not None:
            raise UnreadableError((problem,))
        return state_of(solution)

    def __iter__(self) -> Iterator[str]:
        return iter(self._asked.states)

    def __len__(self) -> int:
        return len(self._asked.states)

    def _heads(self) -> Sequence[str]:
        return ("state", "solved", "why not")

    def _row(self, name: str) -> Sequence[Cell]:
        state = self[name]
        return [state.solved, state.reason]
