"""A fault as a small change of the solved equations: a few rank-one terms, sources, tube laws.

Everything is given on the unknowns of the network that the good circuit was factored in, so a
fault costs no new factors (Woodbury's formula takes it up).
"""

from __future__ import annotations

from dataclasses import field, replace
from typing import TYPE_CHECKING, assert_never

import numpy as np

from coldcheck.circuit.kinds import Stamp
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.cycle.assembly import TIE_S
from coldcheck.solve.cycle.defined import floating_ends, floating_grids, undefined_nets
from coldcheck.solve.cycle.devices import semiconductor
from coldcheck.solve.cycle.diodes import Open, Thermionic, Zener
from coldcheck.solve.cycle.network import REVERSE_S, branch_siemens, choke, lit_name, plain
from coldcheck.solve.faults import fault as f

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.solve.cycle.devices import Port, Valve
    from coldcheck.solve.cycle.diodes import Curve
    from coldcheck.solve.cycle.network import Network
    from coldcheck.solve.faults.fault import Fault
    from coldcheck.solve.solution import NoNumber, State
    from coldcheck.solve.tubes.laws import Law

    Array = NDArray[np.float64]
    Ends = dict[int, float]

HELD_S = 1e-3
"""Holds a loose grid at its cathode: left to itself it drifts to where its own current stops it,
within a volt or so of there (common practice). Holds an unfed plate at gnd."""


@dataclass(slots=True)
class Change:
    """What faults do to a network.

    siemens, farads
        Rank-one terms ``amount w w'`` of G and of C; ``w`` maps unknowns to weights.
    steady
        Added to the right-hand side: volts of a source's row.
    gas
        Net -> amperes that gas puts into it.
    emission
        Tube -> factor on its currents.
    curves
        Owner of a one-way part -> its changed law.
    cut
        Branches with a current of their own that are open.
    conductance, capacitance
        Branch -> its conductance, its farads with the fault, for the currents.
    shorted
        Branch -> conductance of what lies across it.
    """

    siemens: list[tuple[Ends, float]] = field(default_factory=list)
    farads: list[tuple[Ends, float]] = field(default_factory=list)
    steady: list[tuple[int, float]] = field(default_factory=list)
    gas: dict[str, float] = field(default_factory=dict)
    emission: dict[str, float] = field(default_factory=dict)
    curves: dict[str, Curve] = field(default_factory=dict)
    cut: set[str] = field(default_factory=set)
    conductance: dict[str, float] = field(default_factory=dict)
    capacitance: dict[str, float] = field(default_factory=dict)
    shorted: dict[str, float] = field(default_factory=dict)

    @property
    def rank(self) -> int:
        """Number of rank-one terms."""
        return len(self.siemens) + len(self.farads)

    def columns(self, size: int) -> Array:
        """The terms' vectors, (size, rank)."""
        out = np.zeros((size, self.rank))
        for k, (ends, _) in enumerate(self.siemens + self.farads):
            for row, weight in ends.items():
                out[row, k] = weight
        return out

    def amounts(self, symbol: NDArray[np.complex128]) -> NDArray[np.complex128]:
        """What the terms weigh at each harmonic's derivative ``symbol`` (K,): (K, rank)."""
        fixed = np.array([y for _, y in self.siemens]).reshape(1, -1) * np.ones((len(symbol), 1))
        moving = symbol[:, None] * np.array([c for _, c in self.farads]).reshape(1, -1)
        return np.concatenate([fixed, moving], axis=1)


@dataclass(slots=True)
class Changes:
    """Writes the changes of faults of one circuit in one state on one network."""

    circuit: Circuit
    network: Network
    state: State

    def of(self, faults: Sequence[Fault]) -> Change:
        """The change that the faults make together. Raises NoSuchPart."""
        change = Change()
        for fault in faults:
            self._write(fault, change)
        return change

    def revalued(self, other: Circuit) -> Change | None:
        """What the same wiring with other values on its parts changes.

        ``None`` where that is no small change of the equations: other windings, tubes or mains.
        """
        change, here = Change(), self.circuit
        if (here.mains, here.transformers, here.outputs) != (
            other.mains, other.transformers, other.outputs,
        ):  # fmt: skip
            return None
        for name, branch in other.branches.items():
            before = here.branches[name]
            if branch is not before and not self._revalue(change, before, branch):
                return None
        return change

    def hold(self, change: Change, faulty: Circuit, state: State) -> dict[str, NoNumber]:
        """Tie what hangs loose with the faults; net -> why it has no number.

        Loose grids are held at their cathodes, islands and loose plates at 0 V.
        """
        missing = dict(undefined_nets(faulty, state))
        ties = dict.fromkeys(floating_ends(faulty, state), TIE_S) if missing else {}
        for net in {*ties, *self.network.ties}:
            amount = ties.get(net, 0.0) - self.network.ties.get(net, 0.0)
            if amount:
                change.siemens.append((self._ends({net: 1.0}), amount))
        for net, cathode in loose_electrodes(faulty, state, missing):
            change.siemens.append((self._between(net, cathode), HELD_S))
        return missing

    def _write(self, fault: Fault, change: Change) -> None:
        kind = fault.kind
        if kind in (f.OPEN, f.SHORT, f.LEAK, f.DRIFT, f.SERIES):
            branch = f.branch_of(self.circuit, fault.part)
            write = {
                f.OPEN: self._open, f.SHORT: self._short, f.LEAK: self._leak,
                f.SERIES: self._series,
            }  # fmt: skip
            write.get(kind, self._drift)(change, branch, fault)
        elif kind in (f.PULLED, f.DEAD, f.WEAK):
            tube = f.tube_of(self.circuit, fault.part).name
            change.emission[tube] = fault.magnitude if kind == f.WEAK else 0.0
            if kind == f.PULLED:
                self._pull(change, tube)
        elif kind == f.THROWN:
            self._throw(change, fault.part)
        else:
            self._between_electrodes(change, fault)

    def _revalue(self, change: Change, before: Branch, branch: Branch) -> bool:
        """Write another value of a branch; whether that is a small change."""
        name, network, stamp = branch.name, self.network, branch.traits.stamp
        match stamp:
            case Stamp.CONDUCTANCE:
                self._conduct(change, branch, branch_siemens(branch, self.state))
            case Stamp.CAPACITANCE:
                self._charge(change, branch, plain(branch.value, "farad", 0.0))
            case Stamp.INDUCTANCE:
                row, old, new = {network.rows[name]: 1.0}, choke(before), choke(branch)
                change.farads.append((row, old[0] - new[0]))
                change.siemens.append((row, old[1] - new[1]))
            case Stamp.VOLTAGE:
                more = plain(branch.value, "volt", 0.0) - plain(before.value, "volt", 0.0)
                change.steady.append((network.rows[name], more))
            case Stamp.JUNCTION | Stamp.THRESHOLD | Stamp.ZENER:
                port = semiconductor(branch, {})
                if port is not None:
                    change.curves[name] = port.curve
            case Stamp.OPEN | Stamp.GLOW | Stamp.GATED | Stamp.CHOPPED | Stamp.LAW:
                pass
            case Stamp.COUPLED | Stamp.UNSOLVED:
                return False
            case _:
                assert_never(stamp)
        return True

    def _pull(self, change: Change, tube: str) -> None:
        """Heater, jumper pins and the straight line of a lit gas tube go with it."""
        for branch in self.circuit.branches.values():
            if branch.owner == tube:
                self._conduct(change, branch, 0.0)
        for section in self.circuit.tubes[tube].sections:
            row = self.network.rows.get(lit_name(section.name))
            if row is not None:
                change.siemens.append(({row: 1.0}, -f.OPEN_OHM))

    def _between_electrodes(self, change: Change, fault: Fault) -> None:
        if fault.kind == f.HEATER_CATHODE:
            ends = self._between(*f.heater_and_cathode(self.circuit, fault.part))
            change.siemens.append((ends, 1 / (fault.magnitude or f.HEATER_CATHODE_OHM)))
        elif fault.kind == f.BRIDGE:
            ends = self._between(*f.bridged(self.circuit, fault.part))
            change.siemens.append((ends, 1 / (fault.magnitude or f.SHORT_OHM)))
        elif fault.kind == f.GASSY:
            self._gas(change, fault)
        elif fault.kind == f.WIPER:
            (a, b), ohms = f.pot_ends(self.circuit, fault.part)
            for branch in f.beside_wiper(self.circuit, fault.part):
                self._conduct(change, branch, 0.0)
            change.siemens.append((self._between(a, b), 1 / ohms))
        else:
            raise f.NoSuchPart(f"there is no fault called {fault.kind}")

    def _open(self, change: Change, branch: Branch, _fault: Fault) -> None:
        if branch.name in self.network.conductance:
            self._conduct(change, branch, 0.0)
        elif branch.name in self.network.farads:
            self._charge(change, branch, 0.0)
        elif branch.name in self.network.rows:
            change.cut.add(branch.name)
            change.siemens.append(({self.network.rows[branch.name]: 1.0}, -f.OPEN_OHM))
        elif branch.traits.steered:
            change.emission[branch.owner] = 0.0
            change.curves[branch.owner] = Open()
            change.siemens.append((self._between(branch.a, branch.b), -REVERSE_S))
        elif branch.traits.blocks:
            change.curves[branch.name] = Open()
            change.siemens.append((self._between(branch.a, branch.b), -REVERSE_S))
        elif branch.traits.stamp is not Stamp.OPEN:
            raise f.NoSuchPart(f"the solver cannot open {branch.name}")
        if branch.kind is PartKind.HEATER and branch.owner in self.circuit.tubes:
            change.emission[branch.owner] = 0.0

    def _short(self, change: Change, branch: Branch, fault: Fault) -> None:
        self._leak(change, branch, f.Fault(f.LEAK, fault.part, fault.magnitude or f.SHORT_OHM))

    def _leak(self, change: Change, branch: Branch, fault: Fault) -> None:
        if branch.a == branch.b:
            return
        change.siemens.append((self._between(branch.a, branch.b), 1 / fault.magnitude))
        change.shorted[branch.name] = 1 / fault.magnitude

    def _series(self, change: Change, branch: Branch, fault: Fault) -> None:
        if branch.name not in self.network.conductance:
            raise f.NoSuchPart(f"{branch.name} is nothing that could have some ohms in it")
        if self.network.conductance[branch.name]:  # an open contact stays open
            self._conduct(change, branch, 1 / fault.magnitude)

    def _drift(self, change: Change, branch: Branch, fault: Fault) -> None:
        factor, name, network = fault.magnitude, branch.name, self.network
        if network.conductance.get(name):
            self._conduct(change, branch, network.conductance[name] / factor)
        elif name in network.farads:
            self._charge(change, branch, factor * network.farads[name])
        elif branch.kind is PartKind.INDUCTOR:
            henries = plain(branch.value, "henry", 0.0)
            change.farads.append(({network.rows[name]: 1.0}, -(factor - 1) * henries))
        elif branch.kind is PartKind.SOURCE:
            volts = plain(branch.value, "volt", 0.0)
            change.steady.append((network.rows[name], (factor - 1) * volts))
        elif branch.kind is PartKind.ZENER:
            volts = factor * plain(branch.value, "volt", 0.0)
            change.curves[name] = Zener(volts, 0.5 * volts)
        else:
            raise f.NoSuchPart(f"{name} has no value that could drift")

    def _gas(self, change: Change, fault: Fault) -> None:
        """Positive ions land on the grid: the current flows out of it into its circuit."""
        wanted = f.sections_of(self.circuit, fault.part)
        for section in self.circuit.sections():
            if section.name in wanted and "grid" in section.electrodes:
                grid, cathodes = section.electrodes["grid"], section.cathode_nets
                shares = [(grid, 1.0), *((net, -1 / len(cathodes)) for net in cathodes)]
                for net, share in shares:
                    change.gas[net] = change.gas.get(net, 0.0) + share * fault.magnitude

    def _throw(self, change: Change, switch: str) -> None:
        parts = [b for b in self.circuit.branches.values() if switch in b.thrown_by]
        poles = [b for b in parts if b.traits.opens or b.kind is PartKind.PHOTOCELL]
        if not poles:
            raise f.NoSuchPart(f"the circuit has no switch {switch}")
        after = f.state_with(self.state, [f.Fault(f.THROWN, switch)])
        for pole in poles:
            self._conduct(change, pole, branch_siemens(pole, after))

    def _conduct(self, change: Change, branch: Branch, siemens: float) -> None:
        """Give a conducting branch another conductance."""
        if branch.name not in self.network.conductance:
            return
        before = change.conductance.get(branch.name, self.network.conductance[branch.name])
        change.conductance[branch.name] = siemens
        if siemens != before and branch.a != branch.b:
            change.siemens.append((self._between(branch.a, branch.b), siemens - before))

    def _charge(self, change: Change, branch: Branch, farads: float) -> None:
        """Give a capacitor another capacitance."""
        change.capacitance[branch.name] = farads
        more = farads - self.network.farads[branch.name]
        change.farads.append((self._between(branch.a, branch.b), more))

    def _between(self, a: str, b: str) -> Ends:
        return {} if a == b else self._ends({a: 1.0, b: -1.0})

    def _ends(self, nets: Mapping[str, float]) -> Ends:
        rows = {self.network.at(net): weight for net, weight in nets.items()}
        return {row: weight for row, weight in rows.items() if row is not None}


def loose_electrodes(
    circuit: Circuit, state: State, missing: Mapping[str, NoNumber]
) -> Iterator[tuple[str, str]]:
    """Each grid that floats, with its cathode; each plate that nothing feeds, with gnd.

    ``missing`` are the circuit's nets that nothing holds. A plate that nothing feeds takes no
    current; what little leaks brings it down to gnd, where its cathode is not below that.
    """
    loose = set(floating_grids(circuit, state, missing)) if missing else set()
    ends = [
        n for b in circuit.branches.values() if b.kind is not PartKind.CAPACITOR for n in (b.a, b.b)
    ]
    fed = {GROUND, *ends}
    nets = [n for s in circuit.sections() for n in s.electrodes.values()]
    held: set[str] = set()
    for section in circuit.sections():
        grid, plate = section.electrodes.get("grid"), section.electrodes.get("plate")
        alone = plate if plate not in fed and nets.count(str(plate)) == 1 else None
        cathode = section.cathode_nets[0]
        for net, at in ((grid if grid in loose else None, cathode), (alone, GROUND)):
            if net is not None and net not in held and section.tube not in state.pulled:
                held.add(net)
                yield net, at


@dataclass(frozen=True, slots=True)
class Weak:
    """The law of a tube that emits less than it should."""

    law: Law
    factor: float

    @property
    def electrodes(self) -> tuple[str, ...]:
        """See :class:`coldcheck.solve.tubes.laws.Law`."""
        return self.law.electrodes

    def currents(self, v: Array) -> tuple[Array, Array]:
        """See :class:`coldcheck.solve.tubes.laws.Law`."""
        amps, slopes = self.law.currents(v)
        return self.factor * amps, self.factor * slopes


def weak_valve(valve: Valve, emission: Mapping[str, float]) -> Valve:
    """A tube section at its share of emission."""
    factor = emission.get(valve.part)
    return valve if factor is None else replace(valve, law=Weak(valve.law, factor))


def weak_port(port: Port, emission: Mapping[str, float]) -> Port:
    """A diode of a tube at its share of emission; semiconductors have none to lose."""
    tube = port.owner if port.owner in emission else port.owner.rstrip("ABC")
    if not port.electrode or tube not in emission:
        return port
    factor = emission[tube]
    if factor and isinstance(port.curve, Thermionic):
        return replace(port, curve=Thermionic(factor * port.curve.k))
    return port if factor else replace(port, curve=Open())
