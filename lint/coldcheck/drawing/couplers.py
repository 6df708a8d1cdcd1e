"""Parts in one case that have several two-lead parts in them: what is written, part by part."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import FORMS, KIND_WORDS, Form, PartKind
from coldcheck.drawing.model import Compound, CompoundLine, Inner, Part
from coldcheck.drawing.units import quantity

if TYPE_CHECKING:
    from collections.abc import Sequence

    from lark import Token

    from coldcheck.drawing.lines import Line
    from coldcheck.drawing.model import Span
    from coldcheck.drawing.parts import PartReader
    from coldcheck.drawing.units import Quantity

_AMPERES = re.compile(r"[\d.]*[mµu]?A")
GATE_V = 0.7
"""What a gate drops, a junction (common practice)."""


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


def thyristor(
    name: Token, sort: Compound, fields: Sequence[Token], fires: Quantity | None,
    parts: PartReader, line: Line,
) -> CompoundLine:  # fmt: skip
    """``thyristor SCR1 C106D``, ``triac TR1 600 V 4 A gate 35 mA``. Raises Refused.

    What stands behind ``gate`` is the current that fires every copy.
    """
    triac = sort is Compound.TRIAC
    rated = {"volt": "voltage", "ampere": "current"}
    form = Form(PartKind.THYRISTOR, f"a {sort.value}", fields=rated, typed=True)
    main = parts.inner(f"{name}.main", fields or [name], form, None)
    if triac:
        main = replace(main, words=(*main.words, sort.value))
    span = line.whole()
    volts = quantity(GATE_V, "volt")
    gate = Part(f"{name}.gate", PartKind.TRIGGER, span, value=volts, current=fires)
    high, low = ("mt2", "mt1") if triac else ("anode", "cathode")
    return CompoundLine(
        str(name), sort, (Inner(main, (high, low)), Inner(gate, ("gate", low))), span
    )


def vibrator(
    name: Token, volts: Quantity, hertz: Quantity | None, *, synchronous: bool, span: Span
) -> CompoundLine:
    """``vibrator VB1 6 V 115 Hz synchronous``: contacts ``c1`` and ``c2`` on a ``reed``.

    A synchronous one has ``s1`` and ``s2`` besides, which rectify: they are taken as diodes.
    """
    chopper = Part(f"{name}.chopper", PartKind.VIBRATOR, span, value=volts)
    inside = [Inner(chopper, ("c1", "c2"))]
    for end in ("s1", "s2") if synchronous else ():
        contact = Part(f"{name}.{end}", PartKind.DIODE, span, arrow="right")
        inside.append(Inner(contact, ("reed", end)))
    return CompoundLine(str(name), Compound.VIBRATOR, tuple(inside), span, ("reed",), hertz)


def ballast(
    name: Token, sections: Sequence[Sequence[Token]], parts: PartReader, line: Line
) -> CompoundLine:
    """``ballast BAL1 40 V 300 mA : 9 V 300 mA``, ``ballast CORD1 135 ohm 15 W : 25 ohm``.

    Sections in series, ``1``, ``tap`` (or ``tap1``, ``tap2``, ...) and ``2``; one with an ampere is
    a ballast tube's, others are resistors. Raises Refused after adding a problem.
    """
    count = len(sections) - 1
    taps = ("tap",) if count == 1 else tuple(f"tap{n}" for n in range(1, count + 1))
    inside = []
    for n, (fields, ends) in enumerate(zip(sections, pairwise(("1", *taps, "2")), strict=True)):
        holds = any(_AMPERES.fullmatch(str(token)) for token in fields)
        form = FORMS[PartKind.BARRETTER if holds else PartKind.RESISTOR]
        inside.append(Inner(parts.inner(f"{name}.{chr(ord('a') + n)}", fields, form, None), ends))
    return CompoundLine(str(name), Compound.BALLAST, tuple(inside), line.whole())


def mains_plug(name: Token, span: Span) -> CompoundLine:
    """``plug PL1``: two pins that fit either way round, ``1`` on ``line`` as drawn."""
    inside = tuple(
        Inner(_way(f"{name}.{a}-{b}", span, open_=crossed), (a, b))
        for crossed, ways in ((False, (("line", "1"), ("neutral", "2"))),
                              (True, (("line", "2"), ("neutral", "1"))))
        for a, b in ways
    )  # fmt: skip
    return CompoundLine(str(name), Compound.MAINS_PLUG, inside, span)


def connector(name: Token, ways: int, span: Span, *, plugged: bool) -> CompoundLine:
    """``connector P1 8``: ways ``a1`` to ``b1`` and so on, all made while it is plugged."""
    inside = tuple(
        Inner(_way(f"{name}.a{n}-b{n}", span, open_=not plugged), (f"a{n}", f"b{n}"))
        for n in range(1, ways + 1)
    )
    return CompoundLine(str(name), Compound.CONNECTOR, inside, span)


def _way(name: str, span: Span, *, open_: bool) -> Part:
    return Part(name, PartKind.PLUG, span, open=open_)
