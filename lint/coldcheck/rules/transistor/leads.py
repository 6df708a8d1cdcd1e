"""Leads of transistors and regulators that nothing is wired to."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.loose import in_the_air
from coldcheck.drawing.wording import listed
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "transistor.lead-open",
    title="Lead of a transistor or regulator wired to nothing",
    level="notice",
    states="the drawing alone",
    needs="the wiring",
    criterion="Nothing is wired to a lead of a transistor or of a three-terminal regulator.",
    why="A transistor works with all its leads or not at all: without its drain or collector "
    "nothing behind it is fed, an open gate takes any voltage it catches, and a regulator without "
    "its reference gives all that comes in.",
    source=(PRACTICE, Citation("maker-sheet")),
    limits="Whether the leads are on the right points is judged by others.",
)
def lead_open(case: Case) -> Iterator[Outcome]:
    """Look at every lead."""
    for name, one in case.circuit.transistors.items():
        free = [f"{name}.{lead}" for lead in one.nets if in_the_air(case.circuit, f"{name}.{lead}")]
        if free:
            yield lead_open.finding(
                case,
                (name, *free),
                f"nothing is wired to {listed(free)}",
                f"Wire {listed(free)} to where it belongs, or leave {name} out",
                evidence={"open": listed(free)},
                certainty="certain",
            )


RULES: tuple[Rule, ...] = (lead_open,)
