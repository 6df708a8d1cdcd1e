"""One state of a circuit: its nets, its parts and its tubes, by name."""

from __future__ import annotations

from dataclasses import field, fields
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.api.errors import MissingError, missing
from coldcheck.api.reading import Reading
from coldcheck.api.table import Table
from coldcheck.drawing.units import engineering, magnitude
from coldcheck.drawing.values import SYMBOLS
from coldcheck.judge.ranges import electrode
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import mains_frequency
from coldcheck.solve.solution import HIGH, LOW, TubeReading

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from coldcheck.api.table import Cell
    from coldcheck.circuit.model import Branch, Section
    from coldcheck.solve.solution import Solution, Wave

__all__ = ["Part", "Parts", "State", "Tube", "Tubes"]

FIGURES = ("dc", "ac_rms", "low", "high")


@dataclass(frozen=True, slots=True, eq=False)
class State(Table[Reading]):
    """A state: net -> its voltage to gnd. Any point or lead on a net is a name of it too.

    name
        ``warm``, ``cold``, ``high line``, ``pulled V2`` and so on.
    solved
        Whether the state was solved; when it was not there are no numbers, and ``reason`` says why.
    reason
        Why there are no numbers; empty when there are.
    """

    name: str
    solved: bool
    reason: str
    _inner: Solution = field(repr=False)

    def __getitem__(self, point: str) -> Reading:
        """The voltage of a net, point or lead to gnd; MissingError where there is no number."""
        return self._volts(self._wave(point), self._net(point), None)

    def __iter__(self) -> Iterator[str]:
        """The nets that have a number, each once, as the drawing names them."""
        return (n for n in self._inner.circuit.names if n in self._inner.waves)

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def between(self, a: str, b: str) -> Reading:
        """What is between two points, ``a`` measured from ``b``; raises as ``state[a]`` does."""
        return self._volts(self._wave(a) - self._wave(b), self._net(a), self._net(b))

    @property
    def parts(self) -> Parts:
        """Name -> part: resistors, capacitors, windings (``T1.ht.1-ct``), heaters and so on."""
        return Parts(self)

    @property
    def tubes(self) -> Tubes:
        """Name -> tube section: ``V1A``, or ``V2`` where there is only one."""
        return Tubes(self)

    def _net(self, point: str) -> str:
        points = self._inner.circuit.points
        return points.get(point, point)

    def _wave(self, point: str) -> Wave:
        wave = self._inner.waves.get(self._net(point))
        if wave is None:
            raise self._lost(point)
        return wave

    def _lost(self, point: str) -> MissingError:
        if not self.solved:
            return MissingError(f"there are no numbers in {self.name}: not solved: {self.reason}")
        circuit = self._inner.circuit
        if point not in circuit.points and point not in circuit.names:
            return missing("a net", point, circuit.names)
        why = self._inner.why_lost(self._net(point))
        return MissingError(f"{point!r} has no number in {self.name}" + (f": {why}" if why else ""))

    def _volts(self, wave: Wave, net: str, other: str | None) -> Reading:
        return self._reading(wave.samples, "V", partial(_off, self._inner, net, other))

    def _reading(self, samples: NDArray[np.float64], unit: str, *off: partial[float]) -> Reading:
        return Reading(samples, unit, mains_frequency(self._inner.circuit), *off)

    def _title(self) -> str:
        unsolved = "" if self.solved else f": not solved: {self.reason}"
        return f"{self.name}, volts to gnd{unsolved}"

    def _heads(self) -> Sequence[str]:
        return ("net", "V DC", "V AC rms", "V lowest", "V highest")

    def _row(self, name: str) -> Sequence[Cell]:
        return [getattr(self[name], f) for f in FIGURES]

    def __repr__(self) -> str:
        told = f"{len(self)} nets" if self.solved else f"not solved: {self.reason}"
        return f"<State {self.name}: {told}>"


def _off(solution: Solution, net: str, other: str | None) -> float:
    """Plus or minus how many volts; NaN where it was not worked out."""
    spread = solution.spread()
    if spread is None:
        return float("nan")
    return spread.volts(net, other, mains=_may_move(solution))


def _may_move(solution: Solution) -> bool:
    """Whether the mains may still move: a high or low line is already its end."""
    return solution.state.kind not in (HIGH, LOW)


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A part with two ends, in one state.

    kind
        What it is, as a drawing calls it: ``resistor``, ``winding``, ``heater``.
    value
        In ``unit``; ``None`` where it has none or the drawing has ``?``.
    unit
        ``ohm``, ``farad``, ``henry`` or ``volt``; empty where it has no value.
    a, b
        The nets of its ends; a diode conducts from ``a`` to ``b``, a source is positive at ``a``.
    """

    name: str
    kind: str
    value: float | None
    unit: str
    a: str
    b: str
    _state: State = field(repr=False)

    @property
    def volts(self) -> Reading:
        """What is across it, ``a`` measured from ``b``; MissingError without a number."""
        return self._state.between(self.a, self.b)

    @property
    def amps(self) -> Reading:
        """The current from ``a`` to ``b``; MissingError without a number."""
        return self._state._reading(self._current().samples, "A")

    @property
    def watts(self) -> Reading:
        """The power it takes at each instant, volts times amperes; below zero it delivers.

        MissingError without a number.
        """
        return self._state._reading(self.volts.samples * self._current().samples, "W")

    def _current(self) -> Wave:
        wave = self._state._inner.current(self.name)
        if wave is None:
            raise MissingError(f"the current of {self.name!r} has no number in {self._state.name}")
        return wave


@dataclass(frozen=True, slots=True, eq=False)
class Parts(Table[Part]):
    """The parts of a state by name."""

    _state: State

    def __getitem__(self, name: str) -> Part:
        """The part; MissingError where there is none of that name."""
        branches = self._state._inner.circuit.branches
        if name not in branches:
            raise missing("a part", name, branches)
        return _part(branches[name], self._state)

    def __iter__(self) -> Iterator[str]:
        return iter(self._state._inner.circuit.branches)

    def __len__(self) -> int:
        return len(self._state._inner.circuit.branches)

    def _title(self) -> str:
        return f"parts, {self._state.name}"

    def _heads(self) -> Sequence[str]:
        return ("part", "kind", "value", "unit", "V DC", "V AC rms", "A DC", "A AC rms", "W")

    def _row(self, name: str) -> Sequence[Cell]:
        part = self[name]
        return [part.kind, part.value, part.unit, *_measured(part)]

    def _shown(self, name: str) -> Sequence[Cell]:
        kind, value, unit, *measured = self._row(name)
        told = engineering(value, SYMBOLS[str(unit)], 4) if isinstance(value, float) else value
        return [kind, told, unit, *measured]


def _measured(part: Part) -> list[Cell]:
    try:
        volts, amps = part.volts, part.amps
    except MissingError:
        return [None] * 5
    return [volts.dc, volts.ac_rms, amps.dc, amps.ac_rms, part.watts.dc]


def _part(branch: Branch, state: State) -> Part:
    value, unit = branch.value, branch.traits.unit or ""
    number = None if value is None or not unit else magnitude(value, unit)
    return Part(branch.name, branch.kind.value, number, unit, branch.a, branch.b, state)


@dataclass(frozen=True, slots=True, eq=False)
class Tube:
    """A tube section at work: means over the cycle, to its cathode unless they say otherwise.

    type
        As the drawing writes it.
    plate_v
        Of a rectifier with two plates, the first; currents and watts are of both.
    cathode_v
        Volts to gnd.
    peak_plate_ma
        The largest instant of the plate current.
    inverse_v
        The largest reverse voltage of a plate, volts.
    heater_v
        Rms volts across the heater.
    heater_cathode_dc
        Heater minus cathode, volts, the mean of both heater ends.
    heater_cathode_low, heater_cathode_high
        The extreme instants of that, over both heater ends.
    """

    name: str
    type: str
    plate_v: float | None
    plate_ma: float
    plate_w: float
    screen_v: float | None
    screen_ma: float
    screen_w: float
    grid_v: float | None
    grid_ma: float
    cathode_v: float | None
    peak_plate_ma: float
    inverse_v: float
    heater_v: float | None
    heater_cathode_dc: float | None
    heater_cathode_low: float | None
    heater_cathode_high: float | None
    _section: Section
    _inner: Solution

    def __repr__(self) -> str:
        volts = "-" if self.plate_v is None else f"{self.plate_v:.1f}"
        plate = f"{volts} V, {self.plate_ma:.2f} mA, {self.plate_w:.2f} W"
        return f"<Tube {self.name} {self.type}: plate {plate}>"

    @property
    def plate_ma_range(self) -> NDArray[np.float64]:
        """Between what the plate current is in most copies, mA, (2,); NaN where unknown."""
        return self._range("ampere", self.plate_ma)

    @property
    def plate_w_range(self) -> NDArray[np.float64]:
        """The same of what the plate dissipates, W, (2,); NaN where unknown."""
        return self._range("watt", self.plate_w)

    def _range(self, quantity: str, value: float) -> NDArray[np.float64]:
        known = self._inner.spread() is not None
        off = abs(value) * electrode(self._inner, self._section, "plate", quantity)
        return np.array([value - off, value + off]) if known else np.full(2, np.nan)


@dataclass(frozen=True, slots=True, eq=False)
class Tubes(Table[Tube]):
    """The tube sections of a state by name; those without a number are not in it."""

    _state: State

    def __getitem__(self, name: str) -> Tube:
        """The section; MissingError where there is none of that name, or no number."""
        found = self._state._inner.readings.get(name)
        if found is None:
            raise self._lost(name)
        inner = self._state._inner
        section = next(s for s in inner.circuit.sections() if s.name == name)
        told = {f.name: getattr(found, f.name) for f in fields(TubeReading)}
        kind = inner.circuit.tubes[section.tube].type.name
        return Tube(name=name, type=kind, _section=section, _inner=inner, **told)

    def _lost(self, name: str) -> MissingError:
        sections = [s.name for s in self._state._inner.circuit.sections()]
        if name in sections:
            return MissingError(f"{name!r} has no number in {self._state.name}")
        return missing("a tube section", name, sections)

    def __iter__(self) -> Iterator[str]:
        return iter(self._state._inner.readings)

    def __len__(self) -> int:
        return len(self._state._inner.readings)

    def _title(self) -> str:
        return f"tubes, {self._state.name}, volts to the cathode"

    def _heads(self) -> Sequence[str]:
        heads = ("V plate", "mA plate", "W plate", "V screen", "mA screen", "W screen", "V grid")
        return ("tube", "type", *heads, "V cathode to gnd")

    def _row(self, name: str) -> Sequence[Cell]:
        t = self[name]
        plate: list[Cell] = [t.plate_v, t.plate_ma, t.plate_w]
        return [t.type, *plate, t.screen_v, t.screen_ma, t.screen_w, t.grid_v, t.cathode_v]


def state_of(solution: Solution) -> State:
    """The state of a solution, as the interface shows it."""
    return State(solution.state.name, solution.converged, solution.reason, solution)
