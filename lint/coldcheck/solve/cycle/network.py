"""Circuit and state -> matrices: modified nodal analysis over plain SI floats.

Unknowns: the voltage of every net but gnd, then one current for each inductor, winding and
source, then the emf of each transformer core (per unit of its nominal). The equations are
``C dx/dt + G x + B i = b(t)`` where ``i`` are the currents of the nonlinear ports and ``B`` their
incidence (Ho, Ruehli, Brennan, "The modified nodal approach to network analysis", 1975).
"""

from __future__ import annotations

import math
from dataclasses import field
from functools import lru_cache
from typing import TYPE_CHECKING, assert_never

from coldcheck.circuit.kinds import Contact, Stamp
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.solution import Unsolved

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pint import Unit

    from coldcheck.circuit.model import (
        Branch,
        Circuit,
        Coil,
        CoilSet,
        OutputTransformer,
        Transformer,
        Winding,
    )
    from coldcheck.drawing.units import Quantity
    from coldcheck.solve.solution import State

    Entries = list[tuple[int, int, float]]

LEAK_S = 1e-11
"""Leakage of every net to gnd: keeps a charged, unloaded capacitor's voltage defined."""

REVERSE_S = 5e-9
"""Leakage across a blocking diode or rectifier: about 2 uA at 400 V (silicon; from memory).

It also gives a winding between blocking diodes its potential.
"""

SOURCE_AMPS_MAX = 100.0
"""A bench supply delivering more is a short or two sources in contradiction, not an answer."""

CONTACT_OHM = 0.01
FUSE_OHM = 0.05
SIGNAL_OHM = 600.0
REGULATION = 0.05
"""Assumed drop of a winding at its rated current when no resistance is written."""

HEATER_VOLTS_MAX = 60.0
HT_OHM_PER_VOLT, LT_OHM_PER_VOLT = 0.3, 0.01
"""Assumed winding resistance where neither resistance nor rated current is written."""

CHOKE_OHM_PER_HENRY = 20.0
SOURCE_OHM = 1e-3
THERMISTOR_HOT = 0.05
"""Hot to cold resistance of an inrush thermistor (common practice, from memory)."""


class Unsolvable(Exception):  # noqa: N818 - a condition, reported in words
    """The state cannot be set up; the text says why in plain words."""

    def __init__(self, words: str, kind: Unsolved = Unsolved.NO_VALUE) -> None:
        super().__init__(words)
        self.kind = kind


@dataclass(slots=True)
class Network:
    """Matrices as triplets. ``size`` unknowns; ``nets`` maps a net to its row (gnd: absent).

    ``hum`` holds (row, peak volts) of sources that follow the mains sine; ``steady`` the DC ones.
    ``rows`` maps a branch with its own current unknown to that row; ``cores`` are the rows of
    mains transformers' emfs.
    """

    nets: Mapping[str, int]
    frequency: float
    size: int = 0
    g: Entries = field(default_factory=list)
    c: Entries = field(default_factory=list)
    steady: list[tuple[int, float]] = field(default_factory=list)
    hum: list[tuple[int, float]] = field(default_factory=list)
    rows: dict[str, int] = field(default_factory=dict)
    conductance: dict[str, float] = field(default_factory=dict)
    farads: dict[str, float] = field(default_factory=dict)
    ties: dict[str, float] = field(default_factory=dict)
    cores: list[int] = field(default_factory=list)
    dc_only: Entries = field(default_factory=list)
    ac_only: Entries = field(default_factory=list)

    @property
    def shape(self) -> tuple[int, int]:
        """Shape of the matrices."""
        return self.size, self.size

    def row(self) -> int:
        """Add an unknown and return its row."""
        self.size += 1
        return self.size - 1

    def at(self, net: str) -> int | None:
        """The row of a net; ``None`` for gnd."""
        return self.nets.get(net)

    def admit(self, a: str, b: str, siemens: float, into: Entries) -> None:
        """Stamp a two-ended admittance."""
        i, j = self.at(a), self.at(b)
        if i is not None:
            into.append((i, i, siemens))
        if j is not None:
            into.append((j, j, siemens))
        if i is not None and j is not None:
            into += [(i, j, -siemens), (j, i, -siemens)]

    def tie(self, ends: Mapping[str, float], siemens: float) -> None:
        """Stamp an admittance across a weighted set of nets (a filament is a mean of two)."""
        for a, weight in ends.items():
            for b, other in ends.items():
                i, j = self.at(a), self.at(b)
                if i is not None and j is not None:
                    self.g.append((i, j, weight * other * siemens))

    def carry(self, name: str, a: str, b: str, ohms: float) -> int:
        """Stamp ``v_a - v_b - ohms i = 0`` with its own current; return the row."""
        row = self.row()
        self.rows[name] = row
        for net, sign in ((a, 1.0), (b, -1.0)):
            i = self.at(net)
            if i is not None:
                self.g += [(i, row, sign), (row, i, sign)]
        self.g.append((row, row, -ohms))
        return row


SERVICE = "the mains"
"""Name of the current from line to neutral among a network's rows; no part has a space."""


def feed_name(transformer: str) -> str:
    """Name of the current into a primary that is not drawn to the mains, among the rows."""
    return f"{transformer} feed"


_LIT = " lit"


def lit_name(section: str) -> str:
    """Name of the current of a struck gas tube among a network's rows; no lead has a space."""
    return f"{section}{_LIT}"


def lit_section(row: str) -> str | None:
    """The section whose current a row is, as :func:`lit_name` calls it; ``None`` for others."""
    return row.removesuffix(_LIT) if row.endswith(_LIT) else None


def plain(value: Quantity | None, unit: str, default: float) -> float:
    """A quantity as an SI float, or the default where it is not given."""
    return default if value is None else float(value.m) * _factor(value.units, unit)


@lru_cache(maxsize=256)
def _factor(given: Unit, wanted: str) -> float:
    """What turns a magnitude in one unit into another; a circuit asks this for every part."""
    return float((1.0 * given).m_as(wanted))


def build_network(
    circuit: Circuit,
    state: State,
    assumed: Mapping[str, float],
    siemens: Mapping[str, float] | None = None,
) -> Network:
    """Assemble a state's linear part. ``assumed`` gives unknown values by branch name (SI).

    ``siemens`` are conductances that no state changes, see :func:`lasting_siemens`.
    """
    lasting = siemens or {}
    nets = [n for n in circuit.graph.nodes if n != GROUND]
    network = Network({n: i for i, n in enumerate(nets)}, mains_frequency(circuit), len(nets))
    network.g += [(i, i, LEAK_S) for i in range(len(nets))]
    core_of = _windings(circuit)
    for branch in circuit.branches.values():
        if branch.name not in core_of or branch.traits.stamp is Stamp.UNSOLVED:
            known = lasting.get(branch.name)
            if known is None:
                _stamp(network, branch, state, assumed.get(branch.name))
            else:
                network.conductance[branch.name] = known
                network.admit(branch.a, branch.b, known, network.g)
    _mains(network, circuit, state)
    for transformer in circuit.transformers.values():
        _transformer(network, transformer, circuit, state, assumed)
    for output in circuit.outputs.values():
        _output(network, output)
    for coil_set in circuit.coil_sets.values():
        _coupled(network, coil_set, assumed)
    return network


CHOPPER_OHM = 0.05
"""Two contacts of a vibrator (common practice: some hundredths of an ohm)."""


def mains_frequency(circuit: Circuit) -> float:
    """Hertz; 60 where the drawing does not say (it only scales the ripple)."""
    chopped = next((v.hertz for v in circuit.vibrators.values()), 60.0)
    return plain(circuit.mains.frequency, "hertz", 60.0) if circuit.mains else chopped


def has_ac(network: Network) -> bool:
    """Whether anything follows the mains sine."""
    return any(volts for _, volts in network.hum)


def _windings(circuit: Circuit) -> set[str]:
    mains = {b.name for w in circuit.windings() for b in w.branches}
    outputs = {b.name for o in circuit.outputs.values() for _, b in o.branches}
    return mains | outputs | {b.name for s in circuit.coil_sets.values() for _, b in s.branches}


def _stamp(network: Network, branch: Branch, state: State, assumed: float | None) -> None:
    stamp = branch.traits.stamp
    match stamp:
        case Stamp.CONDUCTANCE:
            siemens = branch_siemens(branch, state, assumed)
            network.conductance[branch.name] = siemens
            alone = branch.kind is PartKind.SIGNAL and not branch.closed
            network.admit(branch.a, branch.b, siemens, network.ac_only if alone else network.g)
        case Stamp.CAPACITANCE:
            farads = plain(branch.value, "farad", 1e-7 if assumed is None else assumed)
            network.farads[branch.name] = farads
            network.admit(branch.a, branch.b, farads, network.c)
        case Stamp.INDUCTANCE:
            henries, ohms = choke(branch, assumed)
            row = network.carry(branch.name, branch.a, branch.b, ohms)
            network.c.append((row, row, -henries))
        case Stamp.VOLTAGE:
            inside = max(plain(branch.resistance, "ohm", SOURCE_OHM), SOURCE_OHM)
            row = network.carry(branch.name, branch.a, branch.b, inside)
            network.steady.append((row, plain(branch.value, "volt", assumed or 0.0)))
        case (
            Stamp.JUNCTION | Stamp.THRESHOLD | Stamp.ZENER | Stamp.OPEN | Stamp.GLOW
            | Stamp.GATED | Stamp.LAW
        ):  # fmt: skip
            pass  # a port, a law (``devices``), or nothing
        case Stamp.CHOPPED:
            row = network.carry(branch.name, branch.a, branch.b, CHOPPER_OHM)
            network.hum.append((row, 2 * plain(branch.value, "volt", 0.0) * state.line))
        case Stamp.COUPLED | Stamp.UNSOLVED:
            raise Unsolvable(f"{branch.name} is a {branch.kind.value} of which no law is known")
        case _:
            assert_never(stamp)


def choke(branch: Branch, assumed: float | None = None) -> tuple[float, float]:
    """Henries and ohms of an inductor."""
    henries = plain(branch.value, "henry", 10.0 if assumed is None else assumed)
    return henries, plain(branch.resistance, "ohm", CHOKE_OHM_PER_HENRY * henries)


def lasting_siemens(circuit: Circuit) -> dict[str, float]:
    """Branch name -> conductance of the drawn resistors and pots, the same in every state.

    Worked out once for a circuit: unit conversions are what costs in building a large network.
    """
    return {
        b.name: 1 / max(plain(b.value, "ohm", 0.0), CONTACT_OHM)
        for b in circuit.branches.values()
        if b.traits.steady
        and b.traits.stamp is Stamp.CONDUCTANCE
        and b.value is not None
        and b.owner not in circuit.tubes
    }


def branch_siemens(branch: Branch, state: State, assumed: float | None = None) -> float:
    """Conductance of a conducting branch in a state; 0 where it is open."""
    if branch.owner in state.pulled:
        return 0.0  # the heater, and a gas regulator's jumper pins
    if branch.traits.contact is not Contact.NONE:
        return 1 / CONTACT_OHM if branch.closed_with(state.thrown) else 0.0
    if branch.kind is PartKind.FUSE:
        return 1 / FUSE_OHM
    ohms = branch_ohms(branch, state, assumed)
    return 1 / max(ohms, CONTACT_OHM)


def branch_ohms(branch: Branch, state: State, assumed: float | None = None) -> float:
    """Resistance of a resistive branch, ohms; raises Unsolvable if nothing says it."""
    if branch.kind is PartKind.SIGNAL:
        return SIGNAL_OHM
    if branch.kind is PartKind.LAMP and branch.part and branch.part.voltage and branch.part.current:
        return plain(branch.part.voltage, "volt", 0) / plain(branch.part.current, "ampere", 1)
    if branch.value is None and assumed is None:
        raise Unsolvable(f"the value of {branch.name} is not known")
    if branch.kind is PartKind.BARRETTER and assumed is not None:
        return assumed
    if branch.kind is PartKind.PHOTOCELL and branch.resistance is not None:
        lit = not state.thrown.isdisjoint(branch.thrown_by)
        return plain(branch.resistance if lit else branch.value, "ohm", assumed or 0.0)
    if branch.kind is PartKind.THERMISTOR and state.warm and branch.resistance is not None:
        return plain(branch.resistance, "ohm", 0.0)
    ohms = plain(branch.value, "ohm", assumed or 0.0)
    return ohms * (THERMISTOR_HOT if branch.kind is PartKind.THERMISTOR and state.warm else 1.0)


def _mains(network: Network, circuit: Circuit, state: State) -> None:
    """The service: line against neutral, neutral bonded to earth."""
    line, neutral, earth = (circuit.points.get(n) for n in ("line", "neutral", "earth"))
    if line is None and neutral is None:
        return
    if line is None or neutral is None:
        raise Unsolvable("the drawing shows only one of 'line' and 'neutral'")
    if circuit.mains is None:
        raise Unsolvable("the drawing uses the mains but has no 'mains' line with its voltage")
    row = network.carry(SERVICE, line, neutral, SOURCE_OHM)
    volts = plain(circuit.mains.voltage, "volt", 0.0)
    network.hum.append((row, math.sqrt(2) * volts * state.line))
    if earth is not None and earth != neutral:
        network.admit(neutral, earth, 1 / CONTACT_OHM, network.g)


def _transformer(
    network: Network,
    transformer: Transformer,
    circuit: Circuit,
    state: State,
    assumed: Mapping[str, float],
) -> None:
    """All windings share one emf, in units of their own rated voltage; mmfs add to (nearly) 0."""
    core = network.row()
    network.cores.append(core)
    network.dc_only.append((core, core, 1.0))
    network.ac_only.append((core, core, -1e-3 * rated_power(transformer)))
    for winding in transformer.windings:
        boost = 1.0 if winding.primary else no_load_factor(transformer, winding.name)
        for branch in winding.branches:
            volts = plain(branch.value, "volt", assumed.get(branch.name, 0.0))
            row = network.carry(branch.name, branch.a, branch.b, winding_ohms(branch, transformer))
            network.ac_only += [(row, core, -volts * boost), (core, row, volts * boost)]
    if not transformer.wired:
        _feed(network, transformer, circuit, state, core)


def _feed(
    network: Network, transformer: Transformer, circuit: Circuit, state: State, core: int
) -> None:
    """An undrawn primary is on the mains by itself: through its own resistance only."""
    primary = transformer.primaries[0] if transformer.primaries else None
    rated = plain(primary.volts, "volt", 1.0) if primary else 1.0
    supply = plain(circuit.mains.voltage, "volt", rated) if circuit.mains else rated
    supply = supply if primary else 1.0
    row = network.row()
    network.rows[feed_name(transformer.name)] = row
    ohms = winding_ohms(primary.branches[0], transformer) if primary else 0.0
    network.g.append((row, row, -max(ohms, 1e-6 * rated)))
    network.ac_only += [(row, core, -rated), (core, row, rated)]
    # The undrawn primary sees the mains with the sign that makes every emf follow +sin.
    network.hum.append((row, -math.sqrt(2) * supply * state.line))


def rated_power(transformer: Transformer) -> float:
    """Volt-amperes of all rated secondaries (at least 1); a full-wave one works by halves."""
    total = 0.0
    for winding in transformer.secondaries:
        volts = plain(winding.volts, "volt", 0.0) / (2 if full_wave(winding) else 1)
        total += volts * plain(winding.current, "ampere", 0.0)
    return max(total, 1.0)


def full_wave(winding: Winding) -> bool:
    """Whether a winding looks like a full-wave high-voltage one: tapped and above 60 V."""
    return winding.centred and plain(winding.volts, "volt", 0.0) > HEATER_VOLTS_MAX


def winding_ohms(branch: Branch, transformer: Transformer) -> float:
    """Resistance of a winding (half): as written, else 5 % of the rated voltage at full load."""
    if branch.resistance is not None:
        return max(plain(branch.resistance, "ohm", 0.0), 1e-4)
    volts = plain(branch.value, "volt", 0.0)
    winding = next(w for w in transformer.windings if branch in w.branches)
    if winding.primary:
        rated = all(w.current is not None for w in transformer.secondaries)
        whole = plain(winding.volts, "volt", 0.0)
        share = REGULATION / 2 * volts * whole / rated_power(transformer) if rated else 0.0
        return max(share, 1e-4)
    amps = plain(winding.current, "ampere", 0.0)
    if amps:
        return max(REGULATION * volts / amps, 1e-4)
    return max(volts * (HT_OHM_PER_VOLT if volts > HEATER_VOLTS_MAX else LT_OHM_PER_VOLT), 1e-4)


def no_load_factor(transformer: Transformer, name: str) -> float:
    """Emf over rated voltage: a winding with a rated current shows its voltage at that current."""
    winding = next(w for w in transformer.windings if w.name == name)
    amps = plain(winding.current, "ampere", 0.0)
    if not amps:
        return 1.0
    ohms = sum(winding_ohms(b, transformer) for b in winding.branches)
    own = amps * ohms / max(plain(winding.volts, "volt", 0.0), 1e-9)
    return (1 + own) * (1 + _primary_drop(transformer))


def _primary_drop(transformer: Transformer) -> float:
    """Share of the mains lost in the primary's resistance at full load."""
    volts = sum(plain(b.value, "volt", 0.0) for b in transformer.fed)
    ohms = sum(winding_ohms(b, transformer) for b in transformer.fed)
    return ohms * rated_power(transformer) / volts**2 if volts else 0.0


OUTPUT_LOSS = 0.04
"""Assumed winding resistance of an output transformer over the impedance it works at."""


def _output(network: Network, output: OutputTransformer) -> None:
    """Ideal ratios with a magnetising inductance; DC sees the winding resistances only."""
    core = network.row()
    load = plain(output.primary, "ohm", 5000.0)
    henries = plain(output.inductance, "henry", load / (2 * math.pi * 20.0))
    network.dc_only.append((core, core, 1.0))
    # Magnetising current in primary amperes: sum(ratio i) L_m s = e, kept as L_m s sum - e = 0.
    network.ac_only.append((core, core, -1.0))
    assumed = output_ohms(output)
    for ratio, branch in output.branches:
        ohms = max(plain(branch.resistance, "ohm", assumed[branch.name]), 1e-4)
        row = network.carry(branch.name, branch.a, branch.b, ohms)
        network.ac_only.append((row, core, -ratio))
        network.c.append((core, row, ratio * henries))


def output_ohms(output: OutputTransformer) -> dict[str, float]:
    """Branch -> the resistance it is assumed to have where none is written, ohms.

    From the secondary's common end to each tap it is the same share of the tap's impedance, as
    the wire is thinner where less current flows.
    """
    load = plain(output.primary, "ohm", 5000.0)
    found = {b.name: OUTPUT_LOSS * ratio**2 * load for ratio, b in output.primary_parts}
    below = 0.0
    for ratio, branch in output.secondary_parts:
        found[branch.name] = OUTPUT_LOSS * load * ((below + ratio) ** 2 - below**2)
        below += ratio
    return found


OHM_PER_ROOT_HENRY = 300.0
"""Assumed resistance of a coil for signals over the root of its inductance (from memory).

An IF coil of 1 mH has some 10 ohm, an interstage primary of 10 H some 900.
"""


def coil_ohms(coil: Coil) -> dict[str, float]:
    """Branch -> resistance of each part of a coil, as written or assumed, ohms."""
    henries = plain(coil.henries, "henry", 0.0)
    default = OHM_PER_ROOT_HENRY * math.sqrt(henries)
    if coil.impedance is not None:
        loss = SPRING_LOSS if coil.springs else OUTPUT_LOSS
        default = loss * plain(coil.impedance, "ohm", 0.0)
    whole = max(plain(coil.resistance, "ohm", default), 1e-4)
    return {branch.name: share * whole for share, branch in coil.parts}


SPRING_LOSS = 0.1
"""Assumed resistance of a spring tank's coil over its impedance at 1 kHz (from memory)."""


def _coupled(network: Network, coil_set: CoilSet, assumed: Mapping[str, float]) -> None:
    """Mutual inductance M = k sqrt(L1 L2); the parts of one winding have all their flux in common.

    Windings of which the coupling is not known do not couple: direct current does not mind.
    """
    between = coil_set.coupling or 0.0
    wound = [(coil, share, branch) for coil in coil_set.coils for share, branch in coil.parts]
    ohms = {name: r for coil in coil_set.coils for name, r in coil_ohms(coil).items()}
    rows = [network.carry(b.name, b.a, b.b, ohms[b.name]) for _, _, b in wound]
    roots = [
        share * math.sqrt(assumed.get(b.name, plain(c.henries, "henry", 0.0)))
        for c, share, b in wound
    ]
    for i, (one, _, _) in enumerate(wound):
        for j, (other, _, _) in enumerate(wound):
            k = 1.0 if one is other else between
            if k:
                network.c.append((rows[i], rows[j], -k * roots[i] * roots[j]))
