"""From the solved unknowns to what a technician reads: tube by tube, branch by branch."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.solve.response import difference
from coldcheck.solve.solution import TubeReading, Wave

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Circuit, Section, Tube
    from coldcheck.solve.network import Network
    from coldcheck.solve.starts import Steady
    from coldcheck.solve.steady import Cycle

    Array = NDArray[np.float64]


def net_waves(network: Network, answer: Steady) -> dict[str, Wave]:
    """Every net's voltage to gnd, gnd itself included."""
    waves = {net: Wave(answer.unknowns[row]) for net, row in network.nets.items()}
    waves["gnd"] = Wave(np.zeros(answer.unknowns.shape[1]))
    return waves


def branch_currents(
    circuit: Circuit, cycle: Cycle, answer: Steady, volts: Mapping[str, Wave]
) -> dict[str, Wave]:
    """Branch name -> current from ``a`` to ``b``; ``mains`` and ``T1.feed`` for the supply."""
    network = cycle.network
    currents = {name: Wave(answer.unknowns[row]) for name, row in network.rows.items()}
    for branch in circuit.branches.values():
        across = volts[branch.a].samples - volts[branch.b].samples
        if branch.name in network.conductance:
            currents[branch.name] = Wave(across * network.conductance[branch.name])
        elif branch.name in network.farads:
            rate = difference(across, network.frequency)
            currents[branch.name] = Wave(network.farads[branch.name] * rate)
    for port, amps in zip(cycle.ports, answer.port_amps, strict=True):
        if port.owner in circuit.branches:
            currents[port.owner] = Wave(amps)
    return currents


def tube_readings(
    circuit: Circuit,
    cycle: Cycle,
    answer: Steady,
    volts: Mapping[str, Wave],
    pulled: frozenset[str],
) -> dict[str, TubeReading]:
    """A reading for each section that is in its socket."""
    amps = _electrode_amps(cycle, answer)
    return {
        s.name: _reading(s, circuit.tubes[s.tube], amps, volts)
        for s in circuit.sections()
        if s.tube not in pulled
    }


def _electrode_amps(cycle: Cycle, answer: Steady) -> dict[tuple[str, str], Array]:
    found: dict[tuple[str, str], Array] = {}
    for port, amps in zip(cycle.ports, answer.port_amps, strict=True):
        found[port.owner, port.electrode] = amps
    for valve, part in zip(cycle.bank.valves, cycle.bank.slices, strict=True):
        for electrode, amps in zip(valve.law.electrodes, answer.valve_amps[part], strict=True):
            found[valve.section.name, electrode] = amps
    for name, row in cycle.network.rows.items():
        section, _, electrode = name.rpartition(".")
        if electrode == "plate":
            found[section, electrode] = answer.unknowns[row]
    return found


def _reading(
    section: Section,
    tube: Tube,
    amps: Mapping[tuple[str, str], Array],
    volts: Mapping[str, Wave],
) -> TubeReading:
    cathode = np.mean([volts[n].samples for n in section.cathode_nets], axis=0)
    zero = np.zeros_like(cathode)

    def across(electrode: str) -> Array | None:
        net = section.net(electrode)
        return None if net is None else volts[net].samples - cathode

    def current(electrode: str) -> Array:
        return amps.get((section.name, electrode), zero)

    plates = [(across(p), current(p)) for p in section.plates]
    plate_v, screen_v, grid_v = (_mean(across(e)) for e in (section.plates[0], "screen", "grid"))
    return TubeReading(
        plate_v=plate_v,
        plate_ma=1e3 * sum(float(i.mean()) for _, i in plates),
        screen_v=screen_v,
        screen_ma=1e3 * float(current("screen").mean()),
        grid_v=grid_v,
        grid_ma=1e3 * float(current("grid").mean()),
        cathode_v=float(cathode.mean()),
        plate_w=sum(_power(v, i) for v, i in plates),
        screen_w=_power(across("screen"), current("screen")),
        peak_plate_ma=1e3 * max(float(i.max()) for _, i in plates),
        inverse_v=max(0.0, *(-float(v.min()) for v, _ in plates if v is not None)),
        heater_v=heater_volts(tube, volts),
        **_heater_cathode(tube, cathode, volts),
    )


def _mean(samples: Array | None) -> float | None:
    return None if samples is None else float(samples.mean())


def _power(volts: Array | None, amps: Array) -> float:
    return 0.0 if volts is None else float((volts * amps).mean())


def heater_volts(tube: Tube, volts: Mapping[str, Wave]) -> float | None:
    """True rms across the heater (across one half where the halves are in parallel)."""
    if tube.heater is None or not tube.heater.branches:
        return None
    parallel = tube.heater.mode == "parallel"
    branches = tube.heater.branches[:1] if parallel else tube.heater.branches
    total = sum((volts[b.a].samples - volts[b.b].samples for b in branches), 0.0)
    return Wave(np.asarray(total)).rms


def _heater_cathode(
    tube: Tube, cathode: Array, volts: Mapping[str, Wave]
) -> dict[str, float | None]:
    """Heater minus cathode: the mean, and the extreme instants over all heater ends."""
    if tube.heater is None or tube.directly_heated or tube.type.cathode_heater:
        return {}
    across = np.stack([volts[n].samples - cathode for n in tube.heater.nets])
    return {
        "heater_cathode_dc": float(across.mean()),
        "heater_cathode_low": float(across.min()),
        "heater_cathode_high": float(across.max()),
    }
