"""What was solved for a library as arrays to be kept, and read again.

What all nets show in all cases, end to end in one array a field, to seven digits; how many of what
is said beside them.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np

from coldcheck.bench.diagnosis.library import Solved
from coldcheck.bench.diagnosis.ripple import Rippling
from coldcheck.solve.faults.spread import Shown

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.bench.diagnosis.suspects import Suspect

FIELDS = ("volts", "ac", "ohms", "waves", "behind", "deviations")


def every_shown(solved: Solved) -> list[Shown]:
    """All that was solved, in one order: the sound circuit, its ripple, the cases."""
    rippling = solved.rippling
    halves = [shown for both in rippling.halves for shown in both]
    cases = [shown for *_, some in solved.cases for _, shown in some]
    return [rippling.good, rippling.mains, *rippling.filters, *halves, *cases]


def places(solved: Solved) -> dict[str, Any]:
    """Which of them is what: how many of the ripple, and of each suspect which of its cases."""
    return {
        "filters": len(solved.rippling.filters),
        "halves": len(solved.rippling.halves),
        "cases": [
            [place, [suspect.cases.index(case) for case, _ in some]]
            for place, suspect, some in solved.cases
        ],
    }


def packed(every: Sequence[Shown]) -> dict[str, NDArray[Any]]:
    """What the nets show as one array a field; the shapes beside them."""
    causes: dict[tuple[str, ...], int] = {}
    shapes = []
    for shown in every:
        known = causes.setdefault(tuple(shown.deviations), len(causes))
        shapes.append([*shown.waves.shape, known])
    said = {"nets": every[0].nets, "causes": list(causes), "shapes": shapes}
    found: dict[str, NDArray[Any]] = {
        name: np.concatenate([np.ravel(getattr(s, name)) for s in every]).astype(np.float32)
        for name in FIELDS[:-1]
    }
    moved = [volts for s in every for volts in s.deviations.values()]
    found["deviations"] = np.concatenate(moved or [np.zeros(0)]).astype(np.float32)
    return {**found, "shapes": np.frombuffer(json.dumps(said).encode(), dtype=np.uint8)}


def unpacked(kept: Mapping[str, NDArray[Any]]) -> list[Shown]:
    """The same again. Raises ValueError, KeyError and IndexError for what is damaged."""
    said = json.loads(kept["shapes"].tobytes())
    arrays, at = {name: kept[name] for name in FIELDS}, dict.fromkeys(FIELDS, 0)

    def take(name: str, *shape: int) -> NDArray[Any]:
        count = int(np.prod(shape))
        piece = arrays[name][at[name] : at[name] + count]
        at[name] += count
        return piece.reshape(shape)

    found = []
    for nets, instants, known in said["shapes"]:
        causes = said["causes"][known]
        volts, ac, ohms = (take(name, nets).astype(float) for name in FIELDS[:3])
        waves, behind = take("waves", nets, instants), take("behind", nets, nets)
        moved = take("deviations", len(causes), nets).astype(float)
        deviations = dict(zip(causes, moved, strict=True))
        found.append(Shown(tuple(said["nets"]), volts, ac, ohms, deviations, waves, behind))
    return found


def unplaced(said: Mapping[str, Any], every: list[Shown], suspects: Sequence[Suspect]) -> Solved:
    """What was solved, case by case."""
    rest = iter(every)
    good, mains = next(rest), next(rest)
    filters = tuple(next(rest) for _ in range(said["filters"]))
    halves = tuple((next(rest), next(rest)) for _ in range(said["halves"]))
    cases = tuple(
        (place, suspects[place], tuple((suspects[place].cases[k], next(rest)) for k in some))
        for place, some in said["cases"]
    )
    return Solved(Rippling(good, mains, filters, halves), cases)
