"""Resistors whose power a drawing has to state."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.extending import Case, Outcome, PartKind, rule

if TYPE_CHECKING:
    from collections.abc import Iterator


@rule(
    "house.power-not-stated",
    title="Plate resistor without its power",
    level="notice",
    states="none: the drawing alone",
    needs="a resistor on a plate",
    criterion="A resistor at a plate whose power is not written beside its value.",
    why="The stores of this workshop have the same values in four sizes, and whoever fetches the "
    "part goes by what the drawing says.",
    source="the workshop's own practice",
    limits="Only resistors that are joined to a plate are looked at.",
)
def power_not_stated(case: Case) -> Iterator[Outcome]:
    """Resistors at plates, once each."""
    plates = {s.electrodes["plate"] for s in case.circuit.sections() if "plate" in s.electrodes}
    for branch in case.circuit.branches.values():
        unstated = branch.part is not None and branch.part.power is None
        if branch.kind is PartKind.RESISTOR and unstated and {branch.a, branch.b} & plates:
            yield power_not_stated.finding(
                case,
                (branch.name,),
                f"{branch.name} is on a plate, and its power is not stated",
                f"Write the power of {branch.name} beside its value, as in 100k 1 W",
                certainty="certain",
            )


RULES = (power_not_stated,)
