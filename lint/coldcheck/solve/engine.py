"""Every state of a circuit, solved: shared factors, starts handed on, honest refusals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.solve.combine import agree, judged
from coldcheck.solve.defined import floating_ends, floating_grids, undefined_nets, unknown_values
from coldcheck.solve.devices import incidence, one_way_ends, ports, strike_volts, valves
from coldcheck.solve.network import REVERSE_S, SOURCE_AMPS_MAX, Unsolvable, build_network, has_ac
from coldcheck.solve.readings import branch_currents, net_waves, tube_readings
from coldcheck.solve.response import difference_symbol, harmonics
from coldcheck.solve.solution import WARM, Solution, State
from coldcheck.solve.starts import NotConverged
from coldcheck.solve.states import states_of
from coldcheck.solve.steady import Cycle

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.solve.network import Network
    from coldcheck.solve.response import Response
    from coldcheck.solve.solution import Wave
    from coldcheck.solve.starts import LabelledStart, Steady

INSTANTS = 128
"""Instants of a mains cycle; 256 change the DC of the samples by less than 0.1 %."""

ROUGH_INSTANTS = 32
HELD_GRID_S = 1e-6
TIE_S = 1e-6
"""Holds one net of a floating island at 0 V while solving; its nets get no number."""

STEPS = (0.25, 0.5, 0.75, 1.0)

TRIALS: tuple[Mapping[str, tuple[float, ...]], ...] = (
    {"ohm": (1e2, 3e4), "farad": (1e-9, 1e-4), "henry": (0.1, 20.0), "volt": (10.0, 200.0)},
    {"ohm": (1e6, 1e3), "farad": (1e-5, 1e-8), "henry": (10.0, 1.0), "volt": (300.0, 50.0)},
    {"ohm": (3e4, 1e6), "farad": (1e-7, 1e-6), "henry": (1.0, 5.0), "volt": (100.0, 20.0)},
)
"""Trial values for what the drawing leaves open, far apart on purpose."""

HELD_VOLTS = (0.0, -60.0, -5.0)
UNITS = {"capacitor": "farad", "inductor": "henry", "source": "volt", "zener": "volt"}


@dataclass(slots=True)
class Solver:
    """Solves states of one circuit; keeps the factors and the starts that states share."""

    circuit: Circuit
    instants: int = INSTANTS
    _base: tuple[Network, Response] | None = None
    _first: LabelledStart | None = None

    def solve(self, state: State) -> Solution:
        """One state, with what cannot be known left out."""
        missing = dict(undefined_nets(self.circuit, state))
        grids = floating_grids(self.circuit, state, missing)
        open_values = unknown_values(self.circuit)
        try:
            if not grids and not open_values:
                return self._finish(*self._struck(state, {}, {}), state, missing)
            trials = [self._trial(state, k, grids) for k in range(len(TRIALS))]
            solved = [self._finish(*t, state, missing) for t in trials]
        except np.linalg.LinAlgError:
            reason = "the equations contradict each other: a loop of sources, or a short"
            return self._unsolved(state, reason)
        except (Unsolvable, NotConverged) as problem:
            return self._unsolved(state, str(problem))
        return agree(solved, _cause(open_values, grids))

    def _unsolved(self, state: State, reason: str) -> Solution:
        return Solution(state, False, float("nan"), 0, reason, self.circuit)

    def _trial(self, state: State, k: int, grids: tuple[str, ...]) -> tuple[Cycle, Steady]:
        values = TRIALS[k]
        assumed = {
            b.name: values[UNITS.get(b.kind, "ohm" if b.kind != "winding" else "volt")][j % 2]
            for j, b in enumerate(unknown_values(self.circuit))
        }
        return self._struck(state, assumed, dict.fromkeys(grids, HELD_VOLTS[k]))

    def _struck(
        self, state: State, assumed: Mapping[str, float], held: Mapping[str, float]
    ) -> tuple[Cycle, Steady]:
        """Solve with gas tubes dark, then light those that reach their starting voltage."""
        lit: frozenset[str] = frozenset()
        while True:
            cycle = self._cycle(state, lit, assumed, held)
            known = self._first if not assumed and not held else None
            coarse = self._rough(state, lit, assumed, held) if known is None else None
            answer = _run(cycle, [known, coarse])
            if self._first is None and not assumed and not held:
                self._first = cycle.label(answer.start)
            strikes = self._strikes(cycle, answer, lit)
            if not strikes:
                return cycle, answer
            lit |= {max(strikes, key=strikes.__getitem__)}

    def _strikes(self, cycle: Cycle, answer: Steady, lit: frozenset[str]) -> dict[str, float]:
        """Dark gas tubes past their starting voltage -> by how much."""
        found = {}
        for port, volts in zip(cycle.ports, answer.port_volts, strict=True):
            section = next((s for s in self.circuit.sections() if s.name == port.owner), None)
            if section is None or section.kind != "regulator" or section.name in lit:
                continue
            ratio = float(volts.max()) / strike_volts(self.circuit.tubes[section.tube])
            if ratio >= 1:
                found[section.name] = ratio
        return found

    def _cycle(
        self,
        state: State,
        lit: frozenset[str],
        assumed: Mapping[str, float],
        held: Mapping[str, float],
    ) -> Cycle:
        network = build_network(self.circuit, state, assumed)
        for ends in one_way_ends(self.circuit):
            network.tie(ends, REVERSE_S)
        for net in floating_ends(self.circuit, state):
            network.ties[net] = TIE_S
            network.tie({net: 1.0}, TIE_S)
        for net, volts in held.items():
            row = network.nets[net]
            network.g.append((row, row, HELD_GRID_S))
            network.steady.append((row, HELD_GRID_S * volts))
        one_way = ports(self.circuit, state, lit, assumed)
        if not has_ac(network):
            nothing = (incidence(network, []), np.zeros((0, 0)))
            return Cycle(network, one_way, valves(self.circuit, state), None, nothing, 1)
        base, response = self._factors(network, fresh=bool(assumed or held))
        shunts = self._shunts(base, network)
        return Cycle(network, one_way, valves(self.circuit, state), response, shunts, self.instants)

    def _factors(self, network: Network, *, fresh: bool) -> tuple[Network, Response]:
        """The harmonic factors: made once, and corrected for what a state changes."""
        symbol = difference_symbol(self.instants, network.frequency)
        if fresh:
            return network, harmonics(network, symbol)
        if self._base is None:
            self._base = network, harmonics(network, symbol)
        return self._base

    def _shunts(
        self, base: Network, network: Network
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Conductances by which a state differs from the base: pulled heaters, switches."""
        changed = [
            (b, network.conductance[name] - base.conductance[name])
            for name, b in self.circuit.branches.items()
            if name in network.conductance and network.conductance[name] != base.conductance[name]
        ]
        ties = [
            (net, network.ties.get(net, 0.0) - base.ties.get(net, 0.0))
            for net in {*network.ties, *base.ties}
        ]
        ends: list[Mapping[str, float]] = [{b.a: 1.0, b.b: -1.0} for b, _ in changed]
        ends += [{net: 1.0} for net, _ in ties]
        return incidence(network, ends), np.diag([change for _, change in changed + ties])

    def _rough(
        self,
        state: State,
        lit: frozenset[str],
        assumed: Mapping[str, float],
        held: Mapping[str, float],
    ) -> LabelledStart | None:
        """An answer at a quarter of the instants: a start found at a fraction of the cost."""
        if self.instants <= ROUGH_INSTANTS:
            return None
        rough = Solver(self.circuit, ROUGH_INSTANTS)._cycle(state, lit, assumed, held)
        try:
            answer = _run(rough, [])
        except (NotConverged, np.linalg.LinAlgError):
            return None
        return rough.label(answer.start)

    def _finish(
        self, cycle: Cycle, answer: Steady, state: State, missing: Mapping[str, str]
    ) -> Solution:
        volts = net_waves(cycle.network, answer)
        currents = branch_currents(self.circuit, cycle, answer, volts)
        _plausible(self.circuit, currents)
        readings = tube_readings(self.circuit, cycle, answer, volts, state.pulled)
        return Solution(
            state,
            True,
            answer.residual,
            answer.steps,
            "",
            self.circuit,
            {n: w for n, w in volts.items() if n not in missing},
            currents,
            judged(self.circuit, readings, missing),
            dict(missing),
        )


def solve_states(circuit: Circuit, instants: int = INSTANTS) -> dict[str, Solution]:
    """Solve every state of a circuit. Never raises for content: a state may be "not solved".

    Returns state name -> :class:`Solution`, ``warm`` first.
    """
    solver = Solver(circuit, instants)
    return {state.name: solver.solve(state) for state in states_of(circuit)}


def solve_state(circuit: Circuit, name: str = WARM, instants: int = INSTANTS) -> Solution:
    """Solve one state by name; raises KeyError for a state the circuit does not have."""
    states = {s.name: s for s in states_of(circuit)}
    return Solver(circuit, instants).solve(states[name])


def _run(cycle: Cycle, starts: Iterable[LabelledStart | None]) -> Steady:
    """Newton from each start in turn, then from nothing, then with the sources in steps."""
    given = [cycle.adapt(s) for s in starts if s is not None]
    for start in [*given, None]:
        try:
            return cycle.solve(start)
        except (NotConverged, np.linalg.LinAlgError):
            continue
    return _stepped(cycle)


def _stepped(cycle: Cycle) -> Steady:
    """Raise all sources in steps, each from the last answer."""
    hum, steady, start = cycle.hum.copy(), cycle.steady.copy(), None
    for share in STEPS:
        cycle.hum, cycle.steady = hum * share, steady * share
        answer = cycle.solve(start)
        start = answer.start
    return answer


def _plausible(circuit: Circuit, currents: Mapping[str, Wave]) -> None:
    """Refuse an answer in which a bench source is short-circuited."""
    for branch in circuit.branches.values():
        if branch.kind == "source" and currents[branch.name].peak > SOURCE_AMPS_MAX:
            amps = currents[branch.name].peak
            raise Unsolvable(
                f"{branch.name} would deliver {amps:.0f} A: it is shorted, or fights another source"
            )


def _cause(values: tuple[Branch, ...], grids: tuple[str, ...]) -> str:
    names = [f"the value of {b.owner}" for b in values] + [
        f"the floating grid at {g}" for g in grids
    ]
    return "depends on " + ", ".join(dict.fromkeys(names))
