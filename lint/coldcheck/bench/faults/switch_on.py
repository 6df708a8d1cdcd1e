"""Faults at switch-on, before any tube draws: what capacitors then stand without a load.

A bleeder that is open, a choke that is shorted: warm the tubes hold the supply down, and at every
switch-on it stands at its peak.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.anatomy.case import Case
from coldcheck.judge.finding import Finding
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import altered
from coldcheck.solve.states import states_of
from coldcheck.solve.warmup import UNLOADED
from coldcheck.verdict.registry import rule_by_id
from coldcheck.verdict.running import merge, run_rules

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.faults.fault import Fault
    from coldcheck.solve.faults.solver import FaultSolver
    from coldcheck.solve.solution import Solution

RULE = "capacitor.over-voltage"

FED_V = 20.0
"""Volts of a net from which a part on it can move a supply."""


def at_switch_on(
    circuit: Circuit, solver: FaultSolver, wanted: Sequence[Fault]
) -> Mapping[Fault, tuple[Finding, ...]]:
    """Fault -> capacitors beyond their volts before the tubes draw, and not beyond without it."""
    good = _highest(circuit, solver)
    if good is None:
        return {}
    name, known = good.state.name, {x.at for x in _over(circuit, good, good.state.name)}
    asked = [x for x in wanted if _moves(circuit, x, good)]
    found: dict[Fault, tuple[Finding, ...]] = {}
    for fault, solution in zip(asked, solver.solve_all(asked, name), strict=True):
        faulty = circuit if fault.kind == f.OPEN else altered(circuit, (fault,))
        new = [x for x in _over(faulty, solution, name) if x.at not in known]
        state = f"{name}, {solution.state.name}"
        found[fault] = tuple(replace(x, state=state) for x in new if x.at[:1] != (fault.part,))
    return found


def _highest(circuit: Circuit, solver: FaultSolver) -> Solution | None:
    """The state before the tubes draw in which the supply is highest."""
    names = [s.name for s in states_of(circuit) if s.name in UNLOADED]
    solved = [x for x in map(solver.good, names) if x.converged]
    return max(solved, key=_peak, default=None)


def _peak(solution: Solution) -> float:
    return max((wave.peak for wave in solution.waves.values()), default=0.0)


def _moves(circuit: Circuit, fault: Fault, good: Solution) -> bool:
    """Whether a fault can move a supply that nothing loads yet: a part open or shorted on it."""
    branch = circuit.branches.get(fault.part)
    if branch is None or fault.kind not in (f.OPEN, f.SHORT):
        return False
    waves = (good.waves.get(net) for net in (branch.a, branch.b))
    return any(wave is not None and abs(wave.dc) > FED_V for wave in waves)


def _over(circuit: Circuit, solution: Solution, name: str) -> list[Finding]:
    """What the rule says of this state alone; advice is left out."""
    if not solution.converged:
        return []
    state = replace(solution, state=replace(solution.state, name=name), circuit=circuit)
    outcomes = run_rules(Case(circuit, {name: state}), (rule_by_id(RULE),))
    return merge([x for x in outcomes if isinstance(x, Finding) and x.level != "advice"])
