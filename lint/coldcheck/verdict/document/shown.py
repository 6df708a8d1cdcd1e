"""The circuit as it is drawn, with what a reader may ask of its parts in every solved state."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from coldcheck.circuit.entries import in_words
from coldcheck.picture.board import TangleError
from coldcheck.picture.draw import picture_of
from coldcheck.picture.findings import marked, names_of
from coldcheck.picture.volts import volts_of, widest
from coldcheck.verdict.document.content import Shown, Through
from coldcheck.verdict.document.digits import rounded

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.picture.model import Picture
    from coldcheck.solve.solution import Solution
    from coldcheck.verdict.review import Review

UNREAD = "not all of it could be read"
MOST_PARTS = 1500
"""More parts than this are not laid out: nobody finds his way on such a sheet."""


def shown(review: Review) -> tuple[Shown | None, str]:
    """The picture of a review, or why there is none; what breaks down costs the picture alone."""
    circuit = review.circuit
    if circuit is None:
        return None, "nothing of the drawing could be read"
    if len(circuit.branches) > MOST_PARTS:
        return None, f"more than {MOST_PARTS} parts and windings are not laid out"
    try:
        return _shown(review, circuit), ""
    except MemoryError:
        raise
    except TangleError as error:
        return None, f"it cannot be laid out: {error}"
    except Exception as error:
        if os.environ.get("COLDCHECK_DEBUG"):
            raise
        return None, f"the layout broke down: {in_words(error)}"


def _shown(review: Review, circuit: Circuit) -> Shown:
    solved = {name: s for name, s in review.solutions.items() if s.converged}
    words = widest(volts_of(s.waves) for s in solved.values())
    findings = marked(circuit, review.findings)
    said = "" if review.readable else UNREAD
    picture = picture_of(circuit, words, said, findings)
    parts, nets = _parts(picture), frozenset(circuit.names)
    places = {at: names_of(circuit, at) for f in review.findings for at in f.at}
    return Shown(
        picture=picture,
        lines={part: circuit.span(_written(part)) for part in parts},
        places={at: tuple(n for n in names if n in parts | nets) for at, names in places.items()},
        through={name: _through(circuit, s, parts) for name, s in solved.items()},
    )


def _parts(picture: Picture) -> frozenset[str]:
    return frozenset(item.device.name for panel in picture.panels for item in panel.items)


def _written(part: str) -> str:
    """The name under which the drawing has a part: a heater is its tube's."""
    return part.removesuffix(" heater").removeprefix("signal ")


def _through(circuit: Circuit, solution: Solution, parts: frozenset[str]) -> Mapping[str, Through]:
    found = ((name, _figures(b, solution)) for name, b in _drawn(circuit, parts))
    return {name: figures for name, figures in found if figures is not None}


def _drawn(circuit: Circuit, parts: frozenset[str]) -> Iterator[tuple[str, Branch]]:
    return ((name, branch) for name, branch in circuit.branches.items() if name in parts)


def _figures(branch: Branch, solution: Solution) -> Through | None:
    across, current = solution.between(branch.a, branch.b), solution.current(branch.name)
    if across is None:
        return None
    through = None if current is None else current.samples
    return Through(
        rounded(across.dc),
        rounded(across.ac_rms),
        None if through is None else rounded(1000 * float(through.mean())),
        None if through is None else rounded(float((across.samples * through).mean())),
    )
