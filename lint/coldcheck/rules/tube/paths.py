"""Tube rules: the DC paths every tube needs; the ratings are in ``tube_ratings``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import supplies
from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.cut_off import cut_off_by_hand
from coldcheck.anatomy.jacks import jacks
from coldcheck.anatomy.misfed import fed_past_capacitor
from coldcheck.anatomy.neighbourhood import net_text, reading
from coldcheck.anatomy.output_stage import thrown_circuit
from coldcheck.anatomy.reach import Ways, reach
from coldcheck.anatomy.roads import switch_positions
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, Section
    from coldcheck.judge.finding import Finding, Outcome

NEGATIVE_V = Threshold("plate below its own cathode", 20.0, "V", PRACTICE)


@rule(
    "tube.no-cathode-path",
    title="Cathode without a path to gnd",
    level="notice",
    states="the drawing alone",
    needs="the wiring of the cathode; no values",
    criterion="No DC path from the cathode to gnd, neither through parts nor through a tube below.",
    why="Plate current has to come back through the cathode. Without a path the tube does nothing, "
    "and its cathode floats up until the heater-cathode insulation takes the voltage.",
    source=PRACTICE,
    limits="Only DC paths drawn are seen; a path through a switch counts in either position: a "
    "telegraph key is drawn open, or plugged into a jack that is on the way.",
    thresholds=(supplies.FILTER_F, supplies.SERIES_OHMS),
)
def no_cathode_path(case: Case) -> Iterator[Outcome]:
    """Every cathode leads back to gnd, with a switch thrown if need be."""
    ways = Ways.of(case.circuit)
    open_ended = [s for _, s in working(case.circuit) if not ways.returned(s.cathode_nets)]
    others = [*switch_positions(case.circuit)][1:] if open_ended else []
    keyed = [Ways.of(thrown_circuit(case.circuit, thrown)) for thrown in others]
    for section in (s for s in open_ended if not _keyed_outside(case.circuit, s)):
        if not any(way.returned(section.cathode_nets) for way in keyed):
            yield _floating_cathode(case, section)


def _keyed_outside(circuit: Circuit, section: Section) -> bool:
    """Whether a jack is on the way of a cathode: what is plugged in closes it, a telegraph key."""
    tips = {n for j in jacks(circuit) for n in (j.tip, j.ring) if n is not None}
    return bool(tips & set(reach(circuit, section.cathode_nets, LANDMARKS)) - set(LANDMARKS))


def _floating_cathode(case: Case, section: Section) -> Finding:
    filament = "cathode" not in section.electrodes
    what = "filament" if filament else "cathode"
    net = section.cathode_nets[0]
    held = [b.name for b in case.circuit.at(net) if b.kind is PartKind.CAPACITOR]
    only = f", only {held[0]} (a capacitor)" if held else ""
    message = f"{section.name}: no DC path from its {what} to gnd{only}: no current can flow"
    remedy = "Wire the cathode resistor" if not filament else "Wire the filament's tap or middle"
    return no_cathode_path.finding(
        case,
        (section.name,),
        message,
        f"{remedy} to gnd{_usual_resistor(section)}",
        certainty="certain",
    )


def _usual_resistor(section: Section) -> str:
    values = {
        SectionKind.TRIODE: "1.5 kohm for a small triode",
        SectionKind.PENTODE: "250 to 500 ohm in a small stage",
    }
    return f", for instance {values[section.kind]}" if section.kind in values else ""


@rule(
    "tube.no-plate-supply",
    title="Plate without a supply",
    level="notice",
    states="the drawing alone; a negative plate when warm",
    needs="the wiring of the plate; a solved state for its polarity",
    criterion="No DC path from the plate to a source, a rectifier, a winding or the mains; or, "
    f"when warm, the plate is more than {NEGATIVE_V.value:g} V below its own cathode.",
    why="A plate that no supply reaches draws nothing. In a pentode with a fed screen it is worse: "
    "the screen takes all the current and glows.",
    source=PRACTICE,
    limits=(
        "A path counts even if it comes from a rail without a source: where the supply itself "
        "is not drawn, the review says that the drawing is incomplete. Behind a switch drawn "
        "open, supply.cut-off-at-work says it."
    ),
    thresholds=(NEGATIVE_V, supplies.FILTER_F, supplies.SERIES_OHMS),
)
def no_plate_supply(case: Case) -> Iterator[Outcome]:
    """Every plate is fed with DC."""
    ways = Ways.of(case.circuit)
    for _, section in working(case.circuit):
        plate = section.net("plate")
        if plate in cut_off_by_hand(case.circuit):
            continue
        if plate is not None and plate != section.net("grid") and not ways.fed(plate):
            yield _unfed(no_plate_supply, ways, case, section, "plate")
        elif (volts_there := _negative(case, section)) is not None:
            yield _reversed(case, section, volts_there)


def _negative(case: Case, section: Section) -> float | None:
    """The volts of a plate to its cathode when warm, where they are well below zero."""
    found = None if unsolved_reason(case) else reading(case.warm, section)
    known = found is not None and section.kind.amplifies and found.plate_v is not None
    value = found.plate_v if known and found is not None else None
    return value if value is not None and value < -NEGATIVE_V.value else None


def _reversed(case: Case, section: Section, value: float) -> Finding:
    name = section.name
    return no_plate_supply.finding(
        case,
        (name,),
        f"{name}: its plate is {volts(-value)} below its cathode: the supply is the wrong way "
        "round",
        f"Find what feeds {name}.plate with its minus: a battery, a rectifier, a winding's lead",
        state="warm",
        evidence={"plate": figure(value, "V")},
        limit=figure(-NEGATIVE_V.value, "V"),
        certainty="certain",
        excess=-value / NEGATIVE_V.value,
    )


@rule(
    "tube.no-screen-supply",
    title="Screen without a supply",
    level="notice",
    states="the drawing alone",
    needs="the wiring of the screen; no values",
    criterion="No DC path from the screen to a source, a rectifier, a winding or the mains.",
    why="Without voltage on its screen a pentode hardly conducts, and a floating screen takes "
    "whatever charge lands on it.",
    source=PRACTICE,
    limits=(
        "Only whether there is a DC path is judged here; what voltage arrives is for "
        "tube.screen-voltage and tube.screen-undropped."
    ),
    thresholds=(supplies.FILTER_F, supplies.SERIES_OHMS),
)
def no_screen_supply(case: Case) -> Iterator[Outcome]:
    """Every screen is fed with DC (the plate will do, as in triode connection)."""
    ways = Ways.of(case.circuit)
    for _, section in working(case.circuit):
        screen = section.net("screen")
        if screen is None or screen in cut_off_by_hand(case.circuit):
            continue
        if not ways.fed(screen):
            yield _unfed(no_screen_supply, ways, case, section, "screen")


def _unfed(which: Rule, ways: Ways, case: Case, section: Section, electrode: str) -> Finding:
    net = section.electrodes[electrode]
    if net in LANDMARKS:
        return _at_landmark(which, case, section, electrode)
    ends = [n for n in reach(case.circuit, [net], [GROUND]) if n != net]
    far = [net_text(case.circuit, n) for n in ends]
    leads = f"it leads to {far[-1]} and no further" if far else "nothing conducts to it"
    message = f"{section.name}: no supply reaches its {electrode}: {leads}"
    return which.finding(
        case,
        (section.name,),
        message + _screen_alone(ways, section, electrode),
        _feed_remedy(case.circuit, section, electrode),
        certainty="certain",
    )


def _at_landmark(which: Rule, case: Case, section: Section, electrode: str) -> Finding:
    where = section.electrodes[electrode]
    return which.finding(
        case,
        (section.name,),
        f"{section.name}: no supply reaches its {electrode}: it is joined to {where}",
        "See on the original whether the lines only cross there: joined ones have a dot",
        certainty="certain",
    )


def _screen_alone(ways: Ways, section: Section, electrode: str) -> str:
    screen = section.net("screen")
    alone = electrode == "plate" and screen is not None and ways.fed(screen)
    return "; its screen is fed and would take all the current" if alone else ""


def _feed_remedy(circuit: Circuit, section: Section, electrode: str) -> str:
    """Where to take the voltage from: for a screen, its own plate's supply."""
    net = section.electrodes[electrode]
    misfed = [m for m in fed_past_capacitor(circuit) if m.section is section]
    if electrode == "plate" and misfed:
        feed, past = misfed[0].feed.owner, misfed[0].capacitor.owner
        return f"Join {feed} to {net_text(circuit, misfed[0].near)}, the plate's side of {past}"
    loads = [b for b in circuit.at(net) if b.kind is PartKind.RESISTOR]
    load = f" through {loads[0].name}" if loads else ""
    value = si(loads[0].value, "ohm") if loads else None
    shown = f" ({ohms(value)})" if value else ""
    return f"Join the {electrode}{load}{shown} to a supply point, or draw the supply that feeds it"


RULES: tuple[Rule, ...] = (
    no_cathode_path,
    no_plate_supply,
    no_screen_supply,
)
