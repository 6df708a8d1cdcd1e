"""Diodes that are to protect a tube until it is warm, and conduct at work."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import unsolved_reason, warm_volts
from coldcheck.anatomy.neighbourhood import past_a_resistor, resistors_at
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import amperes, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

CONDUCTS_A = Threshold("current of a protecting diode at rest", 20e-6, "A", PRACTICE)
"""Blocking it has nanoamperes, and a megohm in series leaves tens of microamperes turned round."""

BELOW_V = 10.0
"""A rail this far below gnd takes a tail's current; a cathode's own bias is no such rail."""


@rule(
    "tube.guard-diode-conducts",
    title="Protecting diode that conducts at work",
    level="notice",
    states="warm",
    needs="a solved warm state",
    criterion=(
        "A diode between the grid and the cathode of one stage, a stopper between or not, or "
        "from a cathode whose resistor goes to a negative supply to gnd, carries more than "
        f"{CONDUCTS_A.value * 1e6:g} uA at rest."
    ),
    why=(
        "Such a diode is there for the time in which the tubes are cold: it keeps a cathode from "
        "being pulled far below gnd, or a grid from being driven far above its cathode. Turned "
        "round it conducts at work: it takes the tail's current, or ties grid and cathode "
        "together, and the signal goes through it."
    ),
    source=(PRACTICE, Citation("arithmetic", "the state solved")),
    limits=(
        "A diode from a cathode to gnd that makes the bias, without a negative supply, is left "
        "alone. So are zener diodes, and a grid meant to be held by a diode with a signal: only "
        "the current at rest is looked at."
    ),
    thresholds=(CONDUCTS_A,),
)
def guard_diode_conducts(case: Case) -> Iterator[Outcome]:
    """Look at the diodes at the cathodes of every stage."""
    if unsolved_reason(case) is not None:
        return
    seen: set[str] = set()
    for _, section in working(case.circuit):
        for diode in _diodes(case, section):
            wave = case.warm.current(diode.name)
            if diode.name in seen or wave is None or wave.dc <= CONDUCTS_A.value:
                continue
            seen.add(diode.name)
            yield _conducts(case, diode, section, wave.dc)


def _diodes(case: Case, section: Section) -> Iterator[Branch]:
    """The diodes that can only be there to protect a stage, whichever way round."""
    circuit, grid = case.circuit, section.net("grid")
    for cathode in section.cathode_nets:
        at = [b for b in circuit.at(cathode) if b.kind is PartKind.DIODE]
        for diode in at if cathode not in LANDMARKS else ():
            far = diode.other(cathode)
            grids = [] if grid is None else past_a_resistor(circuit, grid)
            to_gnd = far == GROUND and diode.a == cathode and _pulled_down(case, cathode)
            if to_gnd or (far in set(grids) - set(LANDMARKS) and _own(circuit, far, section)):
                yield diode


def _own(circuit: Circuit, net: str, section: Section) -> bool:
    """Whether no other stage's electrode is on a net: what is behind a stopper is the grid's."""
    return all(s.name == section.name or e == "plate" for s, e in circuit.electrodes_at(net))


def _pulled_down(case: Case, cathode: str) -> bool:
    """Whether a resistor leads from a cathode to a supply below gnd."""
    feet = [warm_volts(case, b.other(cathode)) for b in resistors_at(case.circuit, cathode)]
    return any(v is not None and v < -BELOW_V for v in feet)


def _conducts(case: Case, diode: Branch, section: Section, amps: float) -> Outcome:
    far = "gnd" if GROUND in (diode.a, diode.b) else "its grid"
    held = warm_volts(case, section.cathode_nets[0])
    at = "" if held is None else f": it holds the cathode at {volts(held)}"
    return guard_diode_conducts.finding(
        case,
        (diode.name, section.name),
        f"{diode.name} between the cathode of {section.name} and {far} carries {amperes(amps)} "
        f"with no signal{at}",
        f"Turn {diode.name} round, so that it blocks at work",
        state="warm",
        evidence={"current": figure(amps, "A")},
        limit=CONDUCTS_A.figure,
        certainty="likely",
        excess=amps / CONDUCTS_A.value,
    )


RULES: tuple[Rule, ...] = (guard_diode_conducts,)
