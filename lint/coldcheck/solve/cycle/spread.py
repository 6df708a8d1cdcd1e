"""How far the numbers may be off: tolerances of parts, spread of tubes, the mains.

First-order sensitivities at the solved point: what each parameter does to the equations is a
right-hand side for the Jacobian that Newton's method left factored, so nothing is solved anew.
The deviations are taken as independent and added as squares; the range is one in which most
copies of the circuit will fall, not a bound.
"""

from __future__ import annotations

from math import hypot, sqrt
from typing import TYPE_CHECKING, assert_never

import numpy as np

from coldcheck.circuit.lamps import HOLDS_OFF
from coldcheck.circuit.model import Transistor
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import lit_name, plain
from coldcheck.solve.cycle.swings import Swings
from coldcheck.solve.transistors import copies

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.circuit.usual import Usual
    from coldcheck.solve.cycle.devices import Valve
    from coldcheck.solve.cycle.starts import Steady
    from coldcheck.solve.cycle.steady import Cycle

    Array = NDArray[np.float64]

LINE = "the mains"


@dataclass(frozen=True, slots=True)
class Spread:
    """Deviations of the mean voltages and currents, parameter by parameter.

    ``causes`` names the parameters; ``nets`` maps a net to its deviations (one a parameter,
    volts); ``amps`` maps (section, electrode) to the deviations of its mean current.
    """

    causes: tuple[str, ...]
    nets: Mapping[str, Array]
    amps: Mapping[tuple[str, str], Array]

    def volts(self, net: str, other: str | None = None, *, mains: bool = True) -> float:
        """Plus or minus how many volts a net's DC may be off (from ``other``, else from gnd).

        ``mains=False`` leaves the mains out, for states that are themselves an end of the line.
        """
        return self._size(self._row(net) - self._row(other), mains)

    def current(self, section: str, electrode: str = "plate", *, mains: bool = True) -> float:
        """Plus or minus how many amperes the electrode's mean current may be off."""
        found = self.amps.get((section, electrode))
        return 0.0 if found is None else self._size(found, mains)

    def power(
        self, section: str, electrode: str, net: str, cathode: str, at: tuple[float, float],
        *, mains: bool = True,
    ) -> float:  # fmt: skip
        """Plus or minus how many watts: ``at`` are the volts across and the amperes."""
        across = self._row(net) - self._row(cathode)
        amps = self.amps.get((section, electrode), np.zeros_like(across))
        return self._size(at[1] * across + at[0] * amps, mains)

    def _size(self, row: Array, mains: bool) -> float:
        kept = row if mains else row[[cause != LINE for cause in self.causes]]
        return sqrt(kept @ kept)

    def largest(self, net: str, count: int = 3) -> list[tuple[str, float]]:
        """The parameters that matter most for a net, with the volts each brings."""
        row = self._row(net)
        order = np.argsort(-np.abs(row))[:count]
        return [(self.causes[k], float(row[k])) for k in order if row[k]]

    def moves(self, cause: str, volts: float, amperes: float) -> bool:
        """Whether a parameter's deviation moves some net, or electrode's current, by so much."""
        column = self.causes.index(cause)
        nets = any(abs(row[column]) > volts for row in self.nets.values())
        return nets or any(abs(row[column]) > amperes for row in self.amps.values())

    def _row(self, net: str | None) -> Array:
        nothing = np.zeros(len(self.causes))
        return nothing if net is None else self.nets.get(net, nothing)


def spread_of(circuit: Circuit, cycle: Cycle, answer: Steady) -> Spread:
    """The spread of a solved state. Small circuits only: costs one product a parameter."""
    effects = list(_effects(circuit, cycle, answer))
    changes = cycle.respond(answer, swings_of(effects))
    nets = {net: changes[row] for net, row in cycle.network.nets.items()}
    return Spread(
        tuple(e.cause for e in effects),
        nets,
        _tube_currents(cycle, answer, effects, changes, circuit.usual),
    )


def swings_of(effects: Sequence[_Effect]) -> Swings:
    """A column for each effect."""
    swings = Swings(len(effects))
    for k, effect in enumerate(effects):
        swings.rows += [(row, k, samples) for row, samples in effect.rows]
        swings.ports += [(port, k, samples) for port, samples in effect.ports]
    return swings


@dataclass(slots=True)
class _Effect:
    """What one parameter's deviation adds to the equations: rows (N,) amperes or volts."""

    cause: str
    rows: list[tuple[int, Array]]
    ports: list[tuple[int, Array]]


def _effects(circuit: Circuit, cycle: Cycle, answer: Steady) -> Iterator[_Effect]:
    yield from _line(circuit, cycle)
    for branch in circuit.branches.values():
        yield from _branch(branch, cycle, answer, circuit.usual)
    yield from _tubes(circuit, cycle, answer)
    yield from _rectifiers(cycle, answer, circuit.usual.rectifier)
    yield from _zeners(circuit, cycle, answer)


def _line(circuit: Circuit, cycle: Cycle) -> Iterator[_Effect]:
    if cycle.n == 1:
        return
    tolerance = circuit.mains_tolerance
    sine = np.sin(2 * np.pi * np.arange(cycle.n) / cycle.n)
    rows = [(row, -tolerance * volts * sine) for row, volts in cycle.network.hum]
    yield _Effect(LINE, rows, [])


def _branch(branch: Branch, cycle: Cycle, answer: Steady, usual: Usual) -> Iterator[_Effect]:
    network, x = cycle.network, answer.unknowns
    stated = branch.part.tolerance if branch.part else None
    match branch.kind:
        case (
            PartKind.RESISTOR | PartKind.POT | PartKind.THERMISTOR | PartKind.BARRETTER
            | PartKind.PHOTOCELL | PartKind.SPEAKER
            | PartKind.RELAY | PartKind.METER
        ):  # fmt: skip
            tolerance = usual.resistor if stated is None else stated
            across = _volts(cycle, x, branch.a) - _volts(cycle, x, branch.b)
            amps = -tolerance * across * network.conductance[branch.name]
            ends = [(network.at(branch.a), amps), (network.at(branch.b), -amps)]
            yield _Effect(branch.name, [(i, w) for i, w in ends if i is not None], [])
        case PartKind.INDUCTOR | PartKind.WINDING:
            row = network.rows[branch.name]
            ohms = -sum(v for i, j, v in network.g if i == row and j == row)
            off = usual.winding_resistance
            yield _Effect(f"resistance of {branch.name}", [(row, -off * ohms * x[row])], [])
        case PartKind.SOURCE:
            row = network.rows[branch.name]
            volts = plain(branch.value, "volt", 0.0) * np.ones(cycle.n)
            yield _Effect(branch.name, [(row, -(stated or usual.source) * volts)], [])
        case (
            PartKind.CAPACITOR | PartKind.DIODE | PartKind.LED | PartKind.FUSE | PartKind.SWITCH
            | PartKind.LAMP | PartKind.JACK
            | PartKind.ARRESTER | PartKind.THYRISTOR | PartKind.TRIGGER
            | PartKind.VIBRATOR | PartKind.CRYSTAL
            | PartKind.HEATER | PartKind.CONTACT
            | PartKind.JACK_CONTACT | PartKind.PLUG | PartKind.SIGNAL
        ):  # fmt: skip
            pass
        case PartKind.ZENER:
            pass  # with the ports, below
        case PartKind.CHANNEL | PartKind.GATE | PartKind.BASE:
            pass  # with the tubes, below
        case _:
            assert_never(branch.kind)
    if branch.kind is PartKind.WINDING:
        yield from _ratio(branch, cycle, x, usual.winding_voltage)


def _ratio(branch: Branch, cycle: Cycle, x: Array, share: float) -> Iterator[_Effect]:
    """A winding with a few turns more or less: its emf, and its share of the mmf."""
    row = cycle.network.rows[branch.name]
    for i, core, volts in cycle.network.ac_only:
        if i == row and core in cycle.network.cores:
            off = share * volts
            yield _Effect(
                f"voltage of {branch.name}", [(row, off * x[core]), (core, -off * x[row])], []
            )


def _tubes(circuit: Circuit, cycle: Cycle, answer: Steady) -> Iterator[_Effect]:
    """Every section draws more or less at the same voltages; gas tubes hold more or less."""
    usual = circuit.usual
    at = cycle.valve_at if isinstance(cycle.valve_at, np.ndarray) else cycle.valve_at.toarray()
    for valve, part in zip(cycle.bank.valves, cycle.bank.slices, strict=True):
        into = at[:, part] @ _copies(valve, part, answer, usual)
        rows = [(int(r), into[r]) for r in np.flatnonzero(np.abs(into).max(axis=1))]
        yield _Effect(valve.section.name, rows, [])
    for section in circuit.sections():
        row = cycle.network.rows.get(lit_name(section.name))
        if row is not None and section.kind is SectionKind.REGULATOR:
            held = dict(cycle.network.steady)[row]
            yield _Effect(section.name, [(row, -usual.gas_tube * held * np.ones(cycle.n))], [])


def _tube_share(section: Section, usual: Usual) -> float:
    """How far a section's current may be off: copies of its type differ, and its law errs."""
    law = section.type.law
    return usual.tube if law is None else hypot(usual.tube, law.off)


def _copies(valve: Valve, part: slice, answer: Steady, usual: Usual) -> Array:
    """How far the currents into its electrodes may be off at the same voltages, (E, N)."""
    amps = answer.valve_amps[part]
    if isinstance(valve.section, Transistor):
        return copies(valve.section, valve.law, answer.valve_volts[part])
    return _tube_share(valve.section, usual) * _without_grid(valve.law.electrodes, amps)


def _without_grid(electrodes: tuple[str, ...], amps: Array) -> Array:
    kept = np.array([[0.0 if e.startswith("grid") else 1.0] for e in electrodes])
    return np.asarray(kept * amps)


def _rectifiers(cycle: Cycle, answer: Steady, share: float) -> Iterator[_Effect]:
    """At i = k v^1.5 a perveance off by a share is a drop off by two thirds of it."""
    for owner in dict.fromkeys(p.owner for p in cycle.ports if p.electrode):
        ports = [
            (k, -2 / 3 * share * np.where(answer.port_amps[k] > 0, answer.port_volts[k], 0.0))
            for k, port in enumerate(cycle.ports)
            if port.owner == owner
        ]
        yield _Effect(owner, [], ports)


def _zeners(circuit: Circuit, cycle: Cycle, answer: Steady) -> Iterator[_Effect]:
    """A zener that holds (its current runs backwards) holds more or less; so does a lit neon."""
    for k, port in enumerate(cycle.ports):
        branch = circuit.branches.get(port.owner)
        if branch is not None and branch.glows:
            off = HOLDS_OFF * np.sign(answer.port_amps[k])
            yield _Effect(port.owner, [], [(k, off)])
        if branch is None or branch.kind is not PartKind.ZENER:
            continue
        stated = branch.part.tolerance if branch.part else None
        share = circuit.usual.zener if stated is None else stated
        held = np.where(answer.port_amps[k] < 0, answer.port_volts[k], 0.0)
        yield _Effect(port.owner, [], [(k, share * held)])


def _tube_currents(
    cycle: Cycle, answer: Steady, effects: list[_Effect], changes: Array, usual: Usual
) -> dict[tuple[str, str], Array]:
    """Deviations of the mean electrode currents: through the voltages, and the tube's own."""
    _, slopes = cycle.bank.linear(cycle.valve_at.T @ answer.unknowns.mean(axis=1))
    moved = np.asarray(slopes @ (cycle.valve_at.T @ changes))
    own_amps = np.concatenate(
        [np.zeros((0, cycle.n))]
        + [
            _copies(valve, part, answer, usual)
            for valve, part in zip(cycle.bank.valves, cycle.bank.slices, strict=True)
        ]
    ).mean(axis=1)
    found: dict[tuple[str, str], Array] = {}
    for k, (section, electrode) in enumerate(cycle.bank.names()):
        row = moved[k].copy()
        if not electrode.startswith("grid"):
            own = [j for j, e in enumerate(effects) if e.cause == section]
            row[own] += own_amps[k]
        found[section, electrode] = row
    return found


def _volts(cycle: Cycle, x: Array, net: str) -> Array:
    row = cycle.network.at(net)
    return np.zeros(cycle.n) if row is None else np.asarray(x[row])
