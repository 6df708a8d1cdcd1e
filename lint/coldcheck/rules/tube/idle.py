"""Push-pull output tubes with fixed bias that are set too hot."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import grid_kinds
from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.grid_kinds import bias_kind, is_power_tube
from coldcheck.anatomy.neighbourhood import metal, nearest, reading
from coldcheck.anatomy.working import working
from coldcheck.drawing.wording import listed, watts
from coldcheck.judge.figure import figure
from coldcheck.judge.ranges import UNKNOWN, certainty, electrode
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation, Cited

if TYPE_CHECKING:
    from collections.abc import Iterator

    import networkx as nx

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, OutputTransformer, Section, Tube
    from coldcheck.circuit.tubes import Sourced
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule

SHARE = Threshold(
    "plate dissipation of a pair in class AB at rest, as a share of its rating",
    0.7,
    "",
    Citation("web-bias", "70 %"),
)
LEAD_OHMS = Threshold("most resistance of a parasitic stopper at a plate", 100.0, "ohm", PRACTICE)
"""A parasitic resistor between a plate and its transformer is no more than this."""


@rule(
    "tube.idles-hot-in-class-ab",
    title="Push-pull tubes with fixed bias idle too hot",
    level="advice",
    states="warm",
    needs="a solved warm state and the plate dissipation of the type",
    criterion="Two power tubes on the two ends of a tapped output transformer, with fixed bias, "
    f"idle at more than {SHARE.value:.0%} of their plate dissipation.".replace("%", " %"),
    why="With fixed bias nothing holds the current back when the mains rises or a tube ages, and "
    "in class AB the dissipation grows from idle towards the middle of the power range. Seven "
    "tenths at idle leaves room for both.",
    source=Citation("web-bias"),
    limits="The growth with the signal is not worked out. Single-ended and cathode-biased stages "
    "may run up to their rating and are judged by it alone.",
    thresholds=(
        LEAD_OHMS,
        SHARE,
        UNKNOWN,
        grid_kinds.GRID_LEAK_OHMS,
        grid_kinds.POWER_WATTS,
        grid_kinds.SENSE_OHMS,
        grid_kinds.SMALL_WATTS,
    ),
)
def idles_hot(case: Case) -> Iterator[Outcome]:
    """Look at both sides of every push-pull transformer."""
    if unsolved_reason(case) is not None:
        return
    graph = metal(case.circuit)
    for output in case.circuit.outputs.values():
        hot = [
            (t, s)
            for t, s in _pair(case.circuit, graph, output)
            if _share(case, t, s) > SHARE.value
        ]
        if hot:
            yield _hot(case, output, hot)


def _pair(
    circuit: Circuit, graph: nx.Graph[str], output: OutputTransformer
) -> list[tuple[Tube, Section]]:
    """Power tubes with fixed bias on both ends of the primary, or none."""
    leads = dict(output.leads)
    if "ct" not in leads:
        return []
    sides = [_at(circuit, graph, leads[end]) for end in ("p1", "p2")]
    if not all(sides):
        return []
    both = [pair for side in sides for pair in side]
    return [(t, s) for t, s in both if bias_kind(circuit, s) == "fixed"]


def _at(circuit: Circuit, graph: nx.Graph[str], lead: str) -> list[tuple[Tube, Section]]:
    found = []
    for tube, section in working(circuit):
        plate = section.net("plate")
        if plate is None or not is_power_tube(tube, section) or section.net("grid") is None:
            continue
        away = nearest(graph, plate, lead)
        if away is not None and away <= LEAD_OHMS.value:
            found.append((tube, section))
    return found


def _rated(tube: Tube, section: Section) -> Sourced | None:
    return tube.type.rating("plate-dissipation", section.type.name)


def _share(case: Case, tube: Tube, section: Section) -> float:
    """Plate dissipation as a share of the rating; 0 where either is not known."""
    limit, found = _rated(tube, section), reading(case.warm, section)
    return found.plate_w / limit.value if limit is not None and found is not None else 0.0


def _hot(case: Case, output: OutputTransformer, hot: list[tuple[Tube, Section]]) -> Finding:
    tube, section = max(hot, key=lambda pair: _share(case, *pair))
    share, limit = _share(case, tube, section), _rated(tube, section)
    assert limit is not None
    power, amps = share * limit.value, case.warm.readings[section.name].plate_ma
    names = tuple(s.name for _, s in hot)
    return idles_hot.finding(
        case,
        names,
        f"{listed(names)} idle at {watts(power)} of the {watts(limit.value)} their plates may "
        f"turn into heat, {share:.0%}, with fixed bias on {output.name}".replace("%", " %"),
        f"Make the bias more negative until the plate current is {amps * SHARE.value / share:.3g} "
        f"mA per tube or less; it is {amps:.3g} mA now",
        state="warm",
        evidence={
            "plate_dissipation": figure(power, "W"),
            "rated": figure(limit.value, "W"),
            "plate_current": figure(amps, "mA"),
        },
        limit=figure(SHARE.value * limit.value, "W"),
        certainty=certainty(share / SHARE.value, electrode(case.warm, section, "plate", "watt")),
        source=Cited(f"rating: {limit.cited}; {SHARE.text}", (*limit.cited.cites, SHARE.source)),
        excess=share / SHARE.value,
    )


RULES: tuple[Rule, ...] = (idles_hot,)
