"""A coupling capacitor onto a terminal that nothing holds at 0 V."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import galvanic
from coldcheck.anatomy.galvanic import jacks, live_common
from coldcheck.anatomy.neighbourhood import net_text
from coldcheck.anatomy.reach import reach
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.preferred import preferred_below
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.limits import TOUCH_DC
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.rule import rule
from coldcheck.rules.capacitor import margin
from coldcheck.rules.capacitor.margin import choke_fed
from coldcheck.solve.off.charging import at_their_highest
from coldcheck.solve.solution import PULLED
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome

EASY_OHM, LEAST_OHM = 100e3, 1e3
FULL_S = 1.0
"""A terminal is at 0 V within some seconds of switching on: nobody plugs in before (practice)."""


@rule(
    "capacitor.undrained-output",
    title="Terminal behind a capacitor that nothing holds at 0 V",
    level="danger",
    states="every solved state with its tubes in, without load at the highest mains",
    needs="a solved state",
    criterion=(
        "A capacitor leads from a point at 60 V DC or more to a jack whose lead has no DC path to "
        "gnd. From a point fed through a choke or a transformer it is a danger (nothing but the "
        "fuse limits what a shorted capacitor lets through), else a caution."
    ),
    why=(
        "A blocking capacitor that leaks brings the whole supply to the antenna or the output "
        "jack, in silence. With a choke or resistor from there to gnd a leak does no harm, and a "
        "short blows the fuse."
    ),
    source=(
        Citation("web-mistakes", "safety choke at the output"),
        Citation("iec-62368-1", "60 V DC"),
    ),
    limits=(
        "Only jacks count as terminals; what a cable hung on one would be connected to is not "
        "known. A contact of the jack itself counts as a path."
    ),
    thresholds=(galvanic.SERIES_OHM, TOUCH_DC, margin.HELD_F),
)
def undrained_output(case: Case) -> Iterator[Outcome]:
    """Look behind every capacitor that stands on a high voltage."""
    if unsolved(case) is not None:
        return
    leads = {n: name for name, nets in jacks(case.circuit).items() for n in nets}
    for branch in case.circuit.branches.values():
        if branch.kind is not PartKind.CAPACITOR or branch.a == branch.b:
            continue
        for near in (branch.a, branch.b):
            worst, state = _most(case, near)
            if worst < TOUCH_DC.value:
                continue
            found = _terminal(case.circuit, branch, near, leads)
            if found:
                yield _undrained(case, branch, near, found, worst, state)


def _most(case: Case, net: str) -> tuple[float, str]:
    """The highest DC of a net in a state the set is run in, and the state."""
    running = (s for s in at_their_highest(case.solved()) if s.state.kind != PULLED)
    waves = ((s.wave(net), s.state.name) for s in running)
    return max(((abs(w.dc), name) for w, name in waves if w is not None), default=(0.0, ""))


def _terminal(
    circuit: Circuit, branch: Branch, near: str, leads: dict[str, str]
) -> tuple[str, ...]:
    """The jacks on the far side, where direct current gets from there to nowhere."""
    nets = tuple(reach(circuit, [branch.other(near)], LANDMARKS))
    if set(nets) & {*LANDMARKS, near} or any(circuit.electrodes_at(n) for n in nets):
        return ()
    return tuple(dict.fromkeys(leads[n] for n in nets if n in leads))


def _drain(branch: Branch) -> str:
    """What brings the far end of a capacitor to gnd within a second of its being charged."""
    farads = branch.farads or 0.0
    if farads * EASY_OHM <= FULL_S:
        return "100 kohm to 1 Mohm"
    return ohms(max(preferred_below(FULL_S / farads), LEAST_OHM))


def _undrained(
    case: Case, branch: Branch, near: str, found: tuple[str, ...], across: float, state: str
) -> Finding:
    circuit = case.circuit
    stiff = choke_fed(circuit, near)
    far = net_text(circuit, branch.other(near))
    what = (
        "a choke (2.5 mH at radio frequencies) or, where there is little power, 1 Mohm"
        if stiff
        else _drain(branch)
    )
    if live_common(circuit):
        what = "1 Mohm of a type made for the gap between mains and what is touched"
    return undrained_output.finding(
        case,
        (branch.name, *found),
        f"only {branch.name} keeps {volts(across)} off {listed(found)}, and nothing holds {far} "
        "at 0 V: a leak in it puts the supply there",
        f"Put {what} from {far} to gnd"
        + (f", and class Y2 in the place of {branch.name}" if live_common(circuit) else ""),
        state=state,
        level="danger" if stiff else "caution",
        evidence={"voltage": figure(across, "V"), "path_to_gnd": "none"},
        limit=TOUCH_DC.figure,
        certainty="certain",
        excess=across / TOUCH_DC.value,
    )


RULES = (undrained_output,)
