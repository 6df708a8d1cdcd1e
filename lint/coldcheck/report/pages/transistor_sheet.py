"""The data on a transistor or regulator as text: every figure with how sure it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.units import engineering
from coldcheck.drawing.values import SYMBOLS
from coldcheck.report.shared.lines import columns, entries, paragraph, say, show
from coldcheck.report.shared.plain import clean

if TYPE_CHECKING:
    from rich.console import Console

    from coldcheck.circuit.transistors import TransistorType
    from coldcheck.circuit.tubes_types import Sourced


def render(kind: TransistorType, console: Console) -> None:
    """Print everything on file about one type."""
    paragraph(console, f"{clean(kind.name)}  {clean(kind.family.value)}", style="bold")
    source = next(iter(kind.figures.values())).source
    head = (("case", kind.case), ("leads", ", ".join(kind.family.leads)), ("source", source))
    entries(console, ((name, clean(text)) for name, text in head), 2, 11)
    say(console)
    say(console, "Figures", style="bold")
    table = columns("figure", "value", "basis")
    for name, found in kind.figures.items():
        table.add_row(clean(name), _value(found), found.confidence)
    show(console, table)


def _value(figure: Sourced) -> str:
    if figure.unit == "kelvin_per_watt":
        return f"{figure.value:g} K/W"
    return engineering(figure.value, SYMBOLS.get(figure.unit, figure.unit), 4)
