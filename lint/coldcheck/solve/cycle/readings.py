"""From the solved unknowns to what a technician reads: tube by tube, branch by branch.

All sections (and all branches) are worked out in a few array operations, since a large circuit
has thousands of them in each of hundreds of states.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from coldcheck.circuit.model import GROUND, Transistor
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import lit_section
from coldcheck.solve.cycle.response import difference
from coldcheck.solve.solution import TubeReading, Wave

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Circuit, Section, Tube
    from coldcheck.solve.cycle.network import Network
    from coldcheck.solve.cycle.starts import Steady
    from coldcheck.solve.cycle.steady import Cycle

    Array = NDArray[np.float64]

PLATES = ("plate", "plate1", "plate2")


@dataclass(frozen=True, slots=True)
class NetVolts:
    """All nets' voltages to gnd: ``samples`` (m + 1, N), the last row being gnd's zeros."""

    samples: Array
    rows: Mapping[str, int]

    def at(self, nets: Iterable[str]) -> Array:
        """The waveforms of some nets, (k, N)."""
        return self.samples[[self.rows[net] for net in nets]]


def net_volts(network: Network, answer: Steady) -> NetVolts:
    """The solved nets as one array."""
    unknowns = answer.unknowns
    samples = np.concatenate([unknowns, np.zeros((1, unknowns.shape[1]))])
    return NetVolts(samples, {**network.nets, GROUND: len(unknowns)})


def net_waves(volts: NetVolts) -> dict[str, Wave]:
    """Every net's voltage to gnd, gnd itself included."""
    return {net: Wave(volts.samples[row]) for net, row in volts.rows.items()}


def branch_currents(
    circuit: Circuit, cycle: Cycle, answer: Steady, volts: NetVolts
) -> dict[str, Wave]:
    """Branch name -> current from ``a`` to ``b``; those of the supply by names of their own."""
    network = cycle.network
    currents = {name: Wave(answer.unknowns[row]) for name, row in network.rows.items()}
    currents |= _waves(network.conductance, _across(circuit, network.conductance, volts))
    rates = difference(_across(circuit, network.farads, volts), network.frequency)
    currents |= _waves(network.farads, rates)
    for port, amps in zip(cycle.ports, answer.port_amps, strict=True):
        if port.owner in circuit.branches:
            currents[port.owner] = Wave(amps)
    currents |= dict(_transistor_currents(cycle, answer))
    return currents


def _transistor_currents(cycle: Cycle, answer: Steady) -> Iterator[tuple[str, Wave]]:
    """Channel less what its body's diode takes back, and what flows into a base."""
    bodies = {port.owner: amps for port, amps in zip(cycle.ports, answer.port_amps, strict=True)}
    for valve, part in zip(cycle.bank.valves, cycle.bank.slices, strict=True):
        if isinstance(valve.section, Transistor):
            channel, control = valve.section.channel.name, valve.section.control.name
            main, steering = answer.valve_amps[part]
            yield channel, Wave(main - bodies.get(valve.section.name, 0.0))
            yield control, Wave(steering)


def _across(circuit: Circuit, names: Iterable[str], volts: NetVolts) -> Array:
    """Volts from ``a`` to ``b`` of the named branches, (k, N)."""
    branches = [circuit.branches[name] for name in names]
    return volts.at(b.a for b in branches) - volts.at(b.b for b in branches)


def _waves(factors: Mapping[str, float], samples: Array) -> dict[str, Wave]:
    """Each row times its factor, by name."""
    scaled = samples * np.array(list(factors.values()))[:, None]
    return {name: Wave(row) for name, row in zip(factors, scaled, strict=True)}


def tube_readings(
    circuit: Circuit,
    cycle: Cycle,
    answer: Steady,
    volts: NetVolts,
    pulled: frozenset[str],
) -> dict[str, TubeReading]:
    """A reading for each section that is in its socket."""
    sections = [s for s in circuit.sections() if s.tube not in pulled]
    if not sections:
        return {}
    ends = [s.cathode_nets for s in sections]
    cathodes = (volts.at(e[0] for e in ends) + volts.at(e[-1] for e in ends)) / 2
    if any(s.middle for s in sections):
        taps = [(s.middle or e[0], s.middle or e[-1]) for s, e in zip(sections, ends, strict=True)]
        cathodes = cathodes / 2 + (volts.at(a for a, _ in taps) + volts.at(b for _, b in taps)) / 4
    amps = _electrode_amps(cycle, answer)
    seen = {e: _seen(e, sections, cathodes, volts, amps) for e in (*PLATES, "screen", "grid")}
    stress = _heater_cathode(circuit, sections, cathodes, volts)
    heaters = heater_volts(circuit.tubes.values(), volts)
    means = cathodes.mean(axis=1).tolist()
    return {
        s.name: _reading(s, {e: seen[e][k] for e in seen}, means[k], heaters.get(s.tube), stress[k])
        for k, s in enumerate(sections)
    }


def _electrode_amps(cycle: Cycle, answer: Steady) -> dict[tuple[str, str], Array]:
    found: dict[tuple[str, str], Array] = {}
    for port, amps in zip(cycle.ports, answer.port_amps, strict=True):
        found[port.owner, port.electrode] = amps
    for valve, part in zip(cycle.bank.valves, cycle.bank.slices, strict=True):
        for electrode, amps in zip(valve.law.electrodes, answer.valve_amps[part], strict=True):
            found[valve.section.name, electrode] = amps
    for name, row in cycle.network.rows.items():
        if (section := lit_section(name)) is not None:
            found[section, "plate"] = answer.unknowns[row]
    return found


@dataclass(frozen=True, slots=True)
class _Seen:
    """An electrode over the cycle: mean and lowest volts to the cathode, amperes, watts."""

    volts: float | None = None
    low: float = 0.0
    amps: float = 0.0
    peak: float = 0.0
    watts: float = 0.0


def _seen(
    electrode: str,
    sections: Sequence[Section],
    cathodes: Array,
    volts: NetVolts,
    amps: Mapping[tuple[str, str], Array],
) -> list[_Seen]:
    """That electrode of every section; nothing for sections without it."""
    found = [_Seen()] * len(sections)
    having = [k for k, s in enumerate(sections) if electrode in s.electrodes]
    if not having:
        return found
    across = volts.at(sections[k].electrodes[electrode] for k in having) - cathodes[having]
    zero = np.zeros(across.shape[1])
    taken = np.stack([amps.get((sections[k].name, electrode), zero) for k in having])
    columns = (
        across.mean(axis=1), across.min(axis=1), taken.mean(axis=1), taken.max(axis=1),
        (across * taken).mean(axis=1),
    )  # fmt: skip
    for k, figures in zip(having, np.stack(columns, axis=1).tolist(), strict=True):
        found[k] = _Seen(*figures)
    return found


def _reading(
    section: Section,
    seen: Mapping[str, _Seen],
    cathode: float,
    heater: float | None,
    stress: Sequence[float | None],
) -> TubeReading:
    plates = [seen[p] for p in section.plates]
    return TubeReading(
        plate_v=plates[0].volts,
        plate_ma=1e3 * sum(p.amps for p in plates),
        screen_v=seen["screen"].volts,
        screen_ma=1e3 * seen["screen"].amps,
        grid_v=seen["grid"].volts,
        grid_ma=1e3 * seen["grid"].amps,
        cathode_v=cathode,
        plate_w=sum(p.watts for p in plates),
        screen_w=seen["screen"].watts,
        peak_plate_ma=1e3 * max(p.peak for p in plates),
        inverse_v=max(0.0, *(-p.low for p in plates)),
        heater_v=heater,
        heater_cathode_dc=stress[0],
        heater_cathode_low=stress[1],
        heater_cathode_high=stress[2],
    )


def heater_volts(tubes: Iterable[Tube], volts: NetVolts) -> dict[str, float]:
    """True rms across each drawn heater (across one half where the halves are in parallel)."""
    drawn = [t for t in tubes if t.heater is not None and t.heater.branches]
    total = np.zeros((len(drawn), volts.samples.shape[1]))
    each = [_in_series(tube) for tube in drawn]
    for place in range(max(map(len, each), default=0)):
        here = [k for k, branches in enumerate(each) if len(branches) > place]
        total[here] += volts.at(each[k][place][0] for k in here)
        total[here] -= volts.at(each[k][place][1] for k in here)
    rms = np.sqrt((total**2).mean(axis=1)).tolist()
    return dict(zip((t.name for t in drawn), rms, strict=True))


def _in_series(tube: Tube) -> list[tuple[str, str]]:
    """The ends of the heater's branches that add up."""
    if tube.heater is None:
        return []
    parallel = tube.heater.mode == "parallel"
    return [(b.a, b.b) for b in (tube.heater.branches[:1] if parallel else tube.heater.branches)]


def _heater_cathode(
    circuit: Circuit, sections: Sequence[Section], cathodes: Array, volts: NetVolts
) -> list[Sequence[float | None]]:
    """Heater minus cathode: the mean, and the extreme instants over all heater ends."""
    found: list[Sequence[float | None]] = [(None, None, None)] * len(sections)
    groups: dict[int, list[int]] = {}
    for k, section in enumerate(sections):
        groups.setdefault(len(_stressed(circuit.tubes[section.tube])), []).append(k)
    for count, members in groups.items():
        if not count:
            continue
        nets = [_stressed(circuit.tubes[sections[k].tube]) for k in members]
        ends = [volts.at(each[j] for each in nets) - cathodes[members] for j in range(count)]
        across = np.concatenate(ends, axis=1)
        figures = np.stack([across.mean(axis=1), across.min(axis=1), across.max(axis=1)], axis=1)
        for k, row in zip(members, figures.tolist(), strict=True):
            found[k] = row
    return found


def _stressed(tube: Tube) -> tuple[str, ...]:
    """The heater's nets that an insulated cathode stands against."""
    if tube.heater is None or tube.directly_heated or tube.type.cathode_heater:
        return ()
    return tube.heater.nets
