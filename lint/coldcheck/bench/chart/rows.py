"""The chart as data; the words for it are made in the reports."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.bench.chart.conditions import Conditions
    from coldcheck.bench.chart.expected import Voltages
    from coldcheck.bench.chart.ohmmeter import Ohms
    from coldcheck.bench.chart.points import Pin

NOTES = (
    "through-winding",
    "assumed-winding",
    "settles",
    "climbs",
    "minus-lead",
    "diode",
    "pot",
    "unknown-part",
    "own-channel",
    "no-voltage",
    "swings",
    "loading",
    "input-rating",
    "mains",
)
"""Kinds of note.

through-winding
    ``names``: the chokes and windings on the way of least resistance to gnd.
assumed-winding
    ``names``: the parts of them whose resistance the drawing does not give.
settles
    ``names``: capacitors; ``number``: seconds until within 1 % of the end.
climbs
    ``names``: capacitors; there is no path but through them.
minus-lead
    ``names``: electrolytics that the + lead on the point would charge the wrong way round.
diode
    ``names``: what conducts; ``word`` is ``plus`` or ``minus``, the lead on the point.
pot
    ``names``: the potentiometer; ``low`` and ``high``: ohms over its travel, and ``number``
    what is read as drawn.
unknown-part
    The drawing leaves out a value that takes part.
own-channel
    ``names``: transistors that conduct with no supply and take part, each copy as it will.
no-voltage
    ``word``: why there is none.
swings
    ``number``: hertz at which an oscillator swings there; the volts are those of rest.
loading
    ``number``: volts DC a 10 megohm meter shows.
input-rating
    ``number``: the highest instant, volts, above what a bare scope input stands.
mains
    The point is joined to the mains.
"""


@dataclass(frozen=True, slots=True)
class Note:
    """Something to know about a reading; see :data:`NOTES` for what the fields mean."""

    kind: str
    names: tuple[str, ...] = ()
    number: float | None = None
    low: float | None = None
    high: float | None = None
    word: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One pin, lead or point. ``ohms`` to gnd, power off; ``volts`` to gnd, power on.

    Both are ``None`` where nothing is on the pin. ``through`` are the parts on the way of least
    resistance to gnd.
    """

    pin: Pin
    name: str
    ohms: Ohms | None
    through: tuple[str, ...]
    volts: Voltages | None
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class Block:
    """A tube, the rails, other points or a transformer.

    ``kind`` is ``tube``, ``rails``, ``points`` or ``transformer``.
    """

    kind: str
    name: str
    what: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """The whole chart in one state.

    ``reason`` says why there are no voltages, if so; ``live`` that gnd itself is on the mains.
    """

    file: str
    title: str
    state: str
    reason: str
    live: bool
    blocks: tuple[Block, ...]
    conditions: Conditions

    def rows(self) -> tuple[Row, ...]:
        """Every row, in order."""
        return tuple(row for block in self.blocks for row in block.rows)
