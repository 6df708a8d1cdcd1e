"""What states, nets, parts and tubes have in common: a mapping that shows itself as a table."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from html import escape
from math import isnan
from typing import TYPE_CHECKING, TypeVar

from coldcheck.api.reading import LEAST

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import TypeAlias

    import pandas as pd

    Cell: TypeAlias = str | float | bool | None

__all__ = ["Table"]

T_co = TypeVar("T_co", covariant=True)


class Table(Mapping[str, T_co]):
    """A mapping of names that a notebook shows as a table; units stand in the heads."""

    __slots__ = ()

    @abstractmethod
    def _heads(self) -> Sequence[str]:
        """The heads of the columns, that of the names first; each with its unit."""

    @abstractmethod
    def _row(self, name: str) -> Sequence[Cell]:
        """What stands beside a name; ``None`` where there is no number."""

    def _shown(self, name: str) -> Sequence[Cell]:
        """The same as a notebook shows it."""
        return self._row(name)

    def _title(self) -> str:
        return ""

    def to_frame(self) -> pd.DataFrame:
        """The table as a pandas data frame, its names the index. ImportError without pandas."""
        from pandas import DataFrame, Index

        first, *heads = self._heads()
        names = list(self)
        index = Index(names, name=first)
        return DataFrame([list(self._row(n)) for n in names], index=index, columns=heads)

    def _ipython_key_completions_(self) -> list[str]:
        return list(self)  # what a notebook offers after the bracket

    def _repr_html_(self) -> str:
        return html(self._title(), self._heads(), [(n, *self._shown(n)) for n in self])


def html(title: str, heads: Sequence[str], rows: Sequence[Sequence[Cell]]) -> str:
    """A table as a notebook shows it."""
    caption = f"<caption>{escape(title)}</caption>" if title else ""
    head = "".join(f"<th>{escape(h)}</th>" for h in heads)
    body = "".join(f"<tr>{''.join(f'<td>{_shown(c)}</td>' for c in row)}</tr>" for row in rows)
    return f"<table>{caption}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _shown(cell: Cell) -> str:
    match cell:
        case None:
            return "-"
        case bool():
            return "yes" if cell else "no"
        case str():
            return escape(cell)
        case _:
            return "-" if isnan(cell) else f"{cell if abs(cell) > LEAST else 0:.4g}"
