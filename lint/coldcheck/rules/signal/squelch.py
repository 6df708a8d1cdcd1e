"""Squelch: a tube that takes a stage's grid down while there is no station."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import net_text, resistors_at
from coldcheck.anatomy.squelch import gates
from coldcheck.circuit.model import LANDMARKS
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.squelch import Gate
    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

ABOVE_V = Threshold(
    "volts by which a gate's supply may stand above the cathode it opens", 15.0, "V",
    Citation("practice", "it is taken from the foot of that cathode, a volt or two below it"),
)  # fmt: skip


@rule(
    "signal.squelch-opens-too-far",
    title="Squelch tube fed from above the cathode of its stage",
    level="notice",
    states="warm",
    needs="a solved warm state",
    criterion="The grid leak of a stage that gets its signal by a capacitor ends at the plate of "
    "another tube, where a capacitor to gnd keeps the audio away. That plate's resistor comes from "
    f"a supply more than {ABOVE_V.figure.text()} above the stage's cathode.",
    why="With a station the squelch tube is cut off and its plate goes to where its resistor comes "
    "from. That is to be the foot of the stage's cathode, so that the stage is then biased as any "
    "other. From the supply its grid is pulled up until it takes current: the stage clips "
    "whatever it gets.",
    source=(PRACTICE, Citation("arithmetic", "no current, no drop across the plate resistor")),
    limits="Gates by diodes, and stages coupled directly, are not looked at.",
    thresholds=(ABOVE_V,),
)
def squelch_opens_too_far(case: Case) -> Iterator[Outcome]:
    """Compare what feeds each gate's plate with the cathode of the stage behind."""
    for found in gates(case.circuit):
        cathode = found.stage.cathode_nets[0]
        volts = [case.warm.waves.get(n) for n in (found.supply, cathode)]
        top, own = (None if v is None else v.dc for v in volts)
        if top is not None and own is not None and top - own > ABOVE_V.value:
            yield _finding(case, found, top, own)


def _finding(case: Case, found: Gate, top: float, own: float) -> Finding:
    stage, feed = found.stage, found.feed
    return squelch_opens_too_far.finding(
        case,
        (feed.owner, found.gate.name, stage.name),
        f"With {found.gate.name} cut off {feed.owner} takes the grid of {stage.name} towards the "
        f"{top:.0f} V of {net_text(case.circuit, found.supply)}, and its cathode is at "
        f"{own:.0f} V: it takes current and clips what it gets",
        f"Take {feed.owner} from {_foot(case.circuit, stage)} in place of "
        f"{net_text(case.circuit, found.supply)}",
        state="warm",
        evidence={"supply": figure(top, "V"), "cathode": figure(own, "V")},
        limit=ABOVE_V.figure,
        certainty="likely",
        excess=(top - own) / ABOVE_V.value,
    )


def _foot(circuit: Circuit, stage: Section) -> str:
    """Where the cathode resistor of a stage ends, if that is no landmark; else what is needed."""
    cathode = stage.cathode_nets[0]
    feet = [b.other(cathode) for b in resistors_at(circuit, cathode)]
    raised = [n for n in feet if n not in LANDMARKS]
    return (
        net_text(circuit, raised[0]) if len(raised) == 1 == len(feet) else f"{stage.name}.cathode"
    )


RULES: tuple[Rule, ...] = (squelch_opens_too_far,)
