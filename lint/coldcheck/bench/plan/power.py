"""The powered states of a first power-up: which tubes are in, how far the mains are turned up.

Every state is solved as any other. At reduced mains a heater gives less than its rated emission,
which the solver does not know between half the rated voltage (below it: no emission) and all of
it; so a reading there lies between two solutions, nothing but the rectifier emitting and every
tube at full emission, and where the rectifier is a tube it may be anything from 0 up.
"""

from __future__ import annotations

from dataclasses import field, replace
from math import log, pi, sqrt
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.bench.chart.changed import with_parts
from coldcheck.bench.plan.model import Limiter
from coldcheck.bench.plan.places import output_tubes
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.records import dataclass
from coldcheck.solve.cycle.network import SERVICE, feed_name, plain
from coldcheck.solve.cycle.settling import EMISSION_SHARE
from coldcheck.solve.engine import Solver
from coldcheck.solve.solution import WARM, State

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from coldcheck.circuit.model import Branch, Circuit, Heater
    from coldcheck.solve.solution import Solution

    Array = NDArray[np.float64]

PLAN = "plan"
"""Kind of the states of the plan."""

SHARES = (0.3, 0.6, 1.0)
"""Steps of a variable transformer (common practice)."""

HEATED_SHARE = 0.8
"""Of its rated heater voltage a tube must get to be counted on (common practice)."""

HT_VOLTS = 30.0
"""A bench supply from here up is turned up in steps; others are set and left."""

LAMPS = (15.0, 25.0, 40.0, 60.0, 75.0, 100.0, 150.0, 200.0, 300.0, 500.0)
"""Watts of filament lamps that were common (memory)."""

LAMP_FACTOR = 1.5
"""Lamp over idle volt-amperes: 1 to 2 times the power is common practice."""

LAMP_EXPONENT = 0.55
"""A filament's current goes as its voltage to this power (memory, 0.5 to 0.6)."""


@dataclass(frozen=True, slots=True)
class Stage:
    """Which tubes are in their sockets. ``key`` is its stable name, ``words`` what it is called."""

    key: str
    words: str
    put_in: tuple[str, ...]
    pulled: frozenset[str]


@dataclass(frozen=True, slots=True)
class Rung:
    """One stage at one setting of the mains.

    full, idle
        With every cathode in its socket at full emission; with none but rectifiers'. The same
        where nothing is to emit.
    sure
        Whether a reading below the lower of both is a fault, not just a heater still too cold.
    """

    stage: Stage
    share: float
    volts: float
    full: Solution
    idle: Solution
    sure: bool

    @property
    def solved(self) -> bool:
        """Whether there are numbers."""
        return self.full.converged and self.idle.converged


def is_rectifier(circuit: Circuit, tube: str) -> bool:
    """Whether a tube is nothing but a rectifier."""
    return all(s.kind is SectionKind.RECTIFIER for s in circuit.tubes[tube].sections)


def stages_of(circuit: Circuit) -> list[Stage]:
    """The stages in order; each puts in some more tubes than the one before it."""
    every = frozenset(circuit.tubes)
    rectifiers = {t for t in every if is_rectifier(circuit, t)}
    gas = {s.tube for s in circuit.sections() if s.kind is SectionKind.REGULATOR}
    output = set(output_tubes(circuit))
    groups = [
        ("rectifier-in", "the rectifier in, every other tube out", rectifiers),
        ("regulators-in", "rectifier and gas regulators in, every other tube out", gas),
        ("small-in", "all tubes in but the output tubes", every - rectifiers - gas - output),
        ("all-in", "all tubes in", output),
    ]
    found = [Stage("tubes-out", "all tubes out of their sockets", (), every)] if every else []
    inside: set[str] = set()
    for key, words, group in groups:
        new = group - inside
        inside |= group
        if new:
            last = inside == every
            named = tuple(t for t in circuit.tubes if t in new)
            found.append(
                Stage("all-in" if last else key, "all tubes in" if last else words, named,
                      every - inside)
            )  # fmt: skip
    return found or [Stage("all-in", "the whole circuit", (), frozenset())]


@dataclass(slots=True)
class Power:
    """What feeds a circuit, turned up in shares, and the states solved on the way."""

    circuit: Circuit
    sources: tuple[Branch, ...] = field(init=False)
    mains: bool = field(init=False)
    _solvers: dict[float, Solver] = field(default_factory=dict)
    _known: dict[State, Solution] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.mains = self.circuit.mains is not None or bool(self.circuit.transformers)
        self.sources = () if self.mains else tuple(
            b for b in self.circuit.branches.values()
            if b.kind is PartKind.SOURCE and b.a != GROUND
            and plain(b.value, "volt", 0.0) >= HT_VOLTS
        )  # fmt: skip

    @property
    def fed(self) -> bool:
        """Whether anything in the drawing feeds it at all."""
        return self.mains or any(b.kind is PartKind.SOURCE for b in self.circuit.branches.values())

    @property
    def volts(self) -> float:
        """Of the mains, else of the highest bench supply."""
        if self.circuit.mains is not None:
            return plain(self.circuit.mains.voltage, "volt", 0.0)
        primaries = [w for w in self.circuit.windings() if w.primary]
        if primaries:
            return plain(primaries[0].volts, "volt", 0.0)
        return max((plain(b.value, "volt", 0.0) for b in self.sources), default=0.0)

    def solve(
        self, name: str, pulled: frozenset[str] = frozenset(), share: float = 1.0,
        unheated: frozenset[str] = frozenset(),
    ) -> Solution:  # fmt: skip
        """A state with these tubes out and these in their sockets but cold."""
        line = share if self.mains else 1.0
        state = State(name, PLAN, line=line, pulled=pulled, unheated=unheated - pulled)
        key = State("", PLAN, line=share, pulled=pulled, unheated=unheated - pulled)
        if key not in self._known:
            self._known[key] = self._solver(share).solve(state)
        return self._known[key]

    def _solver(self, share: float) -> Solver:
        """Far from the working state its answer is a bad start: such shares have their own."""
        near = self.mains and share >= EMISSION_SHARE
        kept = 1.0 if near else share
        if kept not in self._solvers:
            lowered = [_times(b, share) for b in self.sources] if kept != 1.0 else []
            solver = Solver(with_parts(self.circuit, lowered) if lowered else self.circuit)
            if near:
                solver.solve(State(WARM, WARM))
            self._solvers[kept] = solver
        return self._solvers[kept]

    def rung(self, stage: Stage, share: float) -> Rung:
        """A stage at a share of the mains."""
        name = stage.words if share == 1.0 else f"{stage.words}, at {100 * share:.0f} %"
        tubes = self.circuit.tubes
        others = frozenset(t for t in tubes if not is_rectifier(self.circuit, t))
        heated = {t for t in tubes if self.heated(t)}
        # a filament below half its volts is cold to the solver in either case
        dull = self.mains and share < EMISSION_SHARE and heated == set(tubes)
        idle = self.solve(name, stage.pulled, share, others)
        full = idle if dull else self.solve(name, stage.pulled, share)
        valve = any(
            is_rectifier(self.circuit, t) and self.heated(t) for t in tubes if t not in stage.pulled
        )
        sure = share == 1.0 or not self.mains or not valve
        if share == 1.0 or not self.mains:
            idle = full
        return Rung(stage, share, share * self.volts, full, idle, sure)

    def heated(self, tube: str) -> bool:
        """Whether the drawing shows where a tube's heater gets its current."""
        held = self.circuit.tubes[tube].heater
        return held is not None and bool(held.branches)

    def possible(self, stage: Stage) -> bool:
        """Whether the tubes that are in get their heater current with the others out."""
        found = self.solve(stage.words, stage.pulled)
        if not found.converged:
            return True
        for tube in self.circuit.tubes.values():
            if tube.name in stage.pulled or not self.heated(tube.name) or tube.heater is None:
                continue
            waves = [found.between(b.a, b.b) for b in tube.heater.branches]
            if None in waves and not _afloat(found, tube.heater):
                continue  # it depends on a value that the drawing leaves open
            given = max((w.rms for w in waves if w is not None), default=0.0)
            if given < HEATED_SHARE * _rated(tube.heater):
                return False
        return True


def _afloat(solution: Solution, heater: Heater) -> bool:
    """Whether an end of a heater hangs in the air."""
    return any(solution.floats(n) for n in heater.nets)


def _rated(heater: Heater) -> float:
    """Volts that one branch of a heater is rated for."""
    halves = 2 if heater.mode == "series" and len(heater.branches) > 1 else 1
    return plain(heater.volts, "volt", 0.0) / halves


def _times(branch: Branch, share: float) -> Branch:
    return replace(branch, value=None if branch.value is None else branch.value * share)


def mains_power(power: Power, solution: Solution) -> tuple[float, float] | None:
    """Watts and rms amperes from the mains in a solved state, without losses of the core."""
    if not power.mains or not solution.converged:
        return None
    flows = [(_mains_wave(power, solution), solution.current(SERVICE))]
    flows += [
        (_sine(power, solution), solution.current(feed_name(t))) for t in power.circuit.transformers
    ]
    known = [(v, i.samples) for v, i in flows if v is not None and i is not None]
    if not known:
        return None
    size = max(len(i) for _, i in known)
    total = sum((i * np.ones(size) for _, i in known), np.zeros(size))
    watts = abs(float(np.mean(known[0][0] * total)))
    return watts, float(np.sqrt(np.mean(total**2)))


def _mains_wave(power: Power, solution: Solution) -> Array | None:
    points = power.circuit.points
    if "line" not in points or "neutral" not in points:
        return None
    found = solution.between("line", "neutral")
    return None if found is None else found.samples


def _sine(power: Power, solution: Solution) -> Array:
    size = max((len(w.samples) for w in solution.waves.values()), default=1)
    at = np.arange(size) / size
    return np.asarray(sqrt(2) * power.volts * solution.state.line * np.sin(2 * pi * at))


def limiter_of(power: Power, warm: Solution) -> Limiter | None:
    """The lamp for a set, from what it takes when warm; ``None`` without mains or numbers."""
    taken = mains_power(power, warm)
    if taken is None or not taken[0] or not power.volts:
        return None
    watts, amps = taken
    wanted = LAMP_FACTOR * power.volts * amps  # what the lamp carries, not only what is used
    lamp = min(LAMPS, key=lambda w: abs(log(w / wanted))) if wanted <= LAMPS[-1] else wanted
    return Limiter(power.volts, watts, amps, lamp, left_with(power.volts, amps, lamp))


def left_with(volts: float, amps: float, lamp: float) -> float:
    """The share of the mains left for a set whose current goes with its voltage, by bisection."""
    low, high = 0.0, 1.0
    for _ in range(40):
        share = (low + high) / 2
        across = (share * amps * volts / lamp) ** (1 / LAMP_EXPONENT)
        low, high = (share, high) if share + across < 1 else (low, share)
    return low
