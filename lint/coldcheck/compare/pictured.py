"""Two reviews as two pictures, what differs marked in both."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.compare.nets import paired
from coldcheck.picture.board import TangleError
from coldcheck.picture.changed import Changed, Twins, changed
from coldcheck.picture.draw import picture_of
from coldcheck.picture.findings import marked, numbered
from coldcheck.picture.volts import volts_of
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.compare.changes import Comparison
    from coldcheck.judge.finding import Finding
    from coldcheck.picture.model import Picture
    from coldcheck.verdict.review import Review


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two: its picture and what is marked in it.

    calls
        The findings that have a number in the picture.
    """

    picture: Picture
    changed: Changed
    calls: tuple[tuple[int, Finding], ...]


def pictured(found: Comparison, wanted: Callable[[Finding], bool]) -> tuple[Side, Side] | None:
    """Both sides of a comparison in its state, with the findings that are wanted.

    ``None`` where one has no layout: a reader has the words.
    """
    old, new = found.old.circuit, found.new.circuit
    assert old is not None
    assert new is not None
    try:
        before, after = (_drawn(review, found.state, wanted) for review in (found.old, found.new))
    except TangleError:
        return None
    differing = (_differing(found, old), _differing(found, new))
    twins = Twins(paired(old, new), _renamed(found, old), differing)
    marks = changed(before[0], after[0], twins)
    return Side(before[0], marks[0], before[1]), Side(after[0], marks[1], after[1])


def _drawn(
    review: Review, state: str, wanted: Callable[[Finding], bool]
) -> tuple[Picture, tuple[tuple[int, Finding], ...]]:
    circuit, solution = review.circuit, review.solutions.get(state)
    assert circuit is not None
    chosen = [f for f in review.findings if wanted(f)]
    solved = solution is not None and solution.converged
    volts = volts_of(solution.waves) if solution is not None and solved else {}
    said = f"volts to gnd, {state}" if solved else f"no volts: {state} is not solved"
    return picture_of(circuit, volts, said, marked(circuit, chosen)), tuple(numbered(chosen))


def _renamed(found: Comparison, old: Circuit) -> Mapping[str, str]:
    """Parts that only have another name, as the old and the new picture call them."""
    names: dict[str, str] = {}
    for part in found.parts:
        if part.how == "renamed":
            called = _drawn_as(old, part.old)
            names |= {name: part.new + name.removeprefix(part.old) for name in called}
    return names


def _differing(found: Comparison, circuit: Circuit) -> frozenset[str]:
    """Parts with another value, as a picture calls them."""
    changes = (part.name for part in found.parts if part.how == "changed")
    return frozenset(name for part in changes for name in _drawn_as(circuit, part))


def _drawn_as(circuit: Circuit, part: str) -> tuple[str, ...]:
    """The symbols of a part: a tube's sections and heater, the whole of what a branch is of."""
    tube = circuit.tubes.get(part)
    if tube is not None:
        return (*(section.name for section in tube.sections), f"{part} heater")
    pieces = part.split(".")
    return tuple(".".join(pieces[: n + 1]) for n in range(len(pieces)))
