"""What tunes a frequency changer: the circuit at its signal grid and the one at its oscillator's.

What is across a coil is worked out from every capacitor that leads from one of its ends to the
other, through padders, bypasses and closed contacts, the gang fully in and fully out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.cans import STRAY_F, resonance
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.spread import spread
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Branch, Circuit, Section

OUT = Threshold(
    "least capacitance of a gang, of its largest", 1 / 30, "",
    Citation("practice", "11 to 15 pF of 365 to 490 pF"),
)  # fmt: skip
SHORT_F = 1e-6
"""What stands for a closed contact or a larger capacitor; a million times a trimmer is exact."""

PLAIN = 100
"""Nets that capacitors join: with more a drawing is no receiver, and costs too much."""

SIDES = {
    SectionKind.CONVERTER: (("grid4", "grid3"), "grid"),
    SectionKind.MIXER: (("grid",), "grid3"),
}
"""Kind of frequency changer -> its signal's grids, of which it has one, and its oscillator's."""


@dataclass(frozen=True, slots=True)
class Circle:
    """A coil with its section of the gang: where it resonates, hertz.

    ``closed`` is with the gang fully in, ``open`` fully out: (with trimmers fully in, fully out).
    ``contacts`` are the switches that join it to its grid.
    """

    coil: str
    contacts: tuple[str, ...]
    henry: float
    closed: tuple[float, float]
    open: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Changer:
    """A frequency changer with both of its tuned circuits."""

    section: Section
    signal: Circle
    oscillator: Circle


def has_changer(circuit: Circuit) -> bool:
    """Whether a tube made to change the frequency is in use."""
    return any(section.kind in SIDES for _, section in working(circuit))


def changers(circuit: Circuit) -> Iterator[Changer]:
    """The converters and mixers each of whose grids has one tuned coil, as the switches stand."""
    for _, section in working(circuit):
        if section.kind not in SIDES:
            continue
        heard, beats = SIDES[section.kind]
        signal = _circle(circuit, next((n for e in heard if (n := section.net(e))), None))
        oscillator = _circle(circuit, section.net(beats))
        if signal is not None and oscillator is not None:
            yield Changer(section, signal, oscillator)


def _circle(circuit: Circuit, grid: str | None) -> Circle | None:
    """The one coil that reaches a grid through capacitors and contacts, tuned by a gang."""
    if grid is None or grid in LANDMARKS:
        return None
    near = _joined(circuit, [grid])
    match [c for c in _coils(circuit) if (near - set(LANDMARKS)) & {c[2], c[3]}]:
        case [(name, henry, one, other)]:
            return _tuned(circuit, name, henry, one, other)
        case _:
            return None


def _coils(circuit: Circuit) -> Iterator[tuple[str, float, str, str]]:
    """Coils with an inductance that the drawing has: name, henries, both ends."""
    for coil in circuit.coils():
        henry = si(coil.henries, "henry")
        if henry and not coil.assumed:
            yield coil.name, henry, coil.nets[0], coil.nets[-1]
    for branch in circuit.branches.values():
        henry = branch.henries if branch.kind is PartKind.INDUCTOR else None
        if henry and branch.owner not in circuit.coil_sets:
            yield branch.name, henry, branch.a, branch.b


def _tuned(circuit: Circuit, coil: str, henry: float, one: str, other: str) -> Circle | None:
    ends = [_joined(circuit, [n]) for n in (one, other)]
    nets, hot = frozenset().union(*ends), _joined(circuit, [one, other])
    meet = ends[0] & ends[1] or all(e & set(LANDMARKS) for e in ends)
    near = {b.name: b for n in hot - set(LANDMARKS) for b in circuit.at(n)}.values()
    if not meet or len(nets) > PLAIN or not any(_has(b, "ganged") for b in near):
        return None
    contacts = tuple(dict.fromkeys(b.owner for b in near if _conducts(b)))

    def at(share: float, trimmers: float) -> float:
        def farad(branch: Branch) -> float:
            turned = share if _has(branch, "ganged") or _has(branch, "variable") else 1.0
            return _farad(branch) * (trimmers if _has(branch, "trimmer") else turned)

        across = _capacitance(circuit, one, other, nets, farad)
        return resonance(henry, across + STRAY_F.value)

    closed, opened = (at(1.0, 1.0), at(1.0, 0.0)), (at(OUT.value, 1.0), at(OUT.value, 0.0))
    return Circle(coil, contacts, henry, closed, opened)


def _has(branch: Branch, word: str) -> bool:
    return branch.part is not None and word in branch.part.words


def _farad(branch: Branch) -> float:
    known = branch.farads if branch.kind is PartKind.CAPACITOR else None
    return min(known or 0.0, SHORT_F)


def _conducts(branch: Branch) -> bool:
    return branch.traits.opens and branch.closed


def _holds(branch: Branch) -> bool:
    return _conducts(branch) or _farad(branch) > 0


def _joined(circuit: Circuit, start: Collection[str]) -> frozenset[str]:
    """The nets that capacitors and closed contacts lead to; a landmark ends a way."""
    return spread(circuit, start, lambda b, here: here not in LANDMARKS and _holds(b))


def _capacitance(
    circuit: Circuit, one: str, other: str, nets: Collection[str], farad: Callable[[Branch], float]
) -> float:
    """Between two of the nets, farads, through all capacitors between them.

    Node analysis: a unit of charge into ``one`` and out of ``other``, which is at 0 V.
    """
    place = {n: 0 if n in LANDMARKS else k for k, n in enumerate(sorted(nets), 1)}
    matrix = np.zeros((len(place) + 1, len(place) + 1))
    for branch in circuit.branches.values():
        if branch.a in place and branch.b in place and _holds(branch):
            a, b = place[branch.a], place[branch.b]
            size = SHORT_F if _conducts(branch) else farad(branch)
            matrix[[a, b], [a, b]] += size
            matrix[[a, b], [b, a]] -= size
    return _between(matrix, place[one], place[other])


def _between(matrix: NDArray[np.float64], one: int, other: int) -> float:
    keep = [k for k in range(len(matrix)) if k != other and matrix[k, k] > 0]
    if one not in keep:
        return 0.0
    inside = matrix[np.ix_(keep, keep)]
    charge = np.zeros(len(keep))
    charge[keep.index(one)] = 1.0
    volts = np.linalg.lstsq(inside, charge, rcond=None)[0]  # trimmers fully out leave nets alone
    return float(1.0 / volts[keep.index(one)])
