"""What happens where the tip of a probe slips and bridges the point to what is beside it, solved.

Every bridge is a fault, held on until all is at rest. What it passes in the first instant, from
capacitors that empty, is not in it.
"""

from __future__ import annotations

from math import hypot, inf
from typing import TYPE_CHECKING

from coldcheck.bench.instruments.beside import beside
from coldcheck.bench.instruments.clip import mains_side
from coldcheck.circuit.model import GROUND
from coldcheck.judge.finding import LEVELS
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.bench.instruments.clipped import Clipped, ClipSolver
    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.solution import Solution

SOLVED = 16
"""Bridges that are solved at most; those with the highest voltage between their ends first."""

BURNS = Threshold("amperes at which the tip of a probe burns", 20.0, "A", PRACTICE)


@dataclass(frozen=True, slots=True)
class Slip:
    """A bridge from the point to ``to`` on the net ``net``, and the circuit with it."""

    to: str
    net: str
    done: Clipped

    @property
    def rank(self) -> tuple[int, float]:
        """How grave: the level of the worst finding, and how far beyond the limit."""
        levels = [LEVELS.index(x.level) for x in self.done.findings]
        worst = max(levels, default=0)
        beyond = [x.excess for x in self.done.findings if LEVELS.index(x.level) == worst]
        beyond += [b.times for b in self.done.fuses]
        return max(worst, self.shorts), max(beyond, default=0.0)

    @property
    def shorts(self) -> bool:
        """Whether the tip itself carries what burns it, as ahead of every fuse of the mains."""
        amps = hypot(self.done.dc_amps or 0.0, self.done.ac_amps or 0.0)
        return amps >= BURNS.value

    @property
    def harms(self) -> bool:
        """Whether anything passes a limit, a tube loses its bias, or the tip burns."""
        done = self.done
        return bool(done.findings or done.fuses or done.unbiased or self.shorts)


@dataclass(frozen=True, slots=True)
class Slips:
    """What a tip can bridge a point to.

    harmful
        The worst first.
    quiet
        Where nothing that is judged passes a limit.
    unknown
        (Place, reason) of what could not be worked out or not be judged whole.
    mains
        Places whose bridge would join the mains to what is not on them, without an earth in the
        drawing that makes a circuit of it: nothing is solved that could be believed.
    left_out
        Places that were not solved, there being too many.
    """

    harmful: tuple[Slip, ...] = ()
    quiet: tuple[str, ...] = ()
    unknown: tuple[tuple[str, str], ...] = ()
    mains: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


def slips_at(
    circuit: Circuit, point: str, other: str, solution: Solution, solver: ClipSolver
) -> Slips:
    """The bridges of a point measured from another, in the state of the solution and the solver.

    The other tip, where it is not on gnd, can be bridged to as well. ``solution`` is the good one.
    """
    net, from_net = circuit.points.get(point, point), circuit.points.get(other, other)
    places = beside(circuit, point)
    if from_net not in (net, GROUND):
        places = {from_net: other, **places}
    mains = {to: name for to, name in places.items() if _loose_mains(circuit, net, to)}
    rest = [to for to in places if to not in mains]
    rest.sort(key=lambda to: -_volts(solution, net, to))
    tried = [Slip(places[to], to, solver.joined(net, to)) for to in rest[:SOLVED]]
    return _sorted(tried, tuple(mains.values()), tuple(places[to] for to in rest[SOLVED:]))


def _sorted(tried: Iterable[Slip], mains: tuple[str, ...], left_out: tuple[str, ...]) -> Slips:
    solved = [s for s in tried if not _why(s)]
    harmful = sorted((s for s in tried if s.harms), key=lambda s: s.rank, reverse=True)
    return Slips(
        tuple(harmful),
        tuple(s.to for s in solved if not s.harms),
        tuple((s.to, _why(s)) for s in tried if _why(s) and not s.harms),
        mains,
        left_out,
    )


def _why(slip: Slip) -> str:
    """Why a bridge says nothing of its harmlessness."""
    broken = f"{', '.join(slip.done.broken)} broke down" if slip.done.broken else ""
    return slip.done.reason or broken


def _volts(solution: Solution, a: str, b: str) -> float:
    """The highest instant between two nets; where it is not known they come first."""
    wave = solution.between(a, b)
    return inf if wave is None else wave.peak


def _loose_mains(circuit: Circuit, a: str, b: str) -> bool:
    """Whether one net alone is on the mains, and the drawing shows no way from the other to earth.

    With an earth it is a short that can be solved; without, what flows is up to whoever touches.
    """
    mains = mains_side(circuit)
    if GROUND in mains:
        return False
    return (a in mains) != (b in mains) and not _to_earth(circuit, b if a in mains else a)


def _to_earth(circuit: Circuit, net: str) -> bool:
    points = circuit.points
    return "earth" in points and points["earth"] in (net, points.get("chassis"), GROUND)
