"""Switches that break what must not be broken: a choke's current, the bias of output tubes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.neighbourhood import AMPLIFYING
from coldcheck.anatomy.reach import reach
from coldcheck.anatomy.switching import switches
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.throws import switch_of, switches_of, throws_by_hand
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import amperes, listed, volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.solution import STANDBY
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Outcome
    from coldcheck.solve.solution import Solution

FILTER_H = Threshold("least inductance of a filter choke", 0.5, "H", PRACTICE)
ARC_J = Threshold(
    "energy of a choke that a switch breaks with a spark and no more", 0.05, "J",
    Citation("practice", "coils of relays, of that energy, are switched without a diode"),
)  # fmt: skip
CARRIES_A = Threshold("current of a choke at work", 1e-3, "A", PRACTICE)
BIAS_V = Threshold("fixed bias that a switch may take away", 3.0, "V", PRACTICE)
LOST_SHARE = Threshold("share of its bias a tube has to keep", 0.5, "", PRACTICE)
DUST_V = 1e-3


RETURN_SHARE = 0.5
"""A resistor to gnd that carries this share of all plate current is in the supply's return."""


@rule(
    "supply.choke-opened",
    title="Switch that breaks the current of a choke",
    level="caution",
    states="warm; each switch thrown in turn",
    needs="the wiring around the choke; a solved state for the current",
    criterion=(
        f"With a switch thrown, the current of a choke of {FILTER_H.value:g} H or more has no "
        "return path: no capacitor, resistor, diode or tube joins its two ends any more. Advice "
        "where it holds "
        f"less than {ARC_J.value:g} J."
    ),
    why=(
        "A choke keeps its current going at any price. Opened, it raises its voltage until "
        "something gives way: the switch arcs under somebody's finger, the winding or a diode "
        "breaks down."
    ),
    source=(
        Citation("web-flyback", "flyback and catch diodes"),
        Citation("arithmetic", "energy L I^2 / 2"),
    ),
    limits=(
        "Any part that closes the ring counts, whatever its size: a bleeder of 100 kohm does, "
        "though 100 mA would make 10 kV of it. Output transformers are not looked at."
    ),
    thresholds=(ARC_J, CARRIES_A, FILTER_H),
)
def choke_opened(case: Case) -> Iterator[Outcome]:
    """Look for a switch without which a choke's ends are no longer joined."""
    circuit = case.circuit
    for choke in circuit.branches.values():
        henries = choke.henries if choke.kind is PartKind.INDUCTOR else None
        if henries is None or henries < FILTER_H.value or choke.a == choke.b:
            continue
        if not _ring(circuit, choke, None):
            continue
        amps = _warm_current(case, choke)
        for throw in throws_by_hand(circuit):
            if not _ring(circuit, choke, throw) and (amps is None or amps > CARRIES_A.value):
                yield _opened(case, choke, throw, henries, amps)


def _ring(circuit: Circuit, choke: Branch, thrown: str | None) -> bool:
    """Whether anything joins the ends of a choke but itself, with one switch thrown."""
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from((choke.a, choke.b))
    throws = frozenset(() if thrown is None else (thrown,))
    for branch in circuit.branches.values():
        by_hand = branch.traits.by_hand
        if branch is not choke and (not by_hand or branch.closed_with(throws)):
            graph.add_edge(branch.a, branch.b)
    for section in circuit.sections():
        nets = list(section.electrodes.values())
        graph.add_edges_from((nets[0], n) for n in nets[1:])
    return bool(nx.has_path(graph, choke.a, choke.b))


def _warm_current(case: Case, branch: Branch) -> float | None:
    wave = case.warm.current(branch.name) if case.warm.converged else None
    return None if wave is None else abs(wave.dc)


def _opened(case: Case, choke: Branch, throw: str, henries: float, amps: float | None) -> Outcome:
    owner = switch_of(throw)
    evidence: dict[str, Figure | str] = {"switch": owner, "inductance": figure(henries, "H")}
    energy, joules = "", 0.5 * henries * amps**2 if amps is not None else math.inf
    if amps is not None:
        evidence |= {"current": figure(amps, "A"), "energy": figure(joules, "J")}
        energy = f" with {joules:.2g} J in it"
    flow = amperes(amps) if amps is not None else "current"
    return choke_opened.finding(
        case,
        (choke.name, owner),
        f"{owner} breaks the {flow} through {choke.name}{energy}, and nothing takes it over",
        f"Move {owner} behind the capacitor that follows {choke.name}, or into the primary of the "
        "high-voltage transformer; else lead the current round it: a bleeder at the load side of "
        f"{choke.name} and a rectifier diode from gnd to its input side",
        state=f"{STANDBY} {throw}",
        level="advice" if joules < ARC_J.value else None,
        evidence=evidence,
        certainty="certain" if amps is not None else "likely",
    )


@rule(
    "supply.bias-switched",
    title="Standby switch takes the bias along",
    level="warning",
    states="standby, each switch thrown, against warm",
    needs="solved states warm and standby",
    criterion=(
        "With a switch thrown, the negative grid bias of a tube (3 V or more below gnd when warm) "
        "falls to less than half. With more than half of the plate's voltage still there it is a "
        "warning; where the switch cuts both, a notice."
    ),
    why=(
        "With high voltage on the plate and nothing on the grid an output tube draws all it can: "
        "the plate glows red within seconds. A switch that cuts both brings the high voltage back "
        "at once and the bias only as fast as its capacitors fill."
    ),
    source=Citation("web-standby", "heaters and bias stay on in standby"),
    limits=(
        "Each position is a steady state; how fast bias and supply come back is not reckoned. "
        "Cathode bias and grid-leak bias are left alone, stages that only switch (a relay's tube, "
        "half of a trigger), triodes whose plate stands what they then draw, and the bias that the "
        "set's own current makes on its way back, where the switch takes that too. Filaments that "
        "the same switch puts out need no bias."
    ),
    thresholds=(BIAS_V, LOST_SHARE),
)
def bias_switched(case: Case) -> Iterator[Outcome]:
    """Compare each fixed bias in standby with the working one."""
    if unsolved(case) is not None or not case.warm.converged:
        return
    asked = [s for s in case.circuit.sections() if not switches(case.circuit, s)]
    biased = [(s, v) for s in asked if (v := _bias(case.warm, s)) is not None]
    for solution in case.solved(STANDBY):
        lost = [
            (s, v) for s, v in biased
            if _lost(solution, s, v)
            and not _made_by_itself(case, solution, s)
            and not _cold_too(case, solution, s)
            and not _stands_it(case, solution, s)
        ]  # fmt: skip
        if lost:
            yield _without_bias(case, solution, lost)


def _bias(solution: Solution, section: Section) -> float | None:
    """The negative DC of a grid to gnd, volts; ``None`` where there is none to speak of."""
    if section.kind not in AMPLIFYING or "grid" not in section.electrodes:
        return None
    wave = solution.wave(section.electrodes["grid"])
    return wave.dc if wave is not None and wave.dc < -BIAS_V.value else None


def _lost(solution: Solution, section: Section, warm_v: float) -> bool:
    wave = solution.wave(section.electrodes["grid"])
    return wave is not None and wave.dc > LOST_SHARE.value * warm_v


def _made_by_itself(case: Case, solution: Solution, section: Section) -> bool:
    """Whether a bias is what the return of the plates' current drops, and the plate is cut off."""
    if _plate(solution, section) > LOST_SHARE.value * _plate(case.warm, section):
        return False
    nets = set(reach(case.circuit, [section.electrodes["grid"]], LANDMARKS)) - set(LANDMARKS)
    below = (b for n in nets for b in case.circuit.at(n) if b.kind is PartKind.RESISTOR)
    returns = [case.warm.current(b.name) for b in below if GROUND in (b.a, b.b)]
    plates = sum(r.plate_ma for r in case.warm.readings.values()) / 1e3
    return any(w is not None and abs(w.dc) > RETURN_SHARE * plates for w in returns)


def _cold_too(case: Case, solution: Solution, section: Section) -> bool:
    """Whether the switch takes the tube's filament along: a battery set that is switched off."""
    tube = case.circuit.tubes[section.tube]
    heater = tube.heater
    if heater is None or not tube.directly_heated:
        return False
    now = [solution.between(b.a, b.b) for b in heater.branches]
    before = [case.warm.between(b.a, b.b) for b in heater.branches]
    return all(
        a is not None and b is not None and a.rms < LOST_SHARE.value * b.rms
        for a, b in zip(now, before, strict=True)
    )


def _stands_it(case: Case, solution: Solution, section: Section) -> bool:
    """Whether a triode with plate current and no bias stays within its plate's watts."""
    found = solution.readings.get(section.name)
    limit = case.circuit.tubes[section.tube].type.rating("plate-dissipation", section.type.name)
    triode = section.kind is SectionKind.TRIODE and _plate(solution, section) > 0
    return triode and found is not None and limit is not None and found.plate_w <= limit.value


def _without_bias(case: Case, solution: Solution, lost: list[tuple[Section, float]]) -> Outcome:
    switches = switches_of(solution.state.thrown)
    switch = listed(switches)
    names = tuple(s.name for s, _ in lost)
    first, warm_v = lost[0]
    now = solution.wave(first.electrodes["grid"])
    left = now.dc if now is not None else 0.0
    plate = max(_plate(solution, s) for s, _ in lost)
    powered = any(_plate(solution, s) > LOST_SHARE.value * _plate(case.warm, s) for s, _ in lost)
    then = (
        f"with {volts(plate)} on the plate"
        if powered
        else "and when it is closed again the plates are there before the bias"
    )
    return bias_switched.finding(
        case,
        (*switches, *names),
        f"{switch} takes the bias of {listed(names)} from {volts(warm_v)} to {volts(left)}, {then}",
        f"Take the bias supply off ahead of {switch}, so that it is there as long as any supply is",
        state=solution.state.name,
        level="warning" if powered else "notice",
        evidence={
            "bias_warm": figure(warm_v, "V"),
            "bias_standby": figure(left, "V"),
            "bias_needed": figure(LOST_SHARE.value * warm_v, "V"),
            "plate_standby": figure(plate, "V"),
        },
        certainty="certain",
        excess=abs(warm_v) * LOST_SHARE.value / max(abs(left), 0.1),
    )


def _plate(solution: Solution, section: Section) -> float:
    reading = solution.readings.get(section.name)
    volts_there = (reading.plate_v if reading is not None else None) or 0.0
    return volts_there if abs(volts_there) > DUST_V else 0.0


RULES = (
    choke_opened,
    bias_switched,
)
