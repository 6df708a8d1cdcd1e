"""The screen of an output tube under signal, when what feeds it does not hold it back enough."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import output_drive, output_stage, supplies
from coldcheck.anatomy.output_drive import better_feed, drive_of, screen_feed
from coldcheck.anatomy.output_stage import output_tubes
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.wording import listed, ohms, volts, watts
from coldcheck.judge.ranges import UNKNOWN, certainty
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.anatomy.output_drive import Drive
    from coldcheck.anatomy.output_stage import OutputTube
    from coldcheck.judge.finding import Finding, Outcome

FAR = Threshold(
    "times the allowance up to which a screen behind a resistor is advice", 1.5, "",
    Citation("own-tests", "the estimate is within some 30 % of makers' maximum-signal currents"),
)  # fmt: skip
SPREAD = Threshold(
    "range of the estimated screen dissipation, as a share",
    0.3,
    "",
    Citation("own-tests", "against makers' maximum-signal screen currents"),
)
"""Against makers' maximum-signal screen currents the estimate is within some 30 % (tests)."""


@rule(
    "signal.screen-overload",
    title="Screen of an output tube overloaded at full drive",
    level="notice",
    states="nominal, with the grid driven to its cathode by a sine",
    needs="a solved nominal state, the screen rating and the law of the tube",
    criterion="Mean screen power over one cycle at full drive above three times its rating; advice "
    "from twice the rating on (what makers allow on signal peaks).",
    why="A screen that is well within its rating at rest takes several times as much when the "
    "plate swings down to a few tens of volts. It goes unnoticed until the amplifier is played "
    "loud, and then costs a tube.",
    source=(
        Citation("fitted-law", "along the load line"),
        Citation("philips-sheets", "EL84, twice the rating on signal peaks"),
        PRACTICE,
    ),
    limits="An estimate: the load is a resistance, supply and bias stay where they idle, the "
    "other tube of a pair is equal; a screen on a tap is not worked out. A type whose sheet "
    "tells no screen current at full drive has that of its family. A screen straight on the supply "
    "is output.no-screen-resistor's.",
    thresholds=(
        FAR,
        SPREAD,
        UNKNOWN,
        output_drive.LEAST_OHM,
        output_drive.ON_PEAKS,
        output_stage.LOAD_FACTOR,
        output_stage.PLATE_STOPPER,
        output_stage.SCREEN_STOPPER,
        output_stage.STIFF_FARAD,
        supplies.FILTER_F,
        supplies.SERIES_OHMS,
    ),
)
def screen_overload(case: Case) -> Iterator[Outcome]:
    """Each output pentode whose screen has something of its own in its feed.

    Tubes of one type on one transformer are one finding, with the figures of the worst.
    """
    worst: dict[tuple[str, str], list[tuple[OutputTube, Drive]]] = {}
    for stage in output_tubes(case.circuit):
        feed = screen_feed(case.circuit, stage)
        if stage.section.kind is not SectionKind.PENTODE or (feed is not None and feed.direct):
            continue
        if stage.tap is not None:
            continue
        drive, kind = drive_of(case, stage), stage.tube.type
        if drive is not None and drive.excess > 1:
            worst.setdefault((stage.output.name, kind.name), []).append((stage, drive))
        elif drive is None and kind.rating("screen-dissipation", stage.section.type.name) is None:
            reason = f"no screen rating on file for {kind.name}"
            yield screen_overload.not_judged((stage.tube.name,), reason)
    for found in worst.values():
        yield _finding(case, found)


def _finding(case: Case, found: list[tuple[OutputTube, Drive]]) -> Finding:
    names = tuple(stage.section.name for stage, _ in found)
    stage, drive = max(found, key=lambda x: x[1].excess)
    cycle, whose = drive.cycle, "its screen takes" if len(names) == 1 else "each screen takes"
    return screen_overload.finding(
        case,
        names,
        f"{listed(names)}: at full drive {whose} {watts(cycle.screen_w)} on average "
        f"({watts(cycle.screen_peak_w)} with the plate down at {volts(cycle.lowest_plate_v)}), "
        f"rating {watts(drive.limit.value)}",
        _remedy(stage, drive),
        state="warm",
        level=None if drive.excess > FAR.value else "advice",
        evidence=drive.evidence,
        certainty=certainty(drive.excess, SPREAD.value),
        source=drive.limit.cited,
        excess=drive.excess,
    )


def _remedy(stage: OutputTube, drive: Drive) -> str:
    better, now = better_feed(stage, drive), drive.seat.screen_ohm
    lower = f"feed the screen from {volts(0.8 * drive.seat.screen_v)} or less"
    if better is None:
        return f"No usual screen resistor helps here: {lower}"
    ohm, power = better
    have = f" (now {ohms(now)})" if now else ""
    return (
        f"Use {ohms(ohm)}, {watts(max(2 * power, 1.0))} or more, in the screen's lead{have}, "
        f"without a capacitor behind it; or {lower}"
    )


RULES: tuple[Rule, ...] = (screen_overload,)
