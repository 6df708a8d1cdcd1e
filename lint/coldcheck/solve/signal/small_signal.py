"""The small-signal solution of a drawing with ``signal`` sources, and what rules take from it.

The linear network of :mod:`coldcheck.solve.signal.linearised` is driven by one source at a time. A
source is an ideal generator behind 600 ohm, as the DC solution has it (Norton: v/600 into its
net). Its stated volts are taken to be at its point, "drives the point against gnd", so every
ratio is divided by the voltage there and the 600 ohm only matter to impedances and to other
sources.

Not here, because no data are on file: interelectrode capacitance and the Miller effect, stray
capacitance, leakage inductance. So :attr:`Sweep.high_corner` is that of the drawn capacitors
alone; where they make none within the sweep it is "not judged", never a number.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import SignalLine
from coldcheck.solve.cycle.network import SIGNAL_OHM, Unsolvable, plain
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.solve.signal.outputs import places
from coldcheck.solve.signal.results import Driven, Output, SignalSolution
from coldcheck.solve.signal.stages import (
    UNDRIVEN,
    Field,
    cathode_ends,
    drive,
    push_pull_sections,
    stage_of,
    working,
)
from coldcheck.solve.signal.sweep import MID_BAND, Sweep, default_frequencies

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.solve.signal.outputs import Place
    from coldcheck.solve.signal.results import Stage
    from coldcheck.solve.solution import Solution

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]

DEFAULT_FREQUENCY = 1000.0
SWEPT_OUTPUTS = 40
"""With more outputs than this, their impedance is worked out at mid band only."""

SHORTED_OHM = 0.1
"""A source that sees less than this drives a short."""

OURS = 0.1
"""A stage or output belongs to a source that moves it at least this share of the best one's."""


def small_signal(
    circuit: Circuit, solution: Solution | None = None, frequencies: Sequence[float] | None = None
) -> SignalSolution | None:
    """Gains, swings, impedances and corners about a solved state (warm if none is given).

    ``frequencies`` replaces the default sweep (hertz); 1 kHz and the sources' own are added.
    Returns ``None`` for a drawing without a source. Never raises for content: where the
    operating point is not known, ``solved`` is false and ``reason`` says why.
    """
    sources = [b for b in circuit.branches.values() if b.kind is PartKind.SIGNAL]
    if not sources:
        return None
    if solution is None:
        from coldcheck.solve.engine import solve_state

        solution = solve_state(circuit)
    try:
        return _solve(Linearised(circuit, solution), sources, frequencies)
    except Unsolvable as problem:
        reason = str(problem)
    except np.linalg.LinAlgError:
        reason = "the equations contradict each other: a loop of sources, or a short"
    return SignalSolution(solution.state, False, reason)


def with_swing(solution: Solution, signal: SignalSolution | None) -> Mapping[str, float]:
    """Section -> peak volts its cathode moves at the stated inputs, all sources together.

    To be added to both extremes of heater minus cathode. Sections without a reading are left
    out; what a stage cannot do however hard it is driven is not counted.
    """
    swings: dict[str, float] = {}
    for driven in signal.sources.values() if signal else ():
        for stage in driven.stages:
            if stage.section in solution.readings:
                swing = swings.get(stage.section, 0.0) + stage.most_cathode_swing
                swings[stage.section] = swing
    return swings


def _solve(
    linear: Linearised, sources: Sequence[Branch], frequencies: Sequence[float] | None
) -> SignalSolution:
    circuit, state = linear.circuit, linear.solution.state
    grid = _grid(frequencies, [frequency_of(circuit, b) for b in sources])
    fields = _fields(linear, sources, grid)
    ways = _ways_out(linear, fields, grid)
    driven = {b.name: _driven(linear, fields, b, ways) for b in sources if b.name in fields}
    unused = {b.name: "its point is joined to gnd" for b in sources if b.name not in fields}
    return SignalSolution(state, True, "", driven, unused, _assumed_henries(linear))


def _ways_out(
    linear: Linearised, fields: Mapping[str, Field], grid: Array
) -> list[tuple[Place, Sweep]]:
    """Each output of the drawing with the impedance seen there, a speaker left out."""
    strongest = {n: _most(fields, {n: 1.0}) for n in linear.network.nets}
    outputs = places(linear.circuit, linear.solution.state, strongest)
    at = grid if len(outputs) <= SWEPT_OUTPUTS else np.array([MID_BAND])
    seen = _impedances(linear, [p.ends for p in outputs], at)
    return [(p, _without(Sweep(at, z), p.load)) for p, z in zip(outputs, seen.T, strict=True)]


def _driven(
    linear: Linearised,
    fields: Mapping[str, Field],
    source: Branch,
    ways: Iterable[tuple[Place, Sweep]],
) -> Driven:
    frequency, field = frequency_of(linear.circuit, source), fields[source.name]
    stages = _stages(linear, fields, source, frequency)
    peaks = {s.section: s.limits[0].source_peak for s in stages if s.limits}
    return Driven(
        source=source.name,
        net=source.a,
        volts=_volts(source),
        frequency=frequency,
        frequencies=field.frequencies,
        response=field.volts,
        stages=stages,
        outputs=_outputs(fields, source, frequency, ways, min(peaks.values(), default=None)),
        first=min(peaks, key=peaks.__getitem__, default=None),
    )


def frequency_of(circuit: Circuit, source: Branch) -> float:
    """Hertz of a source: as its line states, else 1 kHz."""
    for statement in circuit.drawing.statements:
        if isinstance(statement, SignalLine) and source.span == statement.span:
            return plain(statement.frequency, "hertz", DEFAULT_FREQUENCY)
    return DEFAULT_FREQUENCY


def _volts(source: Branch) -> float:
    return plain(source.value, "volt", 0.0)


def _grid(frequencies: Sequence[float] | None, stated: Iterable[float]) -> Array:
    chosen = default_frequencies() if frequencies is None else np.asarray(frequencies, float)
    extra = [f for f in (MID_BAND, *stated) if not np.isclose(f, chosen, rtol=1e-9).any()]
    return np.array(sorted({*chosen.tolist(), *extra}))


def _fields(linear: Linearised, sources: Sequence[Branch], grid: Array) -> dict[str, Field]:
    """Source -> every net's volts per volt at its point; without sources that drive a short."""
    network = linear.network
    rhs = np.stack([linear.column({b.a: 1 / SIGNAL_OHM}) for b in sources], axis=1)
    found = np.stack([linear.solve(f, rhs) for f in grid])
    fields = {}
    for k, branch in enumerate(sources):
        row = network.at(branch.a)
        here = np.zeros(len(grid)) if row is None else np.abs(found[:, row, k])
        if row is not None and np.interp(MID_BAND, grid, here) > SHORTED_OHM / SIGNAL_OHM:
            share = found[:, :, k] / found[:, row, k][:, None]
            fields[branch.name] = Field(grid, {n: share[:, r] for n, r in network.nets.items()})
    return fields


def _impedances(linear: Linearised, ends: Sequence[Mapping[str, float]], grid: Array) -> Complex:
    """Ohms (F, places): the volts that one ampere through each place makes there."""
    if not ends:
        return np.zeros((len(grid), 0), dtype=complex)
    columns = np.stack([linear.column(e) for e in ends], axis=1)
    return np.stack([(columns * linear.solve(f, columns)).sum(axis=0) for f in grid])


def _without(seen: Sweep, load: float | None) -> Sweep:
    """The impedance with the speaker's own resistance taken out of it."""
    if load is None:
        return seen
    rest = 1 / seen.values - 1 / load
    return Sweep(seen.frequencies, np.asarray(1 / np.where(np.abs(rest) > 1e-12, rest, 1e-12)))


def _most(fields: Mapping[str, Field], ends: Mapping[str, float]) -> float:
    """The most that any source moves something at mid band, volts per volt."""
    return max((abs(f.across(ends).mid) for f in fields.values()), default=0.0)


def _stages(
    linear: Linearised, fields: Mapping[str, Field], source: Branch, frequency: float
) -> tuple[Stage, ...]:
    """The sections this source works in: those it moves, and moves most."""
    field, pairs = fields[source.name], push_pull_sections(linear.circuit)
    tubes = []
    for tube in linear.sections:
        most = max(drive(tube, other, frequency) for other in fields.values())
        if working(tube) and drive(tube, field, frequency) >= max(UNDRIVEN, OURS * most):
            tubes.append(tube)
    ends = [e for t in tubes for e in ({t.section.electrodes["plate"]: 1.0}, cathode_ends(t))]
    ohms = _impedances(linear, ends, np.array([MID_BAND]))[0]
    peak = math.sqrt(2) * _volts(source)
    return tuple(
        stage_of(
            tube, field, frequency, peak, (complex(ohms[2 * k]), complex(ohms[2 * k + 1])),
            push_pull=tube.section.name in pairs,
        )
        for k, tube in enumerate(tubes)
    )  # fmt: skip


def _outputs(
    fields: Mapping[str, Field], source: Branch, frequency: float,
    chosen: Iterable[tuple[Place, Sweep]], most: float | None,
) -> tuple[Output, ...]:  # fmt: skip
    """The outputs this source drives; ``most`` is the peak input that reaches the first limit."""
    found = []
    for place, impedance in chosen:
        gain = fields[source.name].across(place.ends)
        if abs(gain.mid) < OURS * _most(fields, place.ends):
            continue  # another channel's
        at = abs(gain.at(frequency))
        found.append(
            Output(
                place.name, place.a, place.b, gain, impedance, place.load,
                volts=at * _volts(source), undistorted=None if most is None else at * most,
            )
        )  # fmt: skip
    return tuple(found)


def _assumed_henries(linear: Linearised) -> dict[str, float]:
    """Transformer -> the inductance of its first winding, where it is not written."""
    entries = {column: value for _, column, value in linear.network.c}
    found = {}
    for output in linear.circuit.outputs.values():
        if output.inductance is None:
            turns, branch = output.branches[0]
            found[output.name] = entries[linear.network.rows[branch.name]] / turns
    for coil_set in linear.circuit.coil_sets.values():
        if all(coil.assumed for coil in coil_set.coils):
            found[coil_set.name] = plain(coil_set.coils[0].henries, "henry", 0.0)
    return found
