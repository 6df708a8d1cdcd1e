"""A diode of a meter's bridge that is turned round."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import PartKind
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@rule(
    "signal.meter-diode-turned",
    title="Diode of a meter's bridge turned round",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="a meter with two diodes of a bridge at each end",
    criterion="Two diodes from the same two points end at each terminal of a meter, and three of "
    "the four lead current through it one way: at one terminal in, at the other out.",
    why="The fourth passes the current by the meter in one half cycle and blocks it in the other: "
    "the pointer hardly moves, and where the meter's current was to be the feedback of an "
    "amplifier, that is lost too.",
    source=(PRACTICE, Citation("arithmetic", "the way a bridge conducts")),
    limits="Bridges with a resistor between diodes and meter are not looked at.",
)
def meter_diode_turned(case: Case) -> Iterator[Outcome]:
    """Look at the four diodes around each meter."""
    for meter in case.circuit.branches.values():
        if meter.kind is PartKind.METER:
            turned = _turned(case.circuit, meter)
            if len(turned) == 1:
                yield _finding(case, meter, turned[0])


def _turned(circuit: Circuit, meter: Branch) -> list[Branch]:
    """The diodes of a bridge that are not of the majority; none where there is no bridge."""
    near, far = (_diodes(circuit, net) for net in (meter.a, meter.b))
    points = {d.other(meter.a) for d in near}
    bridge = len(near) == len(far) == len(points) == 2
    if not bridge or points != {d.other(meter.b) for d in far}:
        return []
    into = [*(d for d in near if d.b == meter.a), *(d for d in far if d.a == meter.b)]
    out = [*(d for d in near if d.a == meter.a), *(d for d in far if d.b == meter.b)]
    return min(into, out, key=len)


def _diodes(circuit: Circuit, net: str) -> list[Branch]:
    return [b for b in circuit.at(net) if b.kind is PartKind.DIODE]


def _finding(case: Case, meter: Branch, diode: Branch) -> Finding:
    return meter_diode_turned.finding(
        case,
        (diode.owner, meter.owner),
        f"{diode.owner} is the other way round than the three other diodes of the bridge around "
        f"{meter.owner}: it leads the current past it, and it hardly moves",
        f"Turn {diode.owner} round",
        certainty="certain",
    )


RULES: tuple[Rule, ...] = (meter_diode_turned,)
