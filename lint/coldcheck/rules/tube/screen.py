"""The screen of a small pentode: a dropping resistor of its own, and a capacitor to hold it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import networkx as nx

from coldcheck.anatomy.channels import at_coils, behind
from coldcheck.anatomy.coupling import RADIO_F, decoupled, still_nets
from coldcheck.anatomy.grid_kinds import is_small
from coldcheck.anatomy.neighbourhood import amplifiers, metal, net_text, reading
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.preferred import preferred
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.finding import Blame
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

FREE_OHM = Threshold("screen resistor behind which a screen is free to move", 22e3, "ohm", PRACTICE)


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
        value = load.ohms or 0.0
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
    large = [b for b in feeds if (b.ohms or 0.0) >= SMALL_LOAD.value]
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
    value = load.ohms or 0.0
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


@rule(
    "tube.screen-unbypassed",
    title="Screen of an amplifying pentode without a capacitor",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="the wiring, and the values of the resistors at the screen",
    criterion="The screen of a small pentode that something drives, and whose plate gives a "
    f"signal, hangs on resistors of {FREE_OHM.value / 1e3:g} kohm or more to points that hold "
    "still, and on nothing else.",
    why="The screen draws current with the plate. Behind its resistor and without a capacitor it "
    "falls when the grid rises and takes most of the gain away, four fifths in an audio stage; "
    "what is left depends on the tube. In a tuned stage it couples back to the grid besides. All "
    "voltages at rest are right.",
    source=(
        PRACTICE,
        Citation("arithmetic", "the screen's own resistance is some tens of kilohms"),
    ),
    limits="Output tubes, whose screen resistors are small, and screens on a plate (pentodes "
    "joined as triodes) are left alone.",
    thresholds=(FREE_OHM, RADIO_F),
)
def screen_unbypassed(case: Case) -> Iterator[Outcome]:
    """Look at what is on each small pentode's screen."""
    circuit = case.circuit
    for tube, section in working(circuit):
        if section.kind is not SectionKind.PENTODE or not is_small(tube, section):
            continue
        held, plate = _resistors_alone(circuit, section), section.net("plate")
        gives = plate is not None and plate not in still_nets(circuit) and circuit.at(plate)
        if held and gives and behind(circuit, section):
            yield _unbypassed(case, section, held)


def _resistors_alone(circuit: Circuit, section: Section) -> list[Branch]:
    """The large resistors to still points that a screen is on; none where it is on more."""
    net = section.net("screen")
    if net is None or decoupled(circuit, net) or len(circuit.electrodes_at(net)) > 1:
        return []
    at = circuit.at(net)
    large = all(b.kind is PartKind.RESISTOR and (b.ohms or 0.0) >= FREE_OHM.value
                and decoupled(circuit, b.other(net)) for b in at)  # fmt: skip
    return at if large else []


def _unbypassed(case: Case, section: Section, held: list[Branch]) -> Finding:
    name, least = section.name, min(b.ohms or 0.0 for b in held)
    tuned = at_coils(case.circuit, section)
    return screen_unbypassed.finding(
        case,
        (f"{name}.screen", name, *(b.name for b in held)),
        f"{name}: its screen is on {listed(b.name for b in held)} ({ohms(least)}) with no "
        "capacitor: it moves against the grid and takes most of the gain away",
        f"Put {'10 nF' if tuned else '470 nF'}, for the supply's voltage, from {name}.screen to "
        f"{'gnd' if section.cathode_nets[0] in LANDMARKS else 'gnd or to its cathode'}",
        evidence={"screen resistor": figure(least, "ohm")},
        limit=FREE_OHM.figure,
        certainty="likely",
        excess=least / FREE_OHM.value,
    )


RULES: tuple[Rule, ...] = (screen_undropped, screen_unbypassed)
