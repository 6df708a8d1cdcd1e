"""Dangerous voltage on what a person can touch, in any state, by whatever way it gets there."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.touchable import (
    BODY,
    METAL,
    SPEAKER,
    TERMINAL,
    hung_on,
    opened,
    references,
    touchables,
    with_person,
)
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed, volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.engine import Solver
from coldcheck.solve.solution import PULLED, Wave
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.touchable import Touchable
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.solution import Solution, State

_TABLE = Citation("iec-62368-1", "table 4")
_CLAUSE = Citation("iec-60335-1", "cl. 8.1.4")

TOUCH_DC = Threshold("DC that may be touched", 60.0, "V", _TABLE)
TOUCH_PEAK = Threshold("peak of the AC that may be touched", 42.4, "V", _CLAUSE)
MAY_DC = Threshold("direct current that may flow", 2e-3, "A", _CLAUSE)
MAY_PEAK = Threshold("peak of the alternating current that may flow", 0.7e-3, "A", _CLAUSE)
HURTS_DC_V = Threshold("DC that can kill, above", 120.0, "V", _TABLE)
HURTS_PEAK_V = Threshold("peak of an AC that can kill, above", 70.7, "V", _TABLE)
HURTS_DC = Threshold("direct current that can kill, above", 25e-3, "A", _TABLE)
HURTS_PEAK = Threshold("peak of an alternating current that can kill, above", 7.07e-3, "A", _TABLE)
PERSON = Threshold(
    "resistance of a person", 2e3, "ohm", Citation("iec-60335-1", "cl. 8.1.4, from memory")
)
FELT = Threshold("direct current from a terminal that is no leak", 0.1e-3, "A", PRACTICE)
SMALL_C = Threshold("capacitor that may be touched up to 450 V", 0.1e-6, "F", _CLAUSE)
SMALL_Q_V = Threshold("voltage above which the charge counts", 450.0, "V", _CLAUSE)
SMALL_Q = Threshold("charge that may be touched, in coulomb as V F", 45e-6, "", _CLAUSE)

PLUGGED = ("speaker", "jack", "jack-contact")
RANKS = ("notice", "caution", "warning", "danger")

OPEN_OHM = 1e7
"""As good as nothing between two floating leads."""

MOST_STATES = 3
"""States of a place that are solved with a person in; those of the highest voltage come first."""


@dataclass(frozen=True, slots=True)
class _Worst:
    """DC and the peak of the AC, of a voltage or a current."""

    dc: float
    peak: float

    @classmethod
    def of(cls, wave: Wave) -> _Worst:
        return cls(abs(wave.dc), float(np.max(np.abs(wave.samples - wave.dc))))

    def over(self, dc: Threshold, peak: Threshold) -> float:
        """The larger of the two shares of their limits."""
        return max(self.dc / dc.value, self.peak / peak.value)

    @property
    def worse(self) -> float:
        """The larger of the two figures."""
        return max(self.dc, self.peak)


@dataclass(frozen=True, slots=True)
class _Shock:
    """A place in a state: the voltage with nothing on it, the current through a person."""

    solution: Solution
    other: str
    volts: _Worst
    amps: _Worst
    farads: float


@rule(
    "touch.live-terminal",
    title="Dangerous voltage on something one can touch",
    level="danger",
    states="every solved state, with the plugs' cables open at the far end",
    needs="a solved state",
    criterion=(
        "Chassis, a lead of a jack, a point with a signal, a speaker's lead or an output "
        "transformer's secondary is at more than 60 V DC or 42.4 V peak AC against earth (else "
        "the chassis, the neutral, gnd) with nothing plugged in, and drives more than 2 mA DC or "
        "0.7 mA peak through 2 kohm, or holds more than 0.1 uF (above 450 V: 45 microcoulomb). "
        "Danger above 25 mA DC or 7.07 mA peak from more than 120 V DC or 70.7 V peak, a warning "
        "above such a current alone, else a caution. Less current than 2 mA, but more than 0.1 mA, "
        "from a jack or an input is a notice."
    ),
    why=(
        "A hand on a plug does not know what the drawing calls the point. High voltage from a "
        "supply gets to a terminal by a wire, a resistor, a load that is pulled, a tube that is "
        "cold or out of its socket; with a hand on the chassis it goes through the chest."
    ),
    source=(
        "60 V DC, 120 V, 70.7 V peak, 25 mA, 7.07 mA peak: IEC 62368-1 table 4 (memory); 42.4 V "
        "peak, 2 mA DC, 0.7 mA peak, 0.1 uF, 45 microcoulomb: IEC 60335-1 cl. 8.1.4 (found); "
        "2 kohm: the same clause (memory)"
    ),
    limits=(
        "Voltages are those of the supply and the mains, not of the signal. A person is 2 kohm "
        "from one place to earth; wet hands are less. Insulating knobs, caps and cabinets are "
        "not in a drawing. What floats has no voltage to earth: only both leads of one jack are "
        "looked at then."
    ),
    thresholds=(
        *(TOUCH_DC, TOUCH_PEAK, MAY_DC, MAY_PEAK, HURTS_DC_V, HURTS_PEAK_V, HURTS_DC, HURTS_PEAK),
        *(PERSON, FELT, SMALL_C, SMALL_Q_V, SMALL_Q),
    ),
)
def live_terminal(case: Case) -> Iterator[Outcome]:
    """Look at every place within reach; solve again with a person where there is a voltage."""
    circuit = case.circuit
    free = opened(circuit)
    for touched in touchables(circuit):
        steady, socket = _suspects(case, touched)
        found = _worst_shock(free, touched, steady) or _worst_shock(free, touched, socket)
        if found is not None:
            yield _live(case, touched, found)
    for one, other in _floating_pairs(case):
        shock = _between(free, one, other, case.warm.state)
        if shock is not None and _rank(shock, one) >= 0:
            yield _live(case, one, shock)


def _floating_pairs(case: Case) -> Iterator[tuple[Touchable, Touchable]]:
    """Two leads of one part that nothing ties to gnd, with a winding or a source behind them."""
    circuit = case.circuit
    windings = {n for w in circuit.windings() for n in w.nets}
    supplied = windings | {b.a for b in circuit.branches.values() if b.kind == "source"}
    floating = [t for t in touchables(circuit) if t.net in case.warm.undefined]
    for one, other in combinations(floating, 2):
        if one.name == other.name and supplied & set(reach(circuit, [one.net, other.net])):
            yield one, other


def _between(free: Circuit, one: Touchable, other: Touchable, state: State) -> _Shock | None:
    """A person between two floating leads: nets have no number there, the current has one."""
    flows = []
    for ohms in (OPEN_OHM, PERSON.value):
        solution = Solver(with_person(free, one.net, other.net, ohms)).solve(state)
        flow = solution.current(BODY)
        if flow is None:
            return None
        flows.append(flow)
    bare = _Worst.of(Wave(OPEN_OHM * flows[0].samples))
    if bare.over(TOUCH_DC, TOUCH_PEAK) <= 1:
        return None
    return _Shock(solution, other.net, bare, _Worst.of(flows[1]), 0.0)


def _suspects(case: Case, touched: Touchable) -> tuple[list[Solution], list[Solution]]:
    """The states with a voltage there, or a current in what is plugged in; tubes out apart."""
    found = []
    for solution in case.solved():
        score = max(_voltage_share(case.circuit, solution, touched), _load_share(solution, touched))
        if score > 1:
            found.append((score, solution))
    found.sort(key=lambda pair: -pair[0])
    ranked = [s for _, s in found]
    steady = [s for s in ranked if s.state.kind != PULLED]
    return steady, [s for s in ranked if s.state.kind == PULLED]


def _voltage_share(circuit: Circuit, solution: Solution, touched: Touchable) -> float:
    across = _against(circuit, solution, touched)
    return 0.0 if across is None else _Worst.of(across[1]).over(TOUCH_DC, TOUCH_PEAK)


def _load_share(solution: Solution, touched: Touchable) -> float:
    """What a generator or a plugged speaker carries: it may be all that holds the point down."""
    circuit = solution.circuit
    loads = [b for b in circuit.at(touched.net) if b.name in hung_on(circuit)]
    flows = [w for b in loads if (w := solution.current(b.name)) is not None]
    return max((_Worst.of(w).over(MAY_DC, MAY_PEAK) for w in flows), default=0.0)


def _against(circuit: Circuit, solution: Solution, touched: Touchable) -> tuple[str, Wave] | None:
    """The first of the places for the other hand that has a voltage to it."""
    for other in references(circuit, touched):
        wave = solution.between(touched.net, other)
        if wave is not None:
            return other, wave
    return None


def _worst_shock(free: Circuit, touched: Touchable, suspects: list[Solution]) -> _Shock | None:
    shocks = (_shock(free, touched, s.state) for s in suspects[:MOST_STATES])
    bad = [s for s in shocks if s is not None and _rank(s, touched) >= 0]
    return max(bad, key=lambda s: (_rank(s, touched), s.volts.worse), default=None)


def _shock(free: Circuit, touched: Touchable, state: State) -> _Shock | None:
    """Solve a state with nothing plugged in, then with a person at the place."""
    bare = Solver(free).solve(state)
    across = _against(free, bare, touched) if bare.converged else None
    if across is None or _Worst.of(across[1]).over(TOUCH_DC, TOUCH_PEAK) <= 1:
        return None
    held = with_person(free, touched.net, across[0], PERSON.value)
    flow = Solver(held).solve(state).current(BODY)
    if flow is None:
        return None
    caps = [b for b in free.at(touched.net) if b.kind == "capacitor" and b.a != b.b]
    farads = sum(si(b.value, "farad") or 0.0 for b in caps)
    return _Shock(bare, across[0], _Worst.of(across[1]), _Worst.of(flow), farads)


def _harms(shock: _Shock) -> bool:
    return shock.amps.over(MAY_DC, MAY_PEAK) > 1 or _stores(shock)


def _stores(shock: _Shock) -> bool:
    held = shock.volts.dc
    if held <= TOUCH_DC.value:
        return False
    if held <= SMALL_Q_V.value:
        return shock.farads > SMALL_C.value * 1.001
    return shock.farads * held > SMALL_Q.value


def _rank(shock: _Shock, touched: Touchable) -> int:
    """Place in ``RANKS``; -1 for what may be touched."""
    if shock.amps.over(HURTS_DC, HURTS_PEAK) > 1:
        return 3 if shock.volts.over(HURTS_DC_V, HURTS_PEAK_V) > 1 else 2
    if _harms(shock):
        return 1
    fed = touched.kind == TERMINAL and shock.amps.dc > FELT.value
    return 0 if fed else -1


def _live(case: Case, touched: Touchable, shock: _Shock) -> Finding:
    circuit = case.circuit
    there = ("DC", shock.volts.dc) if shock.volts.dc >= shock.volts.peak else ("peak AC", 0.0)
    most = shock.volts.worse
    flows = shock.amps.over(MAY_DC, MAY_PEAK) > 1
    stored = _stores(shock) and not flows
    then = (
        f"drives {amperes(shock.amps.worse)} through a person"
        if not stored
        else f"has {shock.farads * 1e6:.3g} uF charged to it"
    )
    state = shock.solution.state
    evidence: dict[str, Figure | str] = {
        "dc": figure(shock.volts.dc, "V"),
        "ac_peak": figure(shock.volts.peak, "V"),
        "current_dc": figure(shock.amps.dc, "A"),
        "current_peak": figure(shock.amps.peak, "A"),
        "against": (circuit.names.get(shock.other) or (shock.other,))[0],
    }
    return live_terminal.finding(
        case,
        (touched.name,),
        f"{touched.point} is at {volts(most)} {there[0]} and {then}",
        _remedy(circuit, touched),
        state=state.name,
        level=RANKS[_rank(shock, touched)],
        evidence=evidence,
        limit=(TOUCH_DC if there[0] == "DC" else TOUCH_PEAK).figure,
        excess=shock.volts.over(TOUCH_DC, TOUCH_PEAK),
    )


def _remedy(circuit: Circuit, touched: Touchable) -> str:
    beside = [b.owner for b in circuit.at(touched.net) if b.kind not in PLUGGED]
    away = [n for n in dict.fromkeys(beside) if n not in hung_on(circuit)][:3]
    which = f" ({listed(away)})" if away else ""
    if touched.kind == METAL:
        return f"Take what is on the chassis{which} off it; `chassis -- earth`, and gnd on it"
    if touched.kind == SPEAKER:
        return (
            f"Take the supply off the speaker's side{which}: an output transformer keeps it apart, "
            "one end of the secondary on gnd"
        )
    return (
        f"Take the supply off {touched.point}{which}: a signal comes out through a capacitor made "
        f"for the whole supply, with 220 kohm from the terminal to {GROUND}"
    )


RULES = (live_terminal,)
