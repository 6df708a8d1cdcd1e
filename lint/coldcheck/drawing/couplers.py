"""Parts in one case that have several two-lead parts in them: what is written, part by part."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import FORMS, KIND_WORDS, PartKind
from coldcheck.drawing.model import Compound, CompoundLine, Inner

if TYPE_CHECKING:
    from collections.abc import Sequence

    from lark import Token

    from coldcheck.drawing.lines import Line
    from coldcheck.drawing.parts import PartReader


def optocoupler(
    name: Token, lamp: Sequence[Token], cell: Sequence[Token], parts: PartReader, line: Line
) -> CompoundLine:
    """``optocoupler OC1 led 20 mA cell 10M 500 ohm``. Raises Refused after adding a problem.

    Where no word says what shines it is an LED, with the leads ``a`` and ``k``; a neon or a
    filament lamp has ``lamp1`` and ``lamp2``.
    """
    named = [KIND_WORDS[w] for t in lamp if (w := str(t).lower()) in KIND_WORDS]
    filament = PartKind.LAMP in named
    form = FORMS[PartKind.LAMP if filament else PartKind.LED]
    shines = parts.inner(f"{name}.lamp", lamp or [name], form, None if filament else "right")
    ends = ("lamp1", "lamp2") if filament else ("a", "k")
    sees = parts.inner(f"{name}.cell", cell, FORMS[PartKind.PHOTOCELL], None)
    inside = (Inner(shines, ends), Inner(sees, ("cell1", "cell2")))
    return CompoundLine(str(name), Compound.OPTOCOUPLER, inside, line.whole())
