"""Grid leaks that end on a heater line."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import still_nets
from coldcheck.anatomy.heater_lines import heater_lines
from coldcheck.anatomy.neighbourhood import net_text, resistors_at
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.wording import ohms
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

LEAK_OHM = Threshold(
    "least resistor that is a grid leak", 20e3, "ohm",
    Citation("practice", "47 kohm to 1 Mohm and up"),
)  # fmt: skip


HOLD = {"cathode", "plate", "plate1", "plate2"}
"""Electrodes that make a heater line's net a rail or an output: what hangs there means that."""


@rule(
    "grid.leak-on-heater-line",
    title="Grid leak returned to a heater bus",
    level="notice",
    blame=Blame.WIRING,
    states="the drawing alone",
    needs="the wiring of heaters and grids",
    criterion=(
        f"A resistor of {ohms(LEAK_OHM.value)} or more leads from a grid, or through its stopper, "
        "to a heater winding or to what lifts it, and that point is not gnd, nor the tube's own "
        "cathode."
    ),
    why=(
        "A heater bus carries hum, and a lifted one some tens of volts: both go straight to the "
        "grid. The bias is upset by the lift, and what is left of the signal hums."
    ),
    source=PRACTICE,
    limits="Directly heated tubes, whose filament is the cathode, are left alone, and lines tied "
    "to a cathode, by a small resistor too, or to a gas tube, which are that rail or output.",
    thresholds=(LEAK_OHM,),
)
def leak_on_heater_line(case: Case) -> Iterator[Outcome]:
    """Look at where the resistors at each grid end."""
    nets = _heater_nets(case.circuit)
    for tube, section in working(case.circuit):
        if tube.directly_heated:
            continue
        for leak, line in _leaks(case.circuit, section):
            if line in nets and not _held(case.circuit, line) and line not in section.cathode_nets:
                value = leak.ohms or 0.0
                where = net_text(case.circuit, line)
                yield leak_on_heater_line.finding(
                    case,
                    (section.name, leak.name),
                    f"the grid leak of {section.name}, {leak.name} ({ohms(value)}), ends on "
                    f"{where}, which is on the heaters of {nets[line]}",
                    f"Take {leak.name} from {where} to the point the cathode's current returns to: "
                    "gnd, or the bias supply",
                    evidence={"grid leak": figure(value, "ohm")},
                    limit=LEAK_OHM.figure,
                    certainty="certain",
                )


def _held(circuit: Circuit, line: str) -> bool:
    """Whether a heater line is a rail or an output: on a cathode, if behind a small resistor."""
    small = (b for b in resistors_at(circuit, line) if (b.ohms or inf) <= SMALL_OHM)
    near = (line, *(b.other(line) for b in small))
    return any(e in HOLD for n in near if n not in LANDMARKS for _, e in circuit.electrodes_at(n))


SMALL_OHM = 1e3
"""The resistors in the cathodes of pass tubes have less (common practice)."""


def _heater_nets(circuit: Circuit) -> dict[str, str]:
    """Net -> the heater line it belongs to; filaments that are cathodes left out."""
    found: dict[str, str] = {}
    for line in heater_lines(circuit):
        if not any(t.directly_heated for t in line.tubes):
            heated = {n for t in line.tubes if t.heater is not None for n in t.heater.nets}
            wound = {n for w in circuit.windings() if set(w.nets) & heated for n in w.nets}
            found |= dict.fromkeys((heated | wound) - set(LANDMARKS), line.name)
    return found


def _leaks(circuit: Circuit, section: Section) -> Iterator[tuple[Branch, str]]:
    """Resistors from a grid, straight or behind its stopper, and where each of them ends."""
    grid = section.net("grid")
    if grid is None or grid in LANDMARKS:
        return
    if any(e == "plate" for _, e in circuit.electrodes_at(grid)):
        return  # what is on this net loads a plate
    small = [b for b in resistors_at(circuit, grid) if (b.ohms or 0.0) < LEAK_OHM.value]
    still = still_nets(circuit)
    for net in (grid, *(b.other(grid) for b in small if b.other(grid) not in still)):
        for branch in resistors_at(circuit, net):
            if branch.value is not None and (branch.ohms or 0.0) >= LEAK_OHM.value:
                yield branch, branch.other(net)


RULES: tuple[Rule, ...] = (leak_on_heater_line,)
