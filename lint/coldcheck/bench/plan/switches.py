"""The other switch positions: which rails move, and which stay alive."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.bench.faults.judging import Judge
from coldcheck.bench.plan.model import Check, Step
from coldcheck.bench.plan.power import Rung, Stage
from coldcheck.bench.plan.rails import overstressed, rail_checks, rails
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.throws import thrown_text
from coldcheck.solve.faults.fault import THROWN, Fault
from coldcheck.solve.off.discharge import TOUCH_V
from coldcheck.solve.solution import STANDBY, WARM

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.solution import Solution

CHANGES = 0.05
"""Share of a rail's voltage below which a switch leaves it as it is."""

GONE_V = 5.0
"""Up to here a rail that was switched off counts as gone."""


def switch_steps(circuit: Circuit, mains: float, known: Mapping[str, Solution]) -> Iterator[Step]:
    """One step for all switches that can be thrown with power on; none where there are none."""
    thrown = [s for s in known.values() if s.state.name.startswith(STANDBY)]
    if not thrown:
        return
    off = "Switch off and pull the plug" if circuit.mains is not None else "Switch the supplies off"
    do = [
        f"{off}, wait and measure as in the last step of this plan, move one switch, power up "
        "again and read; then put it back the same way. A switch that is said to be left alone "
        "stays as it is."
    ]
    judge = Judge.of(circuit, known[WARM])
    checks: list[Check] = []
    missing = []
    for solution in thrown:
        name = solution.state.name.removeprefix(f"{STANDBY} ")
        told = thrown_text((name,))
        if not solution.converged:
            missing.append(f"{told}: not worked out: {solution.reason}. Leave it alone.")
            continue
        moved = list(_moved(circuit, mains, known[WARM], solution))
        checks += [_in_position(c, name) for c in moved]
        do += _said(circuit, name, solution, bool(moved))
        do += _beyond(judge, name, solution)
    yield Step("switches", "Power on: the other switch positions", True, (), tuple(do),
               tuple(checks), tuple(missing))  # fmt: skip


def _in_position(check: Check, name: str) -> Check:
    note = "; ".join(t for t in (thrown_text((name,)), check.note) if t)
    return replace(check, note=note, position=name)


def _said(circuit: Circuit, name: str, solution: Solution, moved: bool) -> Iterator[str]:
    told = thrown_text((name,))
    if not moved:
        yield f"{told}: no rail changes."
        return
    alive = [p for p, n in rails(circuit, solution).items() if abs(solution.waves[n].dc) > TOUCH_V]
    if alive:
        yield f"{told}: these stay above {TOUCH_V:.0f} V: {', '.join(alive)}."
    for part, peak, rating in overstressed(circuit, solution):
        yield f"{told}: {part} gets {peak:.0f} V, rated {rating:.0f} V: leave it alone."


def _beyond(judge: Judge, name: str, solution: Solution) -> Iterator[str]:
    """What is over its limit in that position and not with all as drawn."""
    told = thrown_text((name,))
    found, broken = judge.findings(Fault(THROWN, name), solution, None)
    for finding in found:
        yield f"{told}: {finding.message.rstrip('.')}: leave it alone."
    if broken:
        yield f"{told}: {', '.join(broken)} could not be judged: leave it alone."


def _moved(circuit: Circuit, mains: float, warm: Solution, solution: Solution) -> Iterator[Check]:
    rung = Rung(Stage("switch", "", (), frozenset()), 1.0, mains, solution, solution, True)
    for name, net in (rails(circuit, warm) | rails(circuit, solution)).items():
        before, after = warm.waves.get(net), solution.waves.get(net)
        if before is None or after is None or abs(after.dc - before.dc) <= CHANGES * abs(before.dc):
            continue
        found = rail_checks(circuit, rung, {name: net})
        check = next((c for c in found if (c.point, c.other) == (name, GROUND)), None)
        if check is not None:
            yield _gone(check) if abs(after.dc) < GONE_V else check


def _gone(check: Check) -> Check:
    return replace(
        check, expected=0.0, low=-GONE_V, high=GONE_V, stop_below=-GONE_V, stop_above=GONE_V,
        why="the switch does not open, or something else feeds this rail",
        note="once its capacitors have drained",
    )  # fmt: skip
