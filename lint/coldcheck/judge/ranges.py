"""How sure a verdict on a predicted figure is: the figure's range against its limit.

A figure whose range only touches the limit is told as ``possible``, and only where that serves:

* against limits that nothing may exceed, however it comes about: a working voltage, what a body
  or an insulation stands, an absolute or design-maximum rating. A design-centre rating is compared
  with nominal conditions and has the usual spread of mains and parts in it already;
* as ``advice``, whatever the rule's own level: an edge trips no gate;
* without the mains: high line is a state of its own, and judged;
* where the range was worked out, not assumed, and the set is complete.

The rules say what the edge is; :func:`reach` and :func:`possible` are the one place that knows
when to speak of it and how.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.drawing.wording import volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import POSSIBLE, REACH
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.solution import COLD, HIGH, LOW, STANDBY, WARM, WARMING
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch, Section
    from coldcheck.judge.finding import Finding
    from coldcheck.solve.solution import Solution

UNKNOWN = Threshold(
    "range of a figure whose spread was not worked out, as a share of it",
    0.2,
    "",
    Citation("practice", "tubes spread by some 20 %"),
)
"""Share taken where no spread was worked out: tubes spread by some 20 % (common practice)."""

WIDEST = Threshold(
    "widest range in which an edge is looked for, as a share of the figure", 0.25, "", PRACTICE
)
"""No edge is looked for further off than this share of the figure."""

BARELY = 1.0005
"""Figures within this of their limit are at it, not beyond it."""

COMPLETE = (WARM, HIGH, STANDBY, COLD, WARMING)
"""Kinds of states an edge is looked for in: every tube in its socket, the mains not low."""


def certainty(excess: float, off: float | None = None) -> str:
    """Say how sure it is that a figure ``excess`` times its limit is beyond it.

    ``off`` is the range as a share of the figure (UNKNOWN where it was not worked out).
    ``certain`` when the whole range is beyond the limit, ``likely`` when the figure as predicted
    is, ``possible`` when only the edge is.
    """
    if excess * (1 - (UNKNOWN.value if off is None else off)) >= 1:
        return "certain"
    return "likely" if excess >= 1 else POSSIBLE


def reach(
    solution: Solution, ends: tuple[str, str], value: float, limit: float, *, edge: bool = True
) -> float | None:
    """How far a voltage beyond its limit goes: ``None`` where it is within it.

    That is ``value`` itself where it is beyond the limit, else the upper end of its range
    where that is, and ``edge`` allows of a verdict on it. The range is that of the mean voltage
    between the two nets ``ends``, the mains left out.
    """
    if value > limit * BARELY:
        return value
    if not edge or value * (1 + WIDEST.value) <= limit or solution.state.kind not in COMPLETE:
        return None
    spread = solution.spread()
    most = value if spread is None else value + spread.volts(*ends, mains=False)
    return most if most > limit * BARELY else None


def possible(finding: Finding, most: float) -> Finding:
    """The finding as that of a figure of which only the edge, ``most`` volts, is beyond."""
    return replace(
        finding,
        level="advice",
        certainty=POSSIBLE,
        message=f"{finding.message}; the usual spread reaches {volts(most)}",
        evidence={**finding.evidence, REACH: figure(most, "V")},
    )


def between(solution: Solution, a: str, b: str, value: float) -> float:
    """The range of a voltage between two nets, as a share of ``value`` volts."""
    spread = solution.spread()
    if spread is None or not value:
        return UNKNOWN.value
    return spread.volts(a, b, mains=_nominal(solution)) / abs(value)


def across(solution: Solution, branch: Branch, value: float) -> float:
    """The range of the voltage across a part, as a share of ``value`` volts."""
    return between(solution, branch.a, branch.b, value)


def electrode(solution: Solution, section: Section, name: str, quantity: str) -> float:
    """The range of an electrode's ``volt``, ``watt`` or ``ampere``, as a share of the reading."""
    spread, reading = solution.spread(), solution.readings.get(section.name)
    net = section.net(name)
    if spread is None or reading is None or net is None:
        return UNKNOWN.value
    volts = reading.screen_v if name == "screen" else reading.plate_v
    amps = 1e-3 * (reading.screen_ma if name == "screen" else reading.plate_ma)
    cathode, mains = section.cathode_nets[0], _nominal(solution)
    if not volts or (quantity != "volt" and not amps):
        return UNKNOWN.value
    if quantity == "volt":
        return spread.volts(net, cathode, mains=mains) / abs(volts)
    if quantity == "watt":
        off = spread.power(section.name, name, net, cathode, (volts, amps), mains=mains)
        return off / abs(volts * amps)
    return spread.current(section.name, name, mains=mains) / abs(amps)


def _nominal(solution: Solution) -> bool:
    """Whether the mains may still move: a high or low line is already its end."""
    return solution.state.kind not in (HIGH, LOW)
