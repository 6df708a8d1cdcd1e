"""A person at a place: what is there with nothing plugged in, and what flows through 2 kohm."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.touchable import (
    BODY,
    TERMINAL,
    hung_on,
    opened,
    references,
    touchables,
    with_person,
)
from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.limits import TOUCH_DC, TOUCH_PEAK
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.engine import Solver
from coldcheck.solve.solution import PULLED, Wave
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.touchable import Touchable
    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.solution import Solution, State

_TABLE = Citation("iec-62368-1", "table 4")
_CLAUSE = Citation("iec-60335-1", "cl. 8.1.4")

MAY_DC = Threshold("direct current that may flow", 2e-3, "A", _CLAUSE)
MAY_PEAK = Threshold("peak of the alternating current that may flow", 0.7e-3, "A", _CLAUSE)
HURTS_DC_V = Threshold("DC that can kill, above", 120.0, "V", _TABLE)
HURTS_PEAK_V = Threshold("peak of an AC that can kill, above", 70.7, "V", _TABLE)
HURTS_DC = Threshold("direct current that can kill, above", 25e-3, "A", _TABLE)
HURTS_PEAK = Threshold("peak of an alternating current that can kill, above", 7.07e-3, "A", _TABLE)
PERSON = Threshold(
    "resistance of a person", 2e3, "ohm", Citation("iec-60335-1", "cl. 8.1.4, from memory")
)
STRONG = Threshold(
    "share of the current that can kill from which a shock is a warning", 0.4, "", PRACTICE
)
FELT = Threshold("direct current from a terminal that is no leak", 0.1e-3, "A", PRACTICE)
SMALL_C = Threshold("capacitor that may be touched up to 450 V", 0.1e-6, "F", _CLAUSE)
SMALL_Q_V = Threshold("voltage above which the charge counts", 450.0, "V", _CLAUSE)
SMALL_Q = Threshold("charge that may be touched, in coulomb as V F", 45e-6, "", _CLAUSE)

OPEN_OHM = 1e7
"""As good as nothing between two floating leads."""

MOST_STATES = 3
"""States of a place that are solved with a person in; those of the highest voltage come first."""


@dataclass(frozen=True, slots=True)
class Worst:
    """DC and the peak of the AC, of a voltage or a current."""

    dc: float
    peak: float

    @classmethod
    def of(cls, wave: Wave) -> Worst:
        """Of one cycle of it."""
        return cls(abs(wave.dc), float(np.max(np.abs(wave.samples - wave.dc))))

    def over(self, dc: Threshold, peak: Threshold) -> float:
        """The larger of the two shares of their limits."""
        return max(self.dc / dc.value, self.peak / peak.value)

    @property
    def worse(self) -> float:
        """The larger of the two figures."""
        return max(self.dc, self.peak)


@dataclass(frozen=True, slots=True)
class Shock:
    """A place in a state: the voltage with nothing on it, the current through a person."""

    solution: Solution
    other: str
    volts: Worst
    amps: Worst
    farads: float


def worst_shock(case: Case, touched: Touchable) -> Shock | str | None:
    """The worst at a place, with the tubes in first; or why that cannot be told."""
    free = opened(case.circuit)
    said = None
    for suspects in _suspects(case, touched):
        found = [_shock(free, touched, s.state) for s in suspects[:MOST_STATES]]
        bad = [s for s in found if isinstance(s, Shock) and rank(s, touched) >= 0]
        if bad:
            return max(bad, key=lambda s: (rank(s, touched), s.volts.worse))
        said = said or next((s for s in found if isinstance(s, str)), None)
    return said


def _shock(free: Circuit, touched: Touchable, state: State) -> Shock | str | None:
    """Solve a state with nothing plugged in, then with a person at the place."""
    bare = Solver(free).solve(state)
    if not bare.converged:
        return f"{state.name} with nothing plugged in is not solved: {bare.reason}"
    across = _against(free, bare, touched)
    if across is None or Worst.of(across[1]).over(TOUCH_DC, TOUCH_PEAK) <= 1:
        return None
    held = Solver(with_person(free, touched.net, across[0], PERSON.value)).solve(state)
    flow = held.current(BODY)
    if flow is None:
        return f"{state.name} with a person at it is not solved: {held.reason}"
    caps = [b for b in free.at(touched.net) if b.kind is PartKind.CAPACITOR and b.a != b.b]
    farads = sum(b.farads or 0.0 for b in caps)
    return Shock(bare, across[0], Worst.of(across[1]), Worst.of(flow), farads)


def floating_pairs(case: Case) -> Iterator[tuple[Touchable, Touchable]]:
    """Two leads of one part that nothing ties to gnd."""
    floating = [t for t in touchables(case.circuit) if case.warm.floats(t.net)]
    return (p for p in combinations(floating, 2) if p[0].name == p[1].name)


def between(circuit: Circuit, one: Touchable, other: Touchable, state: State) -> Shock | None:
    """A person between two floating leads: nets have no number there, the current has one."""
    free, flows = opened(circuit), []
    for ohms in (OPEN_OHM, PERSON.value):
        solution = Solver(with_person(free, one.net, other.net, ohms)).solve(state)
        flow = solution.current(BODY)
        if flow is None:
            return None
        flows.append(flow)
    bare = Worst.of(Wave(OPEN_OHM * flows[0].samples))
    if bare.over(TOUCH_DC, TOUCH_PEAK) <= 1:
        return None
    return Shock(solution, other.net, bare, Worst.of(flows[1]), 0.0)


def _suspects(case: Case, touched: Touchable) -> tuple[list[Solution], list[Solution]]:
    """The states with a voltage there, or a current in what is plugged in; tubes out apart."""
    found, hung = [], hung_on(case.circuit)
    loads = [b.name for b in case.circuit.at(touched.net) if b.name in hung]
    for solution in case.solved():
        score = max(_voltage_share(case.circuit, solution, touched), _load_share(solution, loads))
        if score > 1:
            found.append((score, solution))
    found.sort(key=lambda pair: -pair[0])
    ranked = [s for _, s in found]
    steady = [s for s in ranked if s.state.kind != PULLED]
    return steady, [s for s in ranked if s.state.kind == PULLED]


def _voltage_share(circuit: Circuit, solution: Solution, touched: Touchable) -> float:
    across = _against(circuit, solution, touched)
    return 0.0 if across is None else Worst.of(across[1]).over(TOUCH_DC, TOUCH_PEAK)


def _load_share(solution: Solution, loads: list[str]) -> float:
    """What a generator or a plugged speaker carries: it may be all that holds the point down."""
    flows = [w for name in loads if (w := solution.current(name)) is not None]
    return max((Worst.of(w).over(MAY_DC, MAY_PEAK) for w in flows), default=0.0)


def _against(circuit: Circuit, solution: Solution, touched: Touchable) -> tuple[str, Wave] | None:
    """The first of the places for the other hand that has a voltage to it."""
    for other in references(circuit, touched):
        wave = solution.between(touched.net, other)
        if wave is not None:
            return other, wave
    return None


def _harms(shock: Shock) -> bool:
    return shock.amps.over(MAY_DC, MAY_PEAK) > 1 or stores(shock)


def stores(shock: Shock) -> bool:
    """Whether the capacitors at the place hold more than may be touched."""
    held = shock.volts.dc
    if held <= TOUCH_DC.value:
        return False
    if held <= SMALL_Q_V.value:
        return shock.farads > SMALL_C.value * 1.001
    return shock.farads * held > SMALL_Q.value


def rank(shock: Shock, touched: Touchable) -> int:
    """Place in ``RANKS``; -1 for what may be touched."""
    flows, high = shock.amps.over(HURTS_DC, HURTS_PEAK), shock.volts.over(HURTS_DC_V, HURTS_PEAK_V)
    if flows > 1:
        return 3 if high > 1 else 2
    if _harms(shock):
        return 2 if high > 1 and flows > STRONG.value else 1
    fed = touched.kind == TERMINAL and shock.amps.dc > FELT.value
    return 0 if fed else -1
