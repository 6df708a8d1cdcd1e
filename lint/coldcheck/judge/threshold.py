"""A threshold: a limit or a factor that a rule goes by, named once, with unit and source.

The rule reads its ``value``, the page of ``coldcheck why`` prints its ``text``, and a generated
test moves it to both sides of the figure in the rule's wrong drawing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.judge.figure import Figure
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.judge.figure import Symbol
    from coldcheck.sources.register import Citation


@dataclass(frozen=True, slots=True)
class Threshold:
    """``name`` in the trade's words; ``value`` in the plain ``unit``; where it comes from."""

    name: str
    value: float
    unit: Symbol
    source: Citation

    @property
    def figure(self) -> Figure:
        """As the limit of a finding."""
        return Figure(self.value, self.unit)

    @property
    def text(self) -> str:
        """Name, figure and source in words."""
        return f"{self.name} {self.figure.text()}: {self.source.text}"
