"""What the answer to a fault says: the solution that the rest of the program reads."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import PartKind
from coldcheck.solve.cycle.combine import judged
from coldcheck.solve.cycle.readings import branch_currents, net_volts, net_waves, tube_readings
from coldcheck.solve.faults.equations import FaultView
from coldcheck.solve.solution import Solution, State, Wave

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.cycle.readings import NetVolts
    from coldcheck.solve.cycle.starts import Steady
    from coldcheck.solve.cycle.steady import Cycle
    from coldcheck.solve.solution import NoNumber


def solution_of(
    circuit: Circuit, cycle: Cycle, answer: Steady, state: State, missing: Mapping[str, NoNumber]
) -> Solution:
    """What the answer says; ``circuit`` is the one the equations were written for."""
    volts = net_volts(cycle.network, answer)
    currents = branch_currents(circuit, cycle, answer, volts)
    if isinstance(cycle, FaultView):
        _bypassed(circuit, cycle, volts, currents)
    readings = tube_readings(circuit, cycle, answer, volts, state.pulled)
    return Solution(
        state, True, answer.residual, answer.steps, "", circuit,
        {n: w for n, w in net_waves(volts).items() if n not in missing},
        currents, judged(circuit, readings, missing), dict(missing),
    )  # fmt: skip


def _bypassed(
    circuit: Circuit, cycle: FaultView, volts: NetVolts, currents: dict[str, Wave]
) -> None:
    """The current of what lies across a part counts as the part's; a winding keeps its own."""
    for name, siemens in cycle.change.shorted.items():
        branch = circuit.branches[name]
        if branch.kind is PartKind.WINDING:
            continue
        across = volts.at([branch.a])[0] - volts.at([branch.b])[0]
        own = currents.get(name, Wave(0 * across))
        currents[name] = Wave(own.samples + siemens * across)
