"""Fuses too small for what they carry, at switch-on too, and for the voltage they have to break."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.anatomy import galvanic
from coldcheck.anatomy.galvanic import mains_leads
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import quantity, si
from coldcheck.drawing.wording import amperes, volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.finding import Unjudged
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.rules.mains.fuse import FITTING_FACTOR, HALVES_V, fitting_fuse, rated_amps
from coldcheck.rules.supply.inrush import (
    FAST_MAY,
    FAST_WILL,
    SLOW_MAY,
    SLOW_WILL,
    charging,
    limited,
)
from coldcheck.solve.engine import Solver
from coldcheck.solve.solution import COLD, HIGH, LOW, STANDBY, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome

FULL = Threshold("share of its rating a fuse carries for hours, at most", 100.0, "%", PRACTICE)
MAGNETISING = Threshold(
    "I2t of a transformer's first half cycle over its rated current squared", 0.6, "s", PRACTICE
)
"""Fifteen times the rated current, half a sine of 10 ms wide at its foot: 225/2 x 5 ms."""

OPEN_OHM = 1e8
MOST_FUSES = 20
"""Fuses that are opened in turn: each costs a solution or two."""


def fuses(circuit: Circuit) -> list[Branch]:
    """The fuses that are in a wire, not across one."""
    return [b for b in circuit.branches.values() if b.kind is PartKind.FUSE and b.a != b.b]


@rule(
    "supply.fuse-too-small",
    title="Fuse that blows in ordinary use",
    level="notice",
    states="cold, warm, high line, low line, standby; and the stroke at switch-on",
    needs="the fuse's value, and a solved state",
    criterion=(
        "The rms current in a solved state is more than the fuse's rating. At switch-on, the I2t "
        "of what charges the filter capacitors and, in the mains lead, of the transformer's "
        "magnetisation (0.6 s times the square of its rated current) is more than the fuse surely "
        "stands: 30 s (fast: 5 s) times its rating squared is a notice, 2 s (fast: 0.16 s) an "
        "advice."
    ),
    why=(
        "A fuse that blows every other evening gets replaced by a larger one, or by foil. A "
        "transformer switched on at the wrong instant takes fifteen times its current for half a "
        "cycle, and an empty reservoir is a short for the first few."
    ),
    source=(
        Citation("iec-60127", "part 2, sheets II and III, gates at 4 and 10 times the rating"),
        Citation("arithmetic", "I2t of a capacitor charged through R: C V^2 / 2R"),
        Citation("practice", "the magnetising stroke"),
    ),
    limits=(
        "A fuse without the word fast is taken as slow for the stroke. Resistances are those of "
        "the windings and of inrush thermistors as written; an indirectly heated rectifier, and "
        "a supply behind a choke, charge slowly and make no stroke. Fuses of American "
        "ratings want a quarter more."
    ),
    thresholds=(
        galvanic.SERIES_OHM,
        HALVES_V,
        FULL,
        SLOW_MAY,
        SLOW_WILL,
        FAST_MAY,
        FAST_WILL,
        MAGNETISING,
    ),
)
def fuse_too_small(case: Case) -> Iterator[Outcome]:
    """What each fuse carries, then what it gets at switch-on."""
    reason = unsolved(case)
    for fuse in fuses(case.circuit):
        rated = si(fuse.value, "ampere")
        if rated is None or reason is not None:
            yield fuse_too_small.not_judged((fuse.name,), reason or "its rating is not known")
            continue
        found = _carried(case, fuse, rated) or _stroke(case, fuse, rated)
        if found is not None:
            yield found


def _carried(case: Case, fuse: Branch, rated: float) -> Finding | None:
    flows = [
        (wave.rms, s.state.name)
        for s in case.solved(WARM, HIGH, LOW, COLD, STANDBY)
        if (wave := s.current(fuse.name)) is not None
    ]
    amps, state = max(flows, default=(0.0, ""))
    limit = FULL.value / 100 * rated
    if amps <= limit * 1.001:
        return None
    return fuse_too_small.finding(
        case,
        (fuse.name,),
        f"{fuse.name}, {amperes(rated)}, carries {amperes(amps)} rms",
        f"See why so much flows; if it is meant, {fitting_fuse(amps):g} A slow (1.5 to 2 times "
        "the current)",
        state=state,
        evidence={"current_rms": figure(amps, "A")},
        limit=figure(limit, "A"),
        excess=amps / limit,
    )


@dataclass(frozen=True, slots=True)
class _Gate:
    may: Threshold
    will: Threshold


def _stroke(case: Case, fuse: Branch, rated: float) -> Finding | None:
    words = fuse.part.words if fuse.part else ()
    gate = _Gate(FAST_MAY, FAST_WILL) if "fast" in words else _Gate(SLOW_MAY, SLOW_WILL)
    stroke = charging(case, fuse) + _magnetising(case, fuse)
    share = stroke / rated**2
    if share <= gate.may.value:
        return None
    sure = share > gate.will.value
    kind = "fast" if "fast" in words else "slow"
    normal = (rated_amps(case.circuit) or 0.0) if _in_mains(case, fuse) else 0.0
    least = math.sqrt(stroke / SLOW_MAY.value)
    wanted = max(fitting_fuse(least, 1.0), fitting_fuse(normal, FITTING_FACTOR))
    limit = (gate.will if sure else gate.may).value * rated**2
    return fuse_too_small.finding(
        case,
        (fuse.name,),
        f"at switch-on {fuse.name} gets {stroke:.2g} A2s, and a {kind} fuse of {amperes(rated)} "
        f"{'does not stand' if sure else 'may melt at'} {limit:.2g} A2s",
        f"Use {wanted:g} A slow, or limit the stroke with a thermistor made for it",
        state="switching on",
        level="notice" if sure else "advice",
        evidence={"i2t": f"{stroke:.3g} A2s", "stands": f"{limit:.3g} A2s"},
        certainty="likely" if sure else "possible",
        excess=stroke / limit,
    )


def _magnetising(case: Case, fuse: Branch) -> float:
    """A2s of the core's first half cycle; nothing for a fuse that is not in the mains lead."""
    amps = None
    if _in_mains(case, fuse) and not limited(case.circuit):
        amps = rated_amps(case.circuit)
    return MAGNETISING.value * amps**2 if amps else 0.0


def _in_mains(case: Case, fuse: Branch) -> bool:
    leads = mains_leads(case.circuit).values()
    return any({fuse.a, fuse.b} <= nets for nets in leads)


FAR_OVER = Threshold(
    "times its voltage up to which a fuse in a supply is advice", 2.0, "", PRACTICE
)


@rule(
    "supply.fuse-voltage",
    title="Fuse for less voltage than it has to break",
    level="notice",
    states="cold, warm and standby, nominal mains, with the fuse open",
    needs="the fuse's voltage on the drawing, and a solved state",
    criterion=(
        "With the fuse blown the voltage across it, DC and AC together, rms, is more than the "
        "voltage written on it: a rating is for the nominal mains. In the mains lead it is a "
        f"caution; elsewhere advice up to {FAR_OVER.value:g} times, as sets with 250 V fuses in "
        "their supply are built everywhere."
    ),
    why=(
        "A fuse that is made for 32 V melts all right, and then an arc stands in it: it goes on "
        "conducting, or the glass bursts. What it was to protect burns meanwhile."
    ),
    source=(
        Citation("drawing", "the voltage written on the fuse"),
        Citation("iec-60127", "breaking capacity"),
    ),
    limits=(
        "A fuse without a voltage written is not judged. A rating for AC is worth less for DC, "
        "which has no zero for the arc to go out at: not reckoned. Ratings are for nominal mains: "
        "250 V is right on 230 V mains. The current it can break is not on the drawing."
    ),
    thresholds=(FAR_OVER, galvanic.SERIES_OHM),
)
def fuse_voltage(case: Case) -> Iterator[Outcome]:
    """Open every fuse with a voltage written and see what stands across it."""
    reason = unsolved(case)
    rated_ones = [f for f in fuses(case.circuit) if f.part and f.part.voltage is not None]
    for number, fuse in enumerate(rated_ones):
        rated = si(fuse.part.voltage if fuse.part else None, "volt") or 0.0
        if reason is not None or number >= MOST_FUSES:
            said = reason or f"more than {MOST_FUSES} fuses have a voltage written"
            yield fuse_voltage.not_judged((fuse.name,), said)
            continue
        across = when_blown(case, fuse)
        if across is None:
            said = "the circuit with it open has no voltages"
            yield fuse_voltage.not_judged((fuse.name,), said, Unjudged.NO_VOLTAGE)
        elif across[0] > rated * 1.001:
            yield _arcs(case, fuse, rated, *across)


def when_blown(case: Case, fuse: Branch) -> tuple[float, str] | None:
    """The largest rms voltage across the open fuse, and the state."""
    gap = replace(fuse, kind=PartKind.RESISTOR, value=quantity(OPEN_OHM, "ohm"), resistance=None)
    solver = Solver(replace(case.circuit, branches={**case.circuit.branches, fuse.name: gap}))
    found = []
    for solution in case.solved(COLD, WARM, STANDBY):
        wave = solver.solve(solution.state).between(fuse.a, fuse.b)
        if wave is not None:
            found.append((wave.rms, solution.state.name))
    return max(found, default=None)


def _arc_level(case: Case, fuse: Branch, times: float) -> str:
    if _in_mains(case, fuse):
        return "caution"
    return "notice" if times > FAR_OVER.value else "advice"


def _elsewhere(case: Case, fuse: Branch) -> str:
    """Where there is less to break; nothing better is known of one at a winding or in the mains."""
    wound = {n for w in case.circuit.windings() for n in w.nets}
    if {fuse.a, fuse.b} & wound or _in_mains(case, fuse):
        return ""
    return ", or put it where there is less: in the winding's tap instead of the rectified supply"


def _arcs(case: Case, fuse: Branch, rated: float, across: float, state: str) -> Finding:
    evidence: dict[str, Figure | str] = {"voltage_rms": figure(across, "V")}
    return fuse_voltage.finding(
        case,
        (fuse.name,),
        f"{fuse.name}, made for {volts(rated)}, has {volts(across)} across it when it blows",
        f"Use a fuse made for {volts(across)} or more{_elsewhere(case, fuse)}",
        state=state,
        level=_arc_level(case, fuse, across / rated),
        evidence=evidence,
        limit=figure(rated, "V"),
        certainty="certain",
        excess=across / rated,
    )


RULES: tuple[Rule, ...] = (
    fuse_too_small,
    fuse_voltage,
)
