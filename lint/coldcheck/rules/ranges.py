"""How sure a verdict on a predicted figure is: the figure's range against its limit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.solve.solution import HIGH, LOW

if TYPE_CHECKING:
    from coldcheck.circuit.model import Branch, Section
    from coldcheck.solve.solution import Solution

UNKNOWN = 0.2
"""Share taken where no spread was worked out: tubes spread by some 20 % (common practice)."""


def certainty(excess: float, off: float = UNKNOWN) -> str:
    """Say how sure it is that a figure ``excess`` times its limit is beyond it.

    ``off`` is the range as a share of the figure. ``certain`` when the whole range is beyond the
    limit, ``likely`` when the figure as predicted is, ``possible`` when only the edge is.
    """
    if excess * (1 - off) >= 1:
        return "certain"
    return "likely" if excess >= 1 else "possible"


def between(solution: Solution, a: str, b: str, value: float) -> float:
    """The range of a voltage between two nets, as a share of ``value`` volts."""
    spread = solution.spread()
    if spread is None or not value:
        return UNKNOWN
    return spread.volts(a, b, mains=_nominal(solution)) / abs(value)


def across(solution: Solution, branch: Branch, value: float) -> float:
    """The range of the voltage across a part, as a share of ``value`` volts."""
    return between(solution, branch.a, branch.b, value)


def electrode(solution: Solution, section: Section, name: str, quantity: str) -> float:
    """The range of an electrode's ``volt``, ``watt`` or ``ampere``, as a share of the reading."""
    spread, reading = solution.spread(), solution.readings.get(section.name)
    net = section.net(name)
    if spread is None or reading is None or net is None:
        return UNKNOWN
    volts = reading.screen_v if name == "screen" else reading.plate_v
    amps = 1e-3 * (reading.screen_ma if name == "screen" else reading.plate_ma)
    cathode, mains = section.cathode_nets[0], _nominal(solution)
    if not volts or (quantity != "volt" and not amps):
        return UNKNOWN
    if quantity == "volt":
        return spread.volts(net, cathode, mains=mains) / abs(volts)
    if quantity == "watt":
        off = spread.power(section.name, name, net, cathode, (volts, amps), mains=mains)
        return off / abs(volts * amps)
    return spread.current(section.name, name, mains=mains) / abs(amps)


def _nominal(solution: Solution) -> bool:
    """Whether the mains may still move: a high or low line is already its end."""
    return solution.state.kind not in (HIGH, LOW)
