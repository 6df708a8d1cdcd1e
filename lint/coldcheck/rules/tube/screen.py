"""The screen of a resistance-loaded pentode: it wants a dropping resistor of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.neighbourhood import amplifiers, metal, net_text, reading
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.preferred import preferred
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome

SHARE = Threshold(
    "screen resistor as a share of the plate load",
    0.1,
    "",
    Citation("practice", "published resistance-coupled stages: 3.5 to 5 times"),
)
DROPPER = 3.5
"""Screen resistor over plate load in published resistance-coupled stages (6SJ7: 3.5 to 5, EF86:
3.9 to 4.5)."""

SMALL_LOAD = Threshold("least plate load of a resistance-coupled stage", 10e3, "ohm", PRACTICE)
BOTTOMED = Threshold("plate voltage at rest, as a share of its supply", 0.15, "", PRACTICE)
"""A plate that idles below this share of its supply has no room to swing down."""


@rule(
    "tube.screen-undropped",
    title="Screen of a resistance-loaded pentode on the plate's own supply",
    level="notice",
    states="the drawing, with the plate's voltage in the nominal state",
    needs="the wiring, and the value of the plate load",
    criterion="The plate stands behind a load of 10 kohm or more, the screen less than a tenth "
    "of that from the same supply, and the plate idles below 15 % of the supply.",
    why="The screen sets the current of a pentode. With the full supply on it the plate load drops "
    "all there is: the plate sits at a few volts and cannot swing.",
    source=Citation(
        "practice",
        "published resistance-coupled stages: screen resistor 3.5 to 5 times the plate load",
    ),
    limits="A stage whose bias is large enough to hold its current down is not reported; nor is "
    "one fed from a divider.",
    thresholds=(BOTTOMED, SHARE, SMALL_LOAD),
)
def screen_undropped(case: Case) -> Iterator[Outcome]:
    """Each pentode with a resistor for a load."""
    graph = metal(case.circuit)
    warm = case.solutions.get("warm")
    for _, section in amplifiers(case.circuit):
        load = _load(case.circuit, section)
        net = section.net("screen")
        if load is None or net is None or net == GROUND or net not in graph:
            continue
        supply = load.other(section.electrodes["plate"])
        ohm = _between(graph, net, supply)
        value = si(load.value, "ohm") or 0.0
        if ohm is None or ohm >= SHARE.value * value:
            continue
        found = reading(warm, section) if warm is not None and warm.converged else None
        high = warm.waves.get(supply) if warm is not None and warm.converged else None
        if found is None or found.plate_v is None or high is None:
            yield screen_undropped.not_judged((section.name,), "its plate's voltage is not known")
        elif found.plate_v < BOTTOMED.value * high.dc:
            yield _finding(case, section, load, (found.plate_v, high.dc))


def _load(circuit: Circuit, section: Section) -> Branch | None:
    """The resistor that feeds the plate of a pentode, where there is just one."""
    plate = section.net("plate")
    if section.kind is not SectionKind.PENTODE or plate is None or plate == section.net("screen"):
        return None
    feeds = [b for b in circuit.at(plate) if b.kind is PartKind.RESISTOR]
    large = [b for b in feeds if (si(b.value, "ohm") or 0.0) >= SMALL_LOAD.value]
    return large[0] if len(feeds) == 1 and large and large[0].a != large[0].b else None


def _between(graph: nx.Graph[str], a: str, b: str) -> float | None:
    """Ohms from a to b without crossing gnd; ``None`` where nothing joins them."""
    if a == b:
        return 0.0
    near = graph.subgraph(n for n in graph if n != GROUND)
    if b not in near or not nx.has_path(near, a, b):
        return None
    return float(nx.dijkstra_path_length(near, a, b))


def _finding(case: Case, section: Section, load: Branch, at: tuple[float, float]) -> Finding:
    value = si(load.value, "ohm") or 0.0
    supply = net_text(case.circuit, load.other(section.electrodes["plate"]))
    return screen_undropped.finding(
        case,
        (section.name,),
        f"{section.name}: its screen is on {supply} ({volts(at[1])}) and its plate behind "
        f"{load.name} is down at {volts(at[0])}",
        f"Feed the screen through about {ohms(preferred(DROPPER * value))} (3.5 to 5 times "
        f"{load.name}), with 100 nF from the screen to gnd",
        state="warm",
        evidence={"plate": figure(at[0], "V"), "supply": figure(at[1], "V")},
        limit=figure(BOTTOMED.value * at[1], "V"),
        excess=min(BOTTOMED.value * at[1] / max(at[0], 1e-3), 1e3),
    )


RULES: tuple[Rule, ...] = (screen_undropped,)
