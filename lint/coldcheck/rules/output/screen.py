"""Screens of output tubes: what feeds them, how high they stand, what a switch leaves on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import output_drive, output_stage, supplies
from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.neighbourhood import net_text, reading
from coldcheck.anatomy.output_drive import CLEARLY, LEAST_OHM, better_feed, drive_of, screen_feed
from coldcheck.anatomy.output_stage import output_tubes, thrown_circuit
from coldcheck.anatomy.reach import Ways
from coldcheck.anatomy.working import working
from coldcheck.circuit.throws import switches_of
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, ohms, volts, watts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.ranges import UNKNOWN, between, certainty
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.solution import STANDBY
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.output_drive import Drive, Feed
    from coldcheck.anatomy.output_stage import OutputTube
    from coldcheck.circuit.model import Section
    from coldcheck.judge.finding import Finding, Outcome

LEAST_VOLT = Threshold(
    "screen supply that needs no resistor",
    200.0,
    "V",
    Citation("practice", "radio sets fed screens of 110 V straight from the supply"),
)
"""Radio sets fed screens of 110 V straight from the supply for decades (common practice)."""

ABOVE_VOLT = Threshold(
    "screen above its plate, DC", 20.0, "V", Citation("practice", "the drop of an ordinary primary")
)


@rule(
    "output.no-screen-resistor",
    title="Screen of an output tube straight on the supply",
    level="notice",
    states="the drawing, with the voltages of the nominal state",
    needs="a pentode on an output transformer; a solved state for the level",
    criterion="Less than 100 ohm between the screen and the supply point that feeds it, with more "
    "than 200 V on the screen: advice; notice where the screen would also take more than 2.4 "
    "times its rating at full drive.",
    why="When the plate swings down, the current it no longer takes goes to the screen. A "
    "resistor of 470 ohm to 1 kohm lets the screen's voltage sag with it; without one the wire "
    "glows when the amplifier is driven hard.",
    source=Citation(
        "web-screen-resistors",
        "470 ohm to 1 kohm for the 6L6 class; a screen at 440 V that takes "
        "3.5 mA at rest took 40 mA at the peak, 17.6 W",
    ),
    limits="Screens on a tap or tied to the plate are left alone. Only tubes on an output "
    "transformer are looked at.",
    thresholds=(
        CLEARLY,
        LEAST_OHM,
        LEAST_VOLT,
        output_drive.ON_PEAKS,
        output_stage.LOAD_FACTOR,
        output_stage.PLATE_STOPPER,
        output_stage.SCREEN_STOPPER,
        output_stage.STIFF_FARAD,
        supplies.FILTER_F,
        supplies.SERIES_OHMS,
    ),
)
def no_screen_resistor(case: Case) -> Iterator[Outcome]:
    """Every output pentode's feed; tubes that share a transformer and a feed together."""
    together: dict[tuple[str, str], list[tuple[OutputTube, Feed]]] = {}
    for stage in output_tubes(case.circuit):
        feed = screen_feed(case.circuit, stage)
        if stage.section.kind is SectionKind.PENTODE and feed is not None and feed.direct:
            together.setdefault((stage.output.name, feed.net), []).append((stage, feed))
    for (_, net), found in together.items():
        if _above(case, net):
            yield _unprotected(case, found)


def _above(case: Case, net: str) -> bool:
    """Whether a screen supply is above what needs no resistor; an unknown one is taken to be."""
    warm = case.solutions.get("warm")
    wave = warm.waves.get(net) if warm is not None and warm.converged else None
    return wave is None or wave.dc > LEAST_VOLT.value


def _unprotected(case: Case, found: list[tuple[OutputTube, Feed]]) -> Finding:
    names = tuple(stage.section.name for stage, _ in found)
    stage, feed = found[0]
    drive, far = drive_of(case, stage), net_text(case.circuit, feed.net)
    how = f"only {ohms(feed.ohms)} from" if feed.ohms and not feed.bypassed else "straight on"
    over = drive if drive is not None and drive.excess > CLEARLY.value else None
    better = better_feed(stage, over) if over else None
    value, power = better or (1000.0 if _small(stage) else 470.0, 0.5)
    between = 0.0 if feed.bypassed else feed.ohms
    evidence: dict[str, Figure | str] = {
        "screen": figure(between, "ohm"),
        "limit": LEAST_OHM.figure,
    }
    return no_screen_resistor.finding(
        case,
        names,
        f"{listed(names)}: {'the screen is' if len(names) == 1 else 'the screens are'} {how} {far}"
        f"{_at_full_drive(over) if over else ''}",
        f"Put {ohms(value)}, {watts(max(2 * power, 1.0))} or more, between {far} and "
        f"{listed(f'{n}.screen' for n in names)}, at the socket, one for each tube",
        state="warm" if over else "drawing",
        level=None if over else "advice",
        evidence={**evidence, **(over.evidence if over else {})},
        certainty="likely" if over else "certain",
        excess=over.excess if over else 1.0,
    )


def _small(stage: OutputTube) -> bool:
    limit = stage.tube.type.rating("screen-dissipation", stage.section.type.name)
    return limit is not None and limit.value < 3.0


def _at_full_drive(drive: Drive) -> str:
    return (
        f"; at full drive one takes {watts(drive.cycle.screen_w)} on average "
        f"({watts(drive.cycle.screen_peak_w)} with the plate down at "
        f"{volts(drive.cycle.lowest_plate_v)}), rating {watts(drive.limit.value)}"
    )


@rule(
    "output.screen-above-plate",
    title="Screen of an output tube above its plate",
    level="notice",
    states="nominal",
    needs="a solved nominal state",
    criterion="DC of the screen more than 20 V above that of the plate, at rest, in a pentode on "
    "an output transformer.",
    why="The screen then attracts more than its share of the current even without a signal, and "
    "nearly all of it when the plate swings down. It is thin wire and melts.",
    source=(
        Citation("web-screen-grids"),
        Citation("practice", "20 V is the drop of an ordinary primary"),
    ),
    limits="At rest only; resistance-loaded stages, where a high screen can be meant, are left "
    "alone. The screen's own rating is judged by tube.screen-voltage.",
    thresholds=(
        ABOVE_VOLT,
        UNKNOWN,
        output_stage.PLATE_STOPPER,
        output_stage.SCREEN_STOPPER,
        supplies.FILTER_F,
        supplies.SERIES_OHMS,
    ),
)
def screen_above_plate(case: Case) -> Iterator[Outcome]:
    """Idle volts of screen and plate."""
    stages = [s for s in output_tubes(case.circuit) if s.section.kind is SectionKind.PENTODE]
    reason = unsolved_reason(case)
    if reason is not None:
        yield from (screen_above_plate.not_judged((s.section.name,), reason) for s in stages)
        return
    for stage in stages:
        found = reading(case.warm, stage.section)
        if found is None or found.plate_v is None or found.screen_v is None:
            continue
        if found.plate_v <= 0:
            continue  # no supply at all: tube.no-plate-supply says so
        above = found.screen_v - found.plate_v
        if above > ABOVE_VOLT.value:
            yield _above_plate(case, stage, (found.screen_v, found.plate_v))


def _above_plate(case: Case, stage: OutputTube, at: tuple[float, float]) -> Finding:
    section = stage.section
    screen, plate = section.electrodes["screen"], section.electrodes["plate"]
    above = at[0] - at[1]
    off = between(case.warm, screen, plate, above)
    return screen_above_plate.finding(
        case,
        (section.name,),
        f"{section.name}: screen {volts(at[0])}, plate {volts(at[1])} to the cathode: the screen "
        f"is {volts(above)} above, limit {volts(ABOVE_VOLT.value)}",
        "Feed the screen from the point that feeds the plate or one behind it in the supply, "
        "through 470 ohm to 1 kohm, and the plate from the stiffest point",
        state="warm",
        evidence={"screen": figure(at[0], "V"), "plate": figure(at[1], "V")},
        limit=ABOVE_VOLT.figure,
        certainty=certainty(above / ABOVE_VOLT.value, off),
        excess=above / ABOVE_VOLT.value,
    )


@rule(
    "output.screen-left-fed",
    title="Switch or fuse that takes the plate's supply and leaves the screen's",
    level="notice",
    states="standby: each switch thrown in turn, each fuse blown in turn",
    needs="the wiring; no values",
    criterion="With a switch in its other position, or a fuse blown, no DC path leads from the "
    "plate to a supply, and one leads from the screen. The plate is fed in the position drawn.",
    why="A screen that stands alone before a hot cathode takes the whole current. In a power tube "
    "that is several times what it can radiate.",
    source=PRACTICE,
    limits="One switch or fuse at a time. A fuse in the cathode or the plate lead of one tube of "
    "several counts as well. A lead that comes off does the same: `faults` shows it.",
    thresholds=(supplies.FILTER_F, supplies.SERIES_OHMS),
)
def screen_left_fed(case: Case) -> Iterator[Outcome]:
    """Throw each switch and look where DC still gets to."""
    now = Ways.of(case.circuit)
    pentodes = [s for _, s in working(case.circuit) if s.kind is SectionKind.PENTODE]
    fed = [s for s in pentodes if now.fed(s.electrodes["plate"])]
    for opened, state in _openings(case) if fed else ():
        ways = Ways.of(thrown_circuit(case.circuit, opened))
        left = [s for s in fed if _only_screen(ways, s)]
        if left:
            yield _left_fed(case, left, opened, state)


def _only_screen(ways: Ways, section: Section) -> bool:
    """Whether a supply gets to the screen and not to the plate."""
    screen = section.net("screen")
    return screen is not None and ways.fed(screen) and not ways.fed(section.electrodes["plate"])


def _openings(case: Case) -> Iterator[tuple[frozenset[str], str]]:
    """What can interrupt a supply, and the state's name: switches in standby, fuses blown."""
    for solution in case.solutions.values():
        if solution.state.kind == STANDBY and solution.state.thrown:
            yield solution.state.thrown, solution.state.name
    for branch in case.circuit.branches.values():
        if branch.kind is PartKind.FUSE and branch.a != branch.b:
            yield frozenset((branch.owner,)), f"{branch.owner} blown"


def _left_fed(case: Case, sections: list[Section], opened: frozenset[str], state: str) -> Finding:
    switches, blown = switches_of(opened), state.endswith("blown")
    name = ", ".join(switches)
    tubes = [s.name for s in sections]
    whose = "its plate and leaves it on its screen" if len(tubes) == 1 else (
        "their plates and leaves it on their screens"
    )  # fmt: skip
    return screen_left_fed.finding(
        case,
        (*tubes, *switches),
        f"{listed(tubes)}: {name}{', blown,' if blown else ''} takes the supply from {whose}",
        f"Move {name} ahead of the point where the feeds of plate and screen part, so that it "
        "interrupts both",
        state="drawing" if blown else state,
        certainty="certain",
    )


RULES: tuple[Rule, ...] = (no_screen_resistor, screen_above_plate, screen_left_fed)
