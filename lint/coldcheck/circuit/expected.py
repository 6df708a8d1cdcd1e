"""Whether each ``expect`` line names something that has what it expects.

An expectation makes no points: what it names stands elsewhere in the drawing, or it is a problem.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.problems import UNKNOWN_LEAD, UNKNOWN_NAME, did_you_mean, listed
from coldcheck.circuit.wiring import complain, find_key
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Expect

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.circuit.declare import Declared
    from coldcheck.circuit.problems import ProblemLog
    from coldcheck.circuit.wiring import Wiring
    from coldcheck.drawing.model import Drawing, Point

CARRIES = ("plate", "screen", "grid", "cathode")
"""Electrodes whose current can be expected; two plates of a rectifier are counted together."""

DISSIPATES = ("plate", "screen")


def check_expectations(drawing: Drawing, found: Declared, wiring: Wiring, log: ProblemLog) -> None:
    """Log a problem for every expectation of something that is not there."""
    check = _Check(found, wiring, log)
    for statement in drawing.statements:
        if isinstance(statement, Expect):
            check.expectation(statement)


class _Check:
    """The names of a drawing, as its expectations may use them."""

    def __init__(self, found: Declared, wiring: Wiring, log: ProblemLog) -> None:
        self._found, self._wiring, self._log = found, wiring, log
        self._parts = {d.part.name: d.part for d in wiring.drawn}
        self._heaters = {f"{tube}.heater" for tube in found.tubes}
        self._tubes = {*found.tubes, *(n for n, o in found.owners.items() if o.tube)}

    def expectation(self, expect: Expect) -> None:
        """Look up what one line names."""
        if expect.quantity == "current":
            names = (
                *(*self._parts, *self._tubes, *self._heaters, *self._found.transistors),
                *self._found.winding_names(),
            )
            self._body(expect.point, names, CARRIES, "a part, a tube, an electrode or a winding")
        elif expect.quantity == "dissipation":
            names = (*self._parts, *self._found.pots, *self._found.transistors, *self._tubes)
            self._body(expect.point, names, DISSIPATES, "a part, a tube, its plate or its screen")
        elif expect.quantity == "gain":
            self._gain(expect)
        elif expect.quantity != "drain" or self._kind(expect.point) is not PartKind.CAPACITOR:
            for point in filter(None, (expect.point, expect.other)):
                self._point(point)

    def _kind(self, point: Point) -> PartKind | None:
        part = self._parts.get(point.text)
        return part.kind if part is not None else None

    def _point(self, point: Point) -> None:
        key = find_key(point, self._found)
        plain = key is not None and point.owner not in self._found.owners
        if key is None:
            complain(point, self._found, self._log)
        elif plain and point.text.casefold() in LANDMARKS:
            return
        elif plain and not self._wiring.nets.is_written(key):
            hint = did_you_mean(point.text, self._wiring.places)
            self._log.add(point.span, UNKNOWN_NAME, point.text, "a point of the drawing", hint)
        else:
            self._wiring.nets.spell(point.text, key)

    def _body(
        self, point: Point, names: Iterable[str], electrodes: tuple[str, ...], expected: str
    ) -> None:
        """A part, tube or winding by its name, or an electrode of a tube."""
        names = tuple(names)
        owner = self._found.owners.get(point.owner)
        if point.text in names or (owner is not None and owner.opaque):
            return
        if self._log.declared_in_vain(point.owner):
            return
        if point.owner in self._tubes and (point.lead or point.pin):
            self._electrode(point, electrodes)
            return
        own = [n for n in names if n.startswith(f"{point.owner}.")]
        hint = f"say {listed(own, 'or')}" if own else did_you_mean(point.text, names)
        self._log.add(point.span, UNKNOWN_NAME, point.text, expected, hint)

    def _electrode(self, point: Point, electrodes: tuple[str, ...]) -> None:
        key = find_key(point, self._found)
        if key is None or point.pin is not None:
            complain(point, self._found, self._log)
        elif key.rpartition(".")[2] not in electrodes:
            leads = [
                f"{point.owner}.{electrode}"
                for electrode in electrodes
                if electrode in self._found.owners[point.owner].leads
            ]
            hint = f"say {listed((point.owner, *leads), 'or')}"
            self._log.add(point.span, UNKNOWN_LEAD, point.text, "the tube or an electrode", hint)
        else:
            self._wiring.nets.spell(point.text, key)

    def _gain(self, expect: Expect) -> None:
        if expect.other is not None:
            self._point(expect.other)
        if expect.point.text in self._tubes and expect.point.text in self._found.tubes:
            self._stage(expect.point)
        elif expect.point.text not in self._tubes and expect.point.text not in self._parts:
            self._point(expect.point)

    def _stage(self, point: Point) -> None:
        """A whole tube is a stage only where it has one section."""
        kind = self._found.tubes[point.text][1]
        if len(kind.sections) > 1:
            sections = listed((point.text + s.name for s in kind.sections), "or")
            what = f"{point.text} is a {kind.name}: say {sections}"
            self._log.add(point.span, UNKNOWN_NAME, point.text, "one section of the tube", what)
