"""Any single fault of a circuit, solved from the good circuit's factors and answer.

A small circuit's faults go through `equations`. Where that does not arrive,
where a gas tube lights or goes out (one that burns goes on burning where it can), and for circuits
of more than ``DENSE_UP_TO`` unknowns, the faulty circuit is put together and solved by the ordinary
route.
"""

from __future__ import annotations

from dataclasses import field, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.records import dataclass
from coldcheck.solve.cycle.defined import lawless, undefined_nets, unknown_values
from coldcheck.solve.cycle.network import Unsolvable
from coldcheck.solve.cycle.settling import starved, striking
from coldcheck.solve.cycle.starts import NotConverged
from coldcheck.solve.cycle.triplets import DENSE_UP_TO
from coldcheck.solve.engine import Solver
from coldcheck.solve.faults.anew import anew, settle
from coldcheck.solve.faults.batch import PASSES, FaultBatch
from coldcheck.solve.faults.change import Changes
from coldcheck.solve.faults.equations import Base, FaultCycle, FaultView
from coldcheck.solve.faults.fault import OPEN, PULLED, THROWN, WIPER, Fault, altered, state_with
from coldcheck.solve.faults.heating import Heating
from coldcheck.solve.faults.readings import solution_of
from coldcheck.solve.faults.stack import Loaded
from coldcheck.solve.relays import moving
from coldcheck.solve.setting import Setting
from coldcheck.solve.solution import WARM, Solution, State
from coldcheck.solve.states import states_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from typing import TypeAlias

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.cycle.starts import LabelledStart, Start, Steady
    from coldcheck.solve.cycle.steady import Cycle
    from coldcheck.solve.faults.change import Change
    from coldcheck.solve.solution import NoNumber

    _Outcome: TypeAlias = tuple[FaultView | None, Steady | None, bool]
    _Found: TypeAlias = tuple[Circuit, Cycle, Steady, Mapping[str, NoNumber]]

FAULT_INSTANTS = 48
"""Instants of a cycle for faults: on the samples the DC is within 0.1 % of that of 256, and
64 are a fifth dearer."""

AT_ONCE = 4e6
"""Complex numbers that the AC side of the faults worked out together may take (64 MB an array)."""

ELECTRODES = 24
"""Electrodes whose slopes a fault changes, for that: more than most faults have."""

TOGETHER_UP_TO = 200
"""Unknowns up to which faults are worked out together, in dense algebra."""

HEATING_TURNS = 3
LOOSENS = (OPEN, PULLED, THROWN, WIPER)
"""Kinds of faults that can leave a net without anything that holds it."""

_WARM = State(WARM, WARM)


@dataclass(slots=True)
class _Good:
    """The good circuit in one state: its equations, its answer, what its faults share."""

    setting: Setting
    cycle: Cycle
    answer: Steady
    start: LabelledStart
    base: Base | None
    small: bool
    missing: Mapping[str, NoNumber]
    heating: Heating
    gas: bool
    loaded: Loaded | None = None


@dataclass(slots=True)
class _Job:
    """A fault to be solved: the state and the circuit with it, what it changes, what has no number.

    ``cold`` are the tubes whose heaters get too little, ``start`` is where to begin.
    """

    wanted: State
    faulty: Circuit
    change: Change
    missing: Mapping[str, NoNumber]
    cold: frozenset[str]
    start: Start


@dataclass(slots=True)
class FaultSolver:
    """Solves faults of one circuit; the good circuit is solved once a state.

    ``counts`` says how the faults were solved: ``low rank`` or ``anew``.
    """

    circuit: Circuit
    instants: int = FAULT_INSTANTS
    counts: dict[str, int] = field(default_factory=lambda: {"low rank": 0, "anew": 0})
    _good: dict[str, _Good] = field(default_factory=dict)
    _states: dict[str, State] = field(default_factory=dict)

    def solve(self, faults: Fault | Sequence[Fault], state: str = WARM) -> Solution:
        """The circuit with a fault (or several), in a state of the good circuit.

        Raises NoSuchPart for a fault the circuit cannot have, KeyError for an unknown state. What
        cannot be solved is a solution without numbers that says why. A grid that the fault leaves
        hanging is taken at its cathode, and has no number itself.
        """
        several = (faults,) if isinstance(faults, Fault) else tuple(faults)
        wanted = state_with(self._state(state), several)
        found = self._told(wanted, lambda: self._solved(several, state, wanted))
        return self._followed(several, found, state)

    def _followed(self, faults: Sequence[Fault], found: Solution, state: str) -> Solution:
        """The same with the relays thrown that the faults make pull in or drop out."""
        opened = {x.part for x in faults if x.kind == OPEN}
        held = {x.part for x in faults if x.kind == THROWN}
        follows = self.circuit.relays or self.circuit.couplers
        moved = moving(self.circuit, found, held, opened) if follows else ()
        if not moved:
            return found
        again = self.solve((*faults, *(Fault(THROWN, name) for name in sorted(moved))), state)
        return replace(again, state=replace(again.state, name=found.state.name))

    def solve_all(self, faults: Sequence[Fault], state: str = WARM) -> Iterator[Solution]:
        """What :meth:`solve` says of each fault, many worked out together. Raises the same."""
        try:
            good = self._known(state)
        except (np.linalg.LinAlgError, Unsolvable, NotConverged):
            good = None
        if good is None or good.base is None:
            yield from (self.solve(x, state) for x in faults)
            return
        some = at_once(good.base)
        for first in range(0, len(faults), some):
            yield from self._several(good, faults[first : first + some], state)

    def _several(self, good: _Good, faults: Sequence[Fault], state: str) -> Iterator[Solution]:
        jobs = [self._job(good, (x,), state_with(self._state(state), (x,))) for x in faults]
        outcomes = zip(faults, jobs, self._together(good, jobs), strict=True)
        for fault, job, (cycle, answer, hard) in outcomes:
            if cycle is not None and answer is not None:
                self.counts["low rank"] += 1
                found = self._solution(job.wanted, job.faulty, cycle, answer, job.missing)
            else:
                found = self._told(job.wanted, partial(self._alone, good, job, hard))
            yield self._followed((fault,), found, state)

    def _told(self, wanted: State, solve: Callable[[], _Found]) -> Solution:
        """What solving says, in numbers or in words."""
        try:
            return self._solution(wanted, *solve())
        except np.linalg.LinAlgError:
            reason = "the equations have no single answer: a loop of sources, or a short"
            return self._unsolved(wanted, reason)
        except (Unsolvable, NotConverged) as problem:
            return self._unsolved(wanted, str(problem))

    def _solution(
        self,
        wanted: State,
        faulty: Circuit,
        cycle: Cycle,
        answer: Steady,
        missing: Mapping[str, NoNumber],
    ) -> Solution:
        seen = self.circuit if isinstance(cycle, FaultView) else faulty
        return replace(solution_of(seen, cycle, answer, wanted, missing), circuit=self.circuit)

    def means(self, faults: Fault | Sequence[Fault], state: str = WARM) -> dict[str, float]:
        """Net -> DC volts with the fault; nets without a number are missing.

        Raises NotConverged, Unsolvable or LinAlgError where there is no answer, NoSuchPart and
        KeyError as :meth:`solve` does.
        """
        several = (faults,) if isinstance(faults, Fault) else tuple(faults)
        wanted = state_with(self._state(state), several)
        _, cycle, answer, missing = self._solved(several, state, wanted)
        volts = answer.start.mean
        return {n: float(volts[k]) for n, k in cycle.network.nets.items() if n not in missing}

    def good(self, state: str = WARM) -> Solution:
        """The good circuit in a state, on the same number of instants."""
        try:
            good = self._known(state)
        except np.linalg.LinAlgError:
            return self._unsolved(self._state(state), "the equations have no single answer")
        except (Unsolvable, NotConverged) as problem:
            return self._unsolved(self._state(state), str(problem))
        state_ = good.setting.state
        return solution_of(self.circuit, good.cycle, good.answer, state_, good.missing)

    def _state(self, name: str) -> State:
        """A state of the good circuit, its relays as their coils have them."""
        if name not in self._states:
            state = _WARM if name == WARM else {s.name: s for s in states_of(self.circuit)}[name]
            if self.circuit.relays or self.circuit.couplers:
                state = Solver(self.circuit, self.instants).solve(state).state
            self._states[name] = state
        return self._states[name]

    def _unsolved(self, state: State, reason: str) -> Solution:
        return Solution(state, False, float("nan"), 0, reason, self.circuit)

    def _known(self, state: str) -> _Good:
        """The good circuit, solved when first asked for. Raises as solving does."""
        if state not in self._good:
            if unknown_values(self.circuit):
                raise Unsolvable("faults can only be worked out where every value is written")
            if lawless(self.circuit, self._state(state)):
                raise Unsolvable("faults can only be worked out where every tube has a law on file")
            solver = Solver(self.circuit, self.instants)
            setting, cycle, answer = settle(solver, Setting(self._state(state)))
            size = cycle.network.size
            small = size <= DENSE_UP_TO
            base = Base.of(cycle, answer, alone=small) if size <= TOGETHER_UP_TO else None
            missing = undefined_nets(self.circuit, setting.state)
            start = cycle.label(answer)
            heating = Heating.of(self.circuit, cycle, setting.state)
            gas = any(s.kind is SectionKind.REGULATOR for s in self.circuit.sections())
            gas = gas or any(b.glows for b in self.circuit.branches.values())
            self._good[state] = _Good(
                setting, cycle, answer, start, base, small, missing, heating, gas
            )
        return self._good[state]

    def _solved(self, faults: Sequence[Fault], state: str, wanted: State) -> _Found:
        good = self._known(state)
        return self._alone(good, self._job(good, faults, wanted), hard=False)

    def _job(self, good: _Good, faults: Sequence[Fault], wanted: State) -> _Job:
        """What there is to be solved. Raises NoSuchPart."""
        changes = Changes(self.circuit, good.cycle.network, good.setting.state)
        change = changes.of(faults)
        faulty = altered(self.circuit, faults, graph=False)
        missing = good.missing
        if missing or any(f.kind in LOOSENS for f in faults):
            missing = changes.hold(change, faulty, wanted)
        return _Job(wanted, faulty, change, missing, good.setting.unheated, good.answer.start)

    def _alone(self, good: _Good, job: _Job, hard: bool) -> _Found:
        """One fault; by the ordinary route where it is ``hard``. Raises as solving does."""
        found = None
        if good.base is not None and good.small and not hard:
            try:
                found = self._low_rank(good, good.base, job)
            except (NotConverged, np.linalg.LinAlgError):
                found = None
        self.counts["anew" if found is None else "low rank"] += 1
        cycle, answer = found or self._anew(good, job, hard=hard or good.small)
        return job.faulty, cycle, answer, job.missing

    def _together(self, good: _Good, jobs: Sequence[_Job]) -> list[_Outcome]:
        """All faults at once; without an answer, whether going one by one could not help either."""
        if good.base is None:
            return [(None, None, True) for _ in jobs]
        if good.loaded is None:
            good.loaded = Loaded.of(good.base)
        found: list[_Outcome] = [(None, None, False)] * len(jobs)
        places = list(range(len(jobs)))
        for _ in range(HEATING_TURNS):
            some = [jobs[k] for k in places]
            batch = FaultBatch(
                good.base, good.loaded, [j.change for j in some], [j.cold for j in some],
                [j.start for j in some],
            )  # fmt: skip
            again = []
            for k, answer, status in zip(places, batch.solve(), batch.status, strict=True):
                job, found[k] = jobs[k], (None, None, status == PASSES)
                if answer is None:
                    continue
                view = FaultView(good.base, job.change)
                new = good.heating.cold(answer.unknowns) - job.cold - set(job.change.emission)
                if new:
                    job.cold, job.start = job.cold | new, answer.start
                    again.append(k)
                lost = self._gas_moves(good, view, answer, job)
                found[k] = (None, None, True) if lost else (view, answer, False)
            places = again
            if not places:
                break
        return found

    def _gas_moves(self, good: _Good, cycle: Cycle, answer: Steady, job: _Job) -> bool:
        """Whether a gas tube lights or goes out with the fault."""
        setting = replace(good.setting, state=job.wanted, unheated=job.cold)
        return good.gas and bool(
            starved(cycle, answer, setting) or striking(self.circuit, cycle, answer, setting)
        )

    def _low_rank(self, good: _Good, base: Base, job: _Job) -> tuple[Cycle, Steady] | None:
        """By low rank from the good answer; ``None`` where a gas tube lights or goes out."""
        cold, start = good.setting.unheated, good.answer.start
        for _ in range(HEATING_TURNS):
            cycle = FaultCycle(base, job.change, cold)
            answer = cycle.solve(start)
            new = good.heating.cold(answer.unknowns) - cold - set(job.change.emission)
            if not new:
                break
            cold, start = cold | new, answer.start
        job.cold = cold
        return None if self._gas_moves(good, cycle, answer, job) else (cycle, answer)

    def _anew(self, good: _Good, job: _Job, *, hard: bool) -> tuple[Cycle, Steady]:
        return anew(job.faulty, job.change, job.wanted, good.start, self.instants, hard=hard)


def at_once(base: Base) -> int:
    """How many changes of a circuit are worked out in one piece, for the memory they take."""
    each = len(base.symbol) * base.looking.shape[1] * ELECTRODES + base.cycle.network.size**2
    return max(int(AT_ONCE / max(each, 1)), 1)
