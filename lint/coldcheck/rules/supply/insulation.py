"""What windings and chokes stand against their cores, and what the circuit puts there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import volts
from coldcheck.judge.figure import figure
from coldcheck.judge.limits import TOUCH_DC
from coldcheck.judge.ranges import UNKNOWN, certainty
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.solution import COLD, HIGH, LOW, STANDBY, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Winding
    from coldcheck.judge.finding import Outcome

STATES = (COLD, WARM, HIGH, LOW, STANDBY)
UNSTATED_V = Threshold(
    "voltage to the core that a winding of a set is made for without saying so",
    1000.0,
    "V",
    PRACTICE,
)


@dataclass(frozen=True, slots=True)
class Coil:
    """A winding or choke: the nets of its leads, and what its insulation stands, volts."""

    name: str
    nets: tuple[str, ...]
    stands: float | None
    lifted: str | None
    """The net of a tap, or the end towards gnd, that ought to be quiet."""


@rule(
    "supply.insulation-overstressed",
    title="Winding or choke beyond what its insulation stands",
    level="notice",
    states="cold, warm, high line, low line and standby",
    needs="a solved state and the `insulation` of the winding or choke",
    criterion="The highest instant of any of its leads to gnd, where the core is, exceeds the "
    "stated insulation. Without a stated insulation the tap of a high-voltage winding, a choke in "
    "the negative lead, and any coil at a kilovolt or more are mentioned, as not judged.",
    why="A choke in the negative lead, or a standby switch in the tap, lifts the winding's tap off "
    "gnd: it carries the ripple, and with the switch open or the choke unloaded the whole peak of "
    "the high voltage. A tap brought out for gnd may have a layer of paper under it and no more.",
    source=Citation("drawing", "the rating written"),
    limits="The core is taken to be at gnd. The stress between one winding and the next is not "
    "looked at, nor the spikes when a choke's current is broken.",
    thresholds=(TOUCH_DC, UNKNOWN),
)
def insulation_overstressed(case: Case) -> Iterator[Outcome]:
    """The highest lead of every coil against its insulation."""
    reason = unsolved_reason(case)
    for coil in _coils(case.circuit):
        if coil.stands is None:
            yield from _unstated(case, coil)
        elif reason is not None:
            yield insulation_overstressed.not_judged((coil.name,), reason)
        else:
            yield from _judge(case, coil, coil.stands)


def _coils(circuit: Circuit) -> Iterator[Coil]:
    for winding in circuit.windings():
        yield Coil(winding.name, winding.nets, si(winding.insulation, "volt"), _tap(winding))
    for wound in circuit.coils():
        yield Coil(wound.name, wound.nets, si(wound.insulation, "volt"), None)
    for branch in circuit.branches.values():
        if branch.kind is PartKind.INDUCTOR:
            stands = si(branch.part.insulation, "volt") if branch.part else None
            yield Coil(branch.name, (branch.a, branch.b), stands, _far_end(circuit, branch))


def _tap(winding: Winding) -> str | None:
    """The tap of a high-voltage winding, where it is not at gnd."""
    high = (si(winding.volts, "volt") or 0.0) > TOUCH_DC.value and not winding.primary
    taps = [net for lead, net in winding.leads if lead == "ct"]
    return taps[0] if high and taps and taps[0] != GROUND else None


def _far_end(circuit: Circuit, branch: Branch) -> str | None:
    """The far end of a choke between a winding and gnd: one in the negative lead."""
    ends = {branch.a, branch.b}
    if GROUND not in ends or len(ends) < 2:
        return None
    far = branch.other(GROUND)
    on_winding = any(b.kind is PartKind.WINDING for b in circuit.at(far))
    return far if on_winding or any(b.kind is PartKind.DIODE for b in circuit.at(far)) else None


def _peaks(case: Case, nets: tuple[str, ...]) -> Iterator[tuple[str, str, float]]:
    """(state, net, highest instant to gnd) for each lead and state."""
    for solution in case.solved(*STATES):
        for net in nets:
            wave = solution.wave(net)
            if wave is not None:
                yield solution.state.name, net, wave.peak


def _unstated(case: Case, coil: Coil) -> Iterator[Outcome]:
    lifted = list(_peaks(case, (coil.lifted,))) if coil.lifted is not None else []
    high = [x for x in _peaks(case, coil.nets) if x[2] > UNSTATED_V.value]
    worst = max((*lifted, *high), key=lambda x: x[2], default=None)
    if worst is not None and worst[2] > TOUCH_DC.value:
        _, net, peak = worst
        yield insulation_overstressed.not_judged(
            (coil.name,),
            f"{net_text(case.circuit, net)} reaches {volts(peak)} to gnd, and what "
            f"{coil.name} stands to its core is not written (insulation 1000 V)",
        )


def _judge(case: Case, coil: Coil, stands: float) -> Iterator[Outcome]:
    for state, net, peak in _peaks(case, coil.nets):
        excess = peak / stands
        if excess > 1:
            yield insulation_overstressed.finding(
                case,
                (coil.name,),
                f"{net_text(case.circuit, net)} reaches {volts(peak)} to gnd; {coil.name} is "
                f"insulated for {volts(stands)}",
                "Put the choke or the switch into the positive lead and the tap to gnd, or use a "
                f"part insulated for {volts(_next_hundred(1.25 * peak))} or more",
                state=state,
                evidence={"peak": figure(peak, "V"), "net": net},
                limit=figure(stands, "V"),
                certainty=certainty(excess),
                excess=excess,
            )


def _next_hundred(number: float) -> float:
    return 100.0 * -(-number // 100)


RULES: tuple[Rule, ...] = (insulation_overstressed,)
