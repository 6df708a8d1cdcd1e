"""What the figures of a sheet are for: mains, signal, controls, state, drawing.

A reading taken under other conditions is no comparison. How the figures go with the mains is worked
out from the state at both ends of their tolerance.
"""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256
from typing import TYPE_CHECKING

from coldcheck.circuit.throws import switch_of, throws_by_hand
from coldcheck.circuit.tracks import halves
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import plain

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.chart.expected import Expected
    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.solution import State

GOES_WITH = 0.03
"""Share by which a voltage may be off the proportion to the mains and still go with them."""

MARK_LETTERS = 12
"""Letters of the drawing's hash that a person compares."""


@dataclass(frozen=True, slots=True)
class Scaling:
    """How the voltages go with the mains, up to ``reach`` (a share) either way.

    All but ``not_at`` are in proportion, within ``within`` (a share).
    """

    reach: float
    within: float
    not_at: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Control:
    """A control as it is taken: of a potentiometer the share of its track below the wiper."""

    name: str
    below: float | None = None
    thrown: str = ""


@dataclass(frozen=True, slots=True)
class Conditions:
    """See the module.

    volts, hertz
        The mains as taken; ``None`` where the drawing has none.
    scaling
        ``None`` where there are no mains, or the ends of their tolerance were not solved.
    signals
        Generators, all at nothing.
    meters
        What readings were taken with; of a chart nothing was read.
    mark
        The beginning of the SHA-256 of the drawing's text, its sheets with it, in groups, which no
        spreadsheet takes for a number.
    """

    file: str
    mark: str
    state: str
    volts: float | None
    hertz: float | None
    scaling: Scaling | None
    signals: tuple[str, ...]
    controls: tuple[Control, ...]
    meters: tuple[str, ...] = ()


def conditions_of(expected: Expected) -> Conditions:
    """The conditions of a state's figures."""
    return replace(as_drawn(expected.circuit, expected.state), scaling=_scaling(expected))


def as_drawn(circuit: Circuit, state: State, meters: tuple[str, ...] = ()) -> Conditions:
    """The conditions of a state without solving anything."""
    mains = circuit.mains
    volts = None if mains is None else plain(mains.voltage, "volt", 0.0) * state.line
    return Conditions(
        circuit.drawing.file,
        mark_of(circuit),
        state.name,
        volts,
        None if mains is None else plain(mains.frequency, "hertz", 0.0),
        None,
        tuple(b.name for b in circuit.branches.values() if b.kind is PartKind.SIGNAL),
        (*_pots(circuit), *_switches(circuit, state)),
        meters,
    )


def mark_of(circuit: Circuit) -> str:
    """The hash of the text that was read, whatever the name or the folder of its files.

    Of a drawing of one file the beginning of what ``sha256sum`` says of it, its lines
    ended by a line feed each.
    """
    drawing = circuit.drawing
    every = [drawing.lines, *(drawing.sheets[name] for name in sorted(drawing.sheets))]
    text = "\n\f".join("\n".join(lines) for lines in every)
    mark = sha256(text.encode()).hexdigest()[:MARK_LETTERS]
    return "-".join(mark[k : k + 4] for k in range(0, MARK_LETTERS, 4))


def _pots(circuit: Circuit) -> Iterator[Control]:
    tracks = (b for b in circuit.branches.values() if b.kind is PartKind.POT)
    for name in dict.fromkeys(b.owner for b in tracks):
        above, below = (
            sum(plain(b.value, "ohm", 0.0) for b in half) for half in halves(circuit, name)
        )
        yield Control(name, below / (above + below) if above + below else None)


def _switches(circuit: Circuit, state: State) -> Iterator[Control]:
    throws = throws_by_hand(circuit)
    thrown = {switch_of(t): t for t in state.thrown}
    for name in dict.fromkeys(map(switch_of, throws)):
        yield Control(name, None, thrown.get(name, ""))


def _scaling(expected: Expected) -> Scaling | None:
    """How far each named point's DC is off the proportion at the worse end of the mains."""
    ratios = expected.with_mains()
    if not ratios:
        return None
    off = {
        net: max(abs(times / share - 1) for share, times in ends.items())
        for net, ends in ratios.items()
    }
    going = [x for x in off.values() if x <= GOES_WITH]
    names = tuple(net for net, x in off.items() if x > GOES_WITH)
    return Scaling(expected.circuit.mains_tolerance, max(going, default=0.0), names)
