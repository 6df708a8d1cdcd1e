"""Every state of a circuit, solved: shared factors, starts handed on, honest refusals."""

from __future__ import annotations

from dataclasses import field, replace
from functools import cache, partial
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.circuit.latches import latches
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.ballasts import moved
from coldcheck.solve.cycle.assembly import Assembly, Parts
from coldcheck.solve.cycle.combine import agree, bracketed, judged
from coldcheck.solve.cycle.defined import (
    floating_grids,
    lawless,
    no_law,
    trial_perveances,
    undefined_nets,
    unknown_values,
)
from coldcheck.solve.cycle.network import SOURCE_AMPS_MAX, Unsolvable
from coldcheck.solve.cycle.readings import branch_currents, net_volts, net_waves, tube_readings
from coldcheck.solve.cycle.settling import in_doubt, starved, striking, unheated
from coldcheck.solve.cycle.spread import spread_of
from coldcheck.solve.cycle.starts import NotConverged
from coldcheck.solve.relays import moving
from coldcheck.solve.setting import Setting, Trial
from coldcheck.solve.solution import WARM, Lost, NoNumber, Solution, State, Unsolved, no_spread
from coldcheck.solve.states import states_of
from coldcheck.solve.work import TooMuchWork

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.solve.cycle.spread import Spread
    from coldcheck.solve.cycle.starts import LabelledStart, Steady
    from coldcheck.solve.cycle.steady import Cycle
    from coldcheck.solve.solution import Wave

INSTANTS = 128
"""Instants of a mains cycle; 256 change the DC of the samples by less than 0.1 %."""

ROUGH_INSTANTS = 32
SPREAD_UP_TO = 300
TRIALS: tuple[Mapping[str, tuple[float, ...]], ...] = (
    {"ohm": (1e2, 3e4), "farad": (1e-9, 1e-4), "henry": (0.1, 20.0), "volt": (10.0, 200.0)},
    {"ohm": (1e6, 1e3), "farad": (1e-5, 1e-8), "henry": (10.0, 1.0), "volt": (300.0, 50.0)},
    {"ohm": (3e4, 1e6), "farad": (1e-7, 1e-6), "henry": (1.0, 5.0), "volt": (100.0, 20.0)},
)
"""Trial values for what the drawing leaves open, far apart on purpose."""

PERVEANCES = ((0, 1), (2, 0), (1, 2))
"""What tubes without a law take in those trials, in turn: an end or the middle of their range."""

BRACKETS = ((1, 1), (0, 0), (2, 2), (2, 0))
"""The same where nothing else is open: the middle, then the ends."""

TIPPING_VOLTS = -1000.0
"""Behind a megohm (``HELD_GRID_S``), at one grid of a bistable pair."""

HELD_VOLTS = (0.0, -60.0, -5.0)
EASES = (1e-3, 1e-2, 0.1)
GATE_VOLTS = (0.0, -60.0, 60.0)

MOST_LOST = 2
"""States that may be lost after everything was tried; the others of that drawing go cheap ways."""


@dataclass(slots=True)
class Solver:
    """Solves states of one circuit; keeps the factors and the starts that states share."""

    circuit: Circuit
    instants: int = INSTANTS
    patient: bool = True
    """Whether to go on to the last resorts; what does not arrive without them is not solved."""

    first: LabelledStart | None = None
    _tried_with: dict[Trial, LabelledStart] = field(default_factory=dict)
    """The same for each way of assuming what is open: it is a start for itself alone."""

    _hard: bool = False
    _lost: int = 0
    """States that did not arrive by the last resorts either, which take a minute each."""

    _assembly: Assembly = field(init=False)
    _rough_assembly: Assembly = field(init=False)

    def __post_init__(self) -> None:
        parts = Parts(self.circuit)
        self._assembly = Assembly(parts, self.instants)
        self._rough_assembly = Assembly(parts, ROUGH_INSTANTS)

    def solve(self, state: State) -> Solution:
        """One state, with what cannot be known left out, and every relay as its coil has it."""
        following = {
            **self.circuit.relays,
            **self.circuit.couplers,
            **self.circuit.thyristors,
        }
        held = state.thrown & following.keys()
        solution = self._as_thrown(state)
        for _ in range(2 * len(following) + 1):
            moved = moving(self.circuit, solution, held)
            if not moved:
                return solution
            solution = self._as_thrown(
                replace(solution.state, thrown=solution.state.thrown ^ moved)
            )
        names = ", ".join(sorted(moving(self.circuit, solution, held)))
        reason = f"{names} goes to and fro by turns, as a buzzer does" if names else ""
        return self._unsolved(state, reason, Unsolved.CONTRADICTION) if names else solution

    def _as_thrown(self, state: State) -> Solution:
        """One state with its switches and relays as they are said to be."""
        missing = dict(undefined_nets(self.circuit, state))
        grids = floating_grids(self.circuit, state, missing)
        open_values = unknown_values(self.circuit)
        open_tubes = lawless(self.circuit, state)
        try:
            if not grids and not open_values:
                if open_tubes:
                    return self._around(open_tubes, state, missing)
                return self._closed(state, missing)
            trials = [self._trial(state, k, grids) for k in range(len(TRIALS))]
            solved = [self._finish(*t, state, missing) for t in trials]
        except np.linalg.LinAlgError:
            reason = "the equations have no single answer: a loop of sources, or a short"
            return self._unsolved(state, reason, Unsolved.CONTRADICTION)
        except TooMuchWork as problem:
            lost = self._unsolved(state, str(problem), Unsolved.NOT_ARRIVED)
            return replace(lost, too_large=problem)
        except Unsolvable as problem:
            return self._unsolved(state, str(problem), problem.kind)
        except NotConverged as problem:
            return self._unsolved(state, str(problem), Unsolved.NOT_ARRIVED)
        cause = _cause(open_values, grids, open_tubes)
        wound = {b.name for w in self.circuit.windings() for b in w.branches}
        if {b.name for b in open_values} <= wound and not grids:
            *ends, middle = solved  # the load of such a winding moves its mains by a little
            return bracketed(ends, middle, cause)
        return agree(solved, cause)

    def _unsolved(self, state: State, reason: str, kind: Unsolved) -> Solution:
        return Solution(state, False, float("nan"), 0, reason, self.circuit, unsolved=kind)

    def _closed(self, state: State, missing: Mapping[str, NoNumber]) -> Solution:
        """All is written; neons that may strike or not are solved both ways. Raises as it does."""
        cycle, answer = self._settled(Setting(state))
        solution = self._finish(cycle, answer, state, missing)
        doubtful = in_doubt(self.circuit, cycle, answer)
        if not doubtful:
            return solution
        lit = self._finish(*self._settled(Setting(state, early=True)), state, missing)
        cause = "depends on " + ", ".join(f"whether {name} strikes" for name in doubtful)
        return bracketed((lit, solution), solution, NoNumber(Lost.OPEN, cause))

    def _around(
        self, tubes: tuple[Section, ...], state: State, missing: Mapping[str, NoNumber]
    ) -> Solution:
        """Tubes without a law tried from no current to a lot. Raises as solving does."""
        middle, *ends = (
            self._finish(
                *self._settled(Setting(state, assumed=_assumed(self.circuit, tubes, each))),
                state,
                missing,
            )
            for each in BRACKETS
        )
        return bracketed(ends, middle, _cause((), (), tubes))

    def _trial(self, state: State, k: int, grids: tuple[str, ...]) -> tuple[Cycle, Steady]:
        values, coils = TRIALS[k], {b.name for c in self.circuit.coils() for _, b in c.parts}
        assumed = {
            b.name: values["henry" if b.name in coils else b.traits.unit or "ohm"][j % 2]
            for j, b in enumerate(unknown_values(self.circuit))
        }
        assumed |= _assumed(self.circuit, lawless(self.circuit, state), PERVEANCES[k])
        mosfets = (q for q in self.circuit.transistors.values() if q.type.family.insulated)
        gates = {q.nets["gate"] for q in mosfets}
        held = {g: (GATE_VOLTS if g in gates else HELD_VOLTS)[k] for g in grids}
        return self._settled(Setting(state, assumed=assumed, held=held))

    def _tipped(self, setting: Setting) -> None:
        """Begin where each bistable pair stands in one of its states, not in the balance between.

        One grid of each is pulled far down, and that answer is the start of all others.
        """
        grids = {one.electrodes["grid"]: TIPPING_VOLTS for one, _ in latches(self.circuit)}
        if not grids or self.first is not None or setting.trial:
            return
        tipped = replace(setting, held=grids)
        cycle = self._assembly.cycle(tipped)
        answer = self._by_means(cycle, tipped)  # a start is not worth the last resorts
        self.first = None if answer is None else cycle.label(answer)

    def _settled(self, setting: Setting) -> tuple[Cycle, Steady]:
        """Solve with gas tubes dark; light those that strike, cool those without heater volts."""
        self._tipped(setting)
        while True:
            cycle, answer = self.at(setting)
            following = self.following(setting, cycle, answer)
            if following == setting:
                self._keep(setting, cycle, answer)
                return cycle, answer
            setting = following

    def _keep(self, setting: Setting, cycle: Cycle, answer: Steady) -> None:
        """The first answer of its kind is where later ones begin."""
        if setting.trial:
            self._tried_with.setdefault(setting.of_trial, cycle.label(answer))
        elif self.first is None:
            self.first = cycle.label(answer)

    def at(self, setting: Setting) -> tuple[Cycle, Steady]:
        """The answer in a setting, whatever follows from it. Raises as solving does."""
        cycle = self._assembly.cycle(setting)
        return cycle, self._answer(cycle, setting)

    def _answer(self, cycle: Cycle, setting: Setting) -> Steady:
        """Try one way after the other, cheap ones first. Raises NotConverged if none arrives."""
        first = self._tried_with.get(setting.of_trial) if setting.trial else self.first
        known = None if first is None else cycle.adapt(first)
        if not self._hard:
            answer = None if known is None else _tried(lambda: cycle.solve(known))
            if answer is None:
                answer = self._by_means(cycle, setting)
            if answer is not None:
                return answer
        if not self.patient:
            raise NotConverged("not tried beyond mean values and corrections")
        if self._lost == MOST_LOST:
            raise NotConverged(f"not tried to the end: {MOST_LOST} states before did not arrive")
        try:
            answer = self._together(cycle, setting, first)
        except (NotConverged, Unsolvable, np.linalg.LinAlgError):
            self._lost += 1
            raise
        self._hard = True
        return answer

    def _by_means(self, cycle: Cycle, setting: Setting) -> Steady | None:
        """Mean values and corrections, from a rough answer on fewer instants."""
        if self.instants == ROUGH_INSTANTS:
            return _tried(cycle.solve)
        rough_cycle = self._rough_assembly.cycle(setting)
        rough = _tried(rough_cycle.solve)
        if rough is None and self.circuit.transistors:
            rough = self._eased(rough_cycle, setting)
        if rough is None:
            return None
        start = cycle.adapt(rough_cycle.label(rough))
        return _tried(lambda: cycle.solve(start))

    def _eased(self, rough_cycle: Cycle, setting: Setting) -> Steady | None:
        """A rough answer by way of transistors that are less steep."""
        known: LabelledStart | None = None
        for share in EASES:
            cycle = self._rough_assembly.cycle(replace(setting, ease=share))
            start = None if known is None else cycle.adapt(known)
            answer = _tried(partial(cycle.solve, start))
            known = known if answer is None else cycle.label(answer)
        if known is None:
            return None
        start = rough_cycle.adapt(known)
        return _tried(lambda: rough_cycle.solve(start))

    def _together(self, cycle: Cycle, setting: Setting, first: LabelledStart | None) -> Steady:
        """All instants together, from what is known or from nothing; else cycle after cycle."""
        from coldcheck.solve.cycle.allinstants import AllInstants
        from coldcheck.solve.cycle.shooting import by_shooting

        full = AllInstants(cycle)
        if first is not None:
            known = cycle.adapt(first)
            answer = _tried(lambda: full.solve(known, first.unknowns))
            if answer is not None:
                return answer
        rough_cycle = self._rough_assembly.cycle(setting)
        rough = _tried(AllInstants(rough_cycle).solve)
        if rough is None:
            rough = _tried(
                lambda: by_shooting(rough_cycle, None if first is None else first.unknowns)
            )
        if rough is None:
            return by_shooting(cycle)
        start, unknowns = cycle.adapt(rough_cycle.label(rough)), rough.unknowns
        return _tried(lambda: full.solve(start, unknowns)) or by_shooting(cycle, unknowns)

    def following(self, setting: Setting, cycle: Cycle, answer: Steady) -> Setting:
        """What the answer changes about gas tubes (one strike at a time), cathodes, barretters."""
        cold = unheated(self.circuit, cycle, answer, setting)
        if not cold <= setting.unheated:
            return replace(setting, unheated=setting.unheated | cold)
        out = starved(cycle, answer, setting)
        if out:
            return replace(setting, lit=setting.lit - out, dark=setting.dark | out)
        strikes = striking(self.circuit, cycle, answer, setting)
        if strikes:
            return replace(setting, lit=setting.lit | {max(strikes, key=strikes.__getitem__)})
        return replace(setting, ballasts=moved(self.circuit, cycle, answer, setting))

    def _finish(
        self, cycle: Cycle, answer: Steady, state: State, missing: Mapping[str, NoNumber]
    ) -> Solution:
        volts = net_volts(cycle.network, answer)
        currents = branch_currents(self.circuit, cycle, answer, volts)
        plausible(self.circuit, currents)
        readings = tube_readings(self.circuit, cycle, answer, volts, state.pulled)
        return Solution(
            state,
            True,
            answer.residual,
            answer.steps,
            "",
            self.circuit,
            {n: w for n, w in net_waves(volts).items() if n not in missing},
            currents,
            judged(self.circuit, readings, missing),
            dict(missing),
            spread=self._spread_later(cycle, answer),
        )

    def _spread_later(self, cycle: Cycle, answer: Steady) -> Callable[[], Spread | None]:
        """Works the spread out when asked; large circuits go without, and keep no Jacobian."""
        if cycle.network.size > SPREAD_UP_TO:
            return no_spread
        return cache(partial(_spread, self.circuit, cycle, answer))


def _spread(circuit: Circuit, cycle: Cycle, answer: Steady) -> Spread | None:
    """The spread of an answer; ``None`` where the Jacobian has no inverse, or is too large."""
    try:
        return spread_of(circuit, cycle, answer)
    except (np.linalg.LinAlgError, TooMuchWork):
        return None


def solve_states(circuit: Circuit, instants: int = INSTANTS) -> dict[str, Solution]:
    """Solve every state of a circuit. Never raises for content: a state may be "not solved".

    Returns state name -> :class:`Solution`, ``warm`` first.
    """
    solver = Solver(circuit, instants)
    return {state.name: solver.solve(state) for state in states_of(circuit)}


@dataclass(frozen=True, slots=True)
class Beside:
    """What makes solving a circuit that differs in one thing cheap: where to begin."""

    instants: int
    first: LabelledStart | None = None

    @staticmethod
    def of(circuit: Circuit, instants: int) -> Beside:
        """From the warm state of a circuit; from nothing where that is not to be had cheaply."""
        solver = Solver(circuit, instants, patient=False)
        solver.solve(State(WARM, WARM))
        return Beside(instants, solver.first)

    def solver(self, circuit: Circuit, *, patient: bool = False) -> Solver:
        """A solver that goes the cheap ways alone, or after them the others."""
        return Solver(circuit, self.instants, patient=patient, first=self.first)


def solve_state(circuit: Circuit, name: str = WARM, instants: int = INSTANTS) -> Solution:
    """Solve one state by name; raises KeyError for a state the circuit does not have."""
    states = {s.name: s for s in states_of(circuit)}
    return Solver(circuit, instants).solve(states[name])


def _assumed(
    circuit: Circuit, tubes: tuple[Section, ...], which: tuple[int, int]
) -> dict[str, float]:
    """Trial perveances of tubes without a law, the two choices in turn."""
    return {s.name: trial_perveances(circuit, s)[which[j % 2]] for j, s in enumerate(tubes)}


def _tried(solve: Callable[[], Steady]) -> Steady | None:
    """The answer, or ``None`` where this way does not arrive."""
    try:
        return solve()
    except (NotConverged, np.linalg.LinAlgError):
        return None


def plausible(circuit: Circuit, currents: Mapping[str, Wave]) -> None:
    """Refuse an answer in which a bench source is short-circuited. Raises Unsolvable."""
    for branch in circuit.branches.values():
        if branch.kind is PartKind.SOURCE and currents[branch.name].peak > SOURCE_AMPS_MAX:
            amps = currents[branch.name].peak
            raise Unsolvable(
                f"{branch.name} would deliver {amps:.0f} A: it is shorted, "
                "or fights another source",
                Unsolved.CONTRADICTION,
            )


def _cause(
    values: tuple[Branch, ...], grids: tuple[str, ...], tubes: tuple[Section, ...]
) -> NoNumber:
    wound = PartKind.WINDING
    names = [f"the {'size' if b.kind is wound else 'value'} of {b.owner}" for b in values]
    names += [f"the floating grid at {g}" for g in grids]
    names += [no_law(s) for s in tubes]
    return NoNumber(Lost.OPEN, "depends on " + ", ".join(dict.fromkeys(names)))
