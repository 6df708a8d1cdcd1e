"""Dividers made for something that does not hang on them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import warm_volts
from coldcheck.anatomy.unused_dividers import DIVIDES_OHM, unused_dividers
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.rule import Rule, rule
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Outcome


@rule(
    "supply.divider-unused",
    title="Divided voltage that nothing uses",
    level="notice",
    states="the drawing alone",
    needs="the wiring",
    criterion=(
        "A point of its own name has a resistor of more than "
        f"{DIVIDES_OHM.value / 1e3:g} kohm from a supply, one to gnd and a capacitor to gnd on it, "
        "and nothing else."
    ),
    why="Nobody divides a supply and filters the result for nothing: heaters were to be lifted by "
    "it, a grid or a screen was to hang on it. What was meant for it is now on another point, or "
    "on none.",
    source=PRACTICE,
    limits="A bleeder of two resistors has no capacitor between them. Points with a lead of a "
    "part on them, and dividers of more than two resistors, are not looked at.",
    thresholds=(DIVIDES_OHM,),
)
def divider_unused(case: Case) -> Iterator[Outcome]:
    """Look for such points."""
    for found in unused_dividers(case.circuit):
        parts = (found.upper.name, found.lower.name, found.held.name)
        level = warm_volts(case, case.circuit.points[found.name])
        at = "" if level is None else f", {volts(level)} warm,"
        yield divider_unused.finding(
            case,
            (found.name, *parts),
            f"{found.name}{at} is made by {listed(parts)}, and nothing hangs on it",
            f"Look at the original again: what is meant to be wired to {found.name}? Heaters that "
            "are to be lifted, a grid's leak, a screen",
            certainty="certain",
        )


RULES: tuple[Rule, ...] = (divider_unused,)
