"""A solved circuit made linear about its operating point, and solved at any frequency.

Every tube becomes its slopes at its mean voltages, every one-way part its conductance averaged
over the mains cycle (a rectifier that conducts a tenth of the time is a tenth of its slope): the
zeroth term of the time-varying network, good where a reservoir or filter stands behind it, as it
does in any supply. The mains is a short circuit, gas tubes are their published slope.

Interelectrode capacitances, strays and the leakage inductance of transformers are not on file
and not in here, so nothing above the audio band that rests on them can be read off this.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from coldcheck.circuit.model import Transistor
from coldcheck.records import dataclass
from coldcheck.solve.cycle.assembly import Assembly, Parts
from coldcheck.solve.cycle.defined import floating_grids, lawless, no_law, unknown_values
from coldcheck.solve.cycle.devices import incidence
from coldcheck.solve.cycle.diodes import Thermionic
from coldcheck.solve.cycle.network import Unsolvable, lit_name
from coldcheck.solve.cycle.settling import EMISSION_SHARE
from coldcheck.solve.cycle.steady import SCALE_OHM
from coldcheck.solve.cycle.triplets import dense_matrix, sparse_matrix
from coldcheck.solve.setting import Setting
from coldcheck.solve.solution import Lost

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.solve.cycle.devices import Port
    from coldcheck.solve.cycle.network import Network
    from coldcheck.solve.cycle.steady import Cycle
    from coldcheck.solve.solution import Solution

    Array = NDArray[np.float64]
    Complex = NDArray[np.complex128]

FEWEST_INSTANTS = 4
"""The cycle is only assembled for its matrices; its own instants are not used."""


@dataclass(frozen=True, slots=True)
class Slopes:
    """A section at its operating point.

    ``at`` maps each electrode of its law to its volts to the cathode, ``amps`` to the current
    into it; ``matrix`` (E, E), siemens, in the law's order: [e, f] the current into e by the
    voltage of f.
    """

    section: Section
    electrodes: tuple[str, ...]
    ends: tuple[Mapping[str, float], ...]
    at: Array
    amps: Array
    matrix: Array

    @property
    def control(self) -> str:
        """The electrode that takes the signal: the grid, or a converter's third or fourth."""
        return next((e for e in ("grid3", "grid4") if e in self.electrodes), "grid")

    def slope(self, of: str, by: str) -> float:
        """How the current into one electrode follows the voltage of another, siemens."""
        return float(self.matrix[self.electrodes.index(of), self.electrodes.index(by)])


class Linearised:
    """The network of a solved state, ready to be driven with currents.

    ``emission`` is the share that a tube has left of its own, where it was solved with less.
    Raises Unsolvable (with the reason in words) where the operating point is not known.
    """

    def __init__(
        self,
        circuit: Circuit,
        solution: Solution,
        emission: Mapping[str, float] = MappingProxyType({}),
    ) -> None:
        _refuse_unknown(circuit, solution)
        self.circuit, self.solution = circuit, solution
        cycle = Assembly(Parts(circuit), FEWEST_INSTANTS).cycle(_setting(circuit, solution))
        self.network: Network = cycle.network
        self.sections, at, y = _tubes(cycle, solution, emission)
        port_y = np.array([_mean_conductance(p, solution) for p in cycle.ports])
        self._dense = not cycle.bank.sparse
        network, build = self.network, dense_matrix if self._dense else sparse_matrix
        ports = incidence(network, [p.ends for p in cycle.ports])
        loads: Any = at @ y @ at.T + (ports * port_y[None, :]) @ ports.T
        self._g: Any = build(network.shape, network.g + network.ac_only) + loads
        self._c: Any = build(network.shape, network.c)

    def solve(self, frequency: float, rhs: Array, *, transposed: bool = False) -> Complex:
        """All unknowns (m, c) for currents into the nets, rhs (m, c), at a frequency in hertz.

        ``transposed`` solves the network with causes and effects exchanged. Raises LinAlgError.
        """
        matrix: Any = self._g + 2j * np.pi * frequency * self._c
        if self._dense:
            return np.asarray(np.linalg.solve(matrix.T if transposed else matrix, rhs))
        from scipy.sparse.linalg import splu

        try:
            factor: Any = splu(matrix.tocsc())
        except RuntimeError as problem:
            raise np.linalg.LinAlgError(str(problem)) from problem
        columns = np.ascontiguousarray(rhs, dtype=complex)
        return np.asarray(factor.solve(columns, trans="T" if transposed else "N"))

    def matrices(self) -> tuple[Array, Array]:
        """The conductances G and capacitances C of ``G x + C dx/dt = 0``, dense (m, m) each."""
        dense = (np.asarray(x if self._dense else x.toarray()) for x in (self._g, self._c))
        g, c = dense
        return g, c

    def column(self, ends: Mapping[str, float]) -> Array:
        """A column (m,) with weights at nets; gnd has no row."""
        return column(self.network, ends)


def column(network: Network, ends: Mapping[str, float]) -> Array:
    """A column (m,) of a network with weights at nets; gnd has no row."""
    found = np.zeros(network.size)
    for net, weight in ends.items():
        row = network.at(net)
        if row is not None:
            found[row] += weight
    return found


def _refuse_unknown(circuit: Circuit, solution: Solution) -> None:
    """Raise Unsolvable where the operating point or the network is not known."""
    if not solution.converged:
        raise Unsolvable(solution.reason)
    unsized = [name for name, s in circuit.coil_sets.items() if not s.sized]
    if unsized:
        raise Unsolvable("depends on " + ", ".join(f"the size of {name}" for name in unsized))
    # Of a mains winding only what it does to the working points matters, see _refuse_floating.
    mains = {b.name for w in circuit.windings() for b in w.branches}
    values = [b for b in unknown_values(circuit) if b.name not in mains]
    if values:
        raise Unsolvable("depends on " + ", ".join(f"the value of {b.owner}" for b in values))
    loose = [s.name for s in circuit.coil_sets.values() if s.coupling is None]
    if loose:
        raise Unsolvable("depends on " + ", ".join(f"the coupling of {name}" for name in loose))
    tubes = lawless(circuit, solution.state)
    if tubes:
        raise Unsolvable("depends on " + ", ".join(map(no_law, tubes)))
    floating = [net for net, why in solution.undefined.items() if why.kind is Lost.FLOATING]
    grids = floating_grids(circuit, solution.state, floating)
    if grids:
        raise Unsolvable("depends on " + ", ".join(f"the floating grid at {g}" for g in grids))


def _setting(circuit: Circuit, solution: Solution) -> Setting:
    """The setting the solution was reached in: which gas tubes glow, which cathodes are cold."""
    lit = {s.name for s in circuit.sections() if lit_name(s.name) in solution.currents}
    lit |= {b.name for b in circuit.branches.values() if b.glows and _burns(solution, b.name)}
    cold = {s.tube for s in circuit.sections() if _starved(circuit, solution, s)}
    return Setting(solution.state, lit=frozenset(lit), unheated=frozenset(cold))


def _burns(solution: Solution, neon: str) -> bool:
    amps = solution.currents.get(neon)
    return amps is not None and bool(amps.samples.any())


def _starved(circuit: Circuit, solution: Solution, section: Section) -> bool:
    reading, heater = solution.readings.get(section.name), circuit.tubes[section.tube].heater
    if reading is None or reading.heater_v is None or heater is None:
        return False
    return reading.heater_v < EMISSION_SHARE * float(heater.volts.m_as("volt"))


def _tubes(
    cycle: Cycle, solution: Solution, emission: Mapping[str, float]
) -> tuple[tuple[Slopes, ...], Any, Any]:
    """Each section's slopes; all electrodes' incidence (m, q) and slopes (q, q), siemens."""
    mean = np.zeros(cycle.network.size)
    for net, row in cycle.network.nets.items():
        if net in solution.waves:
            mean[row] = solution.waves[net].dc
    bank, volts = cycle.bank, cycle.valve_at.T @ mean
    amps, slopes = bank.linear(volts)
    if emission:
        left = np.ones(len(amps))
        for valve, part in zip(bank.valves, bank.slices, strict=True):
            left[part] = emission.get(valve.part, 1.0)
        amps = left * amps
        slopes = slopes.multiply(left[:, None]) if bank.sparse else left[:, None] * slopes
    found = []
    for valve, part in zip(bank.valves, bank.slices, strict=True):
        if isinstance(valve.section, Transistor):
            continue  # no stage of its own: what it does to the network is in all the slopes
        _refuse_floating(valve.section, solution)
        block = slopes[part, part] if not bank.sparse else slopes[part, part].toarray()
        electrodes = valve.law.electrodes
        found.append(Slopes(valve.section, electrodes, valve.ends, volts[part], amps[part], block))
    return tuple(found), cycle.valve_at, slopes


def _refuse_floating(section: Section, solution: Solution) -> None:
    """A working tube an electrode of which has no number has no slopes either."""
    plate = section.electrodes["plate"]
    used = bool(solution.circuit.at(plate))
    steer = (section.net(e) for e in ("grid", "screen"))
    nets = (plate, *section.cathode_nets, *(n for n in steer if n is not None))
    if used and any(n not in solution.waves and n != "gnd" for n in nets):
        raise Unsolvable(f"the voltages of {section.name} are not known")


def _mean_conductance(port: Port, solution: Solution) -> float:
    """The slope of a one-way part averaged over the cycle, siemens; 0 where it is not known."""
    if any(net not in solution.waves for net in port.ends):
        return 0.0
    volts = sum(w * solution.waves[net].samples for net, w in port.ends.items())
    amps = np.zeros_like(volts)
    if isinstance(port.curve, Thermionic):
        amps = port.curve.k * np.maximum(volts, 0.0) ** 1.5
    elif port.owner in solution.currents:
        amps = solution.currents[port.owner].samples
    _, _, dv, di = port.curve.solve(np.asarray(volts + SCALE_OHM * amps), SCALE_OHM)
    return float(np.mean(di / np.maximum(dv, 1e-12)))
