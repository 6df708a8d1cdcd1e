"""The circuit with a scope's ground clip on a point, or two points bridged, solved as a fault is.

A clip does more than pass a current. On a bias line it takes the bias from the tubes, on a screen
or a rail it stops what hangs on it; what then exceeds its limits is for the rules to say.
"""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.bench.faults.judging import Judge
from coldcheck.circuit.model import GROUND
from coldcheck.records import dataclass
from coldcheck.solve.faults.fault import BRIDGE, SHORT_OHM, Fault
from coldcheck.solve.faults.solver import FaultSolver

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.faults.fuses import Blown
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding
    from coldcheck.solve.solution import Solution

LEAST_BIAS_V = 0.5
"""Grid to cathode below which a tube has no bias to lose."""

LEFT = 0.5
"""Share of its bias up to which a tube counts as robbed of it."""


@dataclass(frozen=True, slots=True)
class Unbiased:
    """A tube's section that loses its bias.

    Grid to cathode before and with the clip, volts; what its plate draws with it, mA.
    """

    section: str
    before: float
    after: float
    plate_ma: float


@dataclass(frozen=True, slots=True)
class Clipped:
    """The circuit with the clip on.

    dc_amps, ac_amps
        Through the clip; ``None`` where they could not be worked out, for ``reason``.
    unbiased
        The sections it takes the bias from.
    findings, fuses
        What exceeds its limits with the clip and does not without it, the gravest first; fuses
        beyond their rating.
    broken
        Rules that failed over it: what they hold is not judged.
    """

    dc_amps: float | None = None
    ac_amps: float | None = None
    unbiased: tuple[Unbiased, ...] = ()
    findings: tuple[Finding, ...] = ()
    fuses: tuple[Blown, ...] = ()
    broken: tuple[str, ...] = ()
    reason: str = ""


@dataclass(slots=True)
class ClipSolver:
    """Puts the clip on points of one circuit in one state; the good circuit is solved once."""

    circuit: Circuit
    state: str
    _solver: FaultSolver = field(init=False)
    _judge: Judge | None = None

    def __post_init__(self) -> None:
        self._solver = FaultSolver(self.circuit)

    def on(self, net: str, ohms: float = SHORT_OHM) -> Clipped:
        """The circuit with the clip on a net, or a meter of so many ohms from there to gnd."""
        return self.joined(net, GROUND, ohms)

    def joined(self, net: str, other: str, ohms: float = SHORT_OHM) -> Clipped:
        """The circuit with two nets joined by so many ohms."""
        judge = self._judged()
        if not judge.good.converged:
            return Clipped(reason=judge.good.reason)
        fault = Fault(BRIDGE, f"{self._named(net)}~{self._named(other)}", ohms)
        solution = self._solver.solve(fault, self.state)
        wave = solution.between(net, other)
        if not solution.converged or wave is None:
            return Clipped(reason=solution.reason or "the clipped point has no voltage")
        every, broken = judge.findings(fault, solution, None)
        findings, _ = judge.by_earth(every)
        return Clipped(
            abs(wave.dc) / ohms, wave.ac_rms / ohms,
            tuple(_unbiased(judge.good, solution)), findings, judge.fuses(solution), broken,
        )  # fmt: skip

    def _named(self, net: str) -> str:
        points = self.circuit.points
        return net if points.get(net) == net else next(p for p, at in points.items() if at == net)

    def _judged(self) -> Judge:
        if self._judge is None:
            self._judge = Judge.of(self.circuit, self._solver.good(self.state))
        return self._judge


def _unbiased(good: Solution, clipped: Solution) -> Iterator[Unbiased]:
    """Where a tube draws more for want of bias: one whose supply is gone needs none."""
    for name, before in good.readings.items():
        after = clipped.readings.get(name)
        if after is None or before.grid_v is None or after.grid_v is None:
            continue
        lost = before.grid_v < -LEAST_BIAS_V and after.grid_v > LEFT * before.grid_v
        if lost and after.plate_ma > before.plate_ma:
            yield Unbiased(name, before.grid_v, after.grid_v, after.plate_ma)
