"""The points of a chart or a plan with numbers, and the circuit with the numbers in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.board import TangleError
from coldcheck.picture.devices import MARKS
from coldcheck.picture.draw import picture_of
from coldcheck.picture.findings import pointed
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.picture.model import Picture


@dataclass(frozen=True, slots=True)
class PointsDrawn:
    """``numbers`` by net, ``nets`` by point; gnd, chassis and earth have marks and no numbers."""

    nets: Mapping[str, str]
    numbers: Mapping[str, int]
    picture: Picture

    def number(self, point: str | None) -> str:
        """The number of a point or net as it is printed; empty where it has none."""
        net = None if point is None else self.nets.get(point, point)
        return "" if net is None else str(self.numbers.get(net, ""))


def points_drawn(circuit: Circuit, points: Iterable[str | None]) -> PointsDrawn | None:
    """Points or nets numbered in the order given, those of one net alike.

    ``None`` where the circuit cannot be laid out.
    """
    known = (circuit.points.get(point, point) for point in points if point is not None)
    nets = dict.fromkeys(net for net in known if net in circuit.names and net not in MARKS)
    numbers = {net: n for n, net in enumerate(nets, 1)}
    try:
        picture = picture_of(circuit, marked=pointed(numbers))
    except TangleError:
        return None
    return PointsDrawn(circuit.points, numbers, picture)
