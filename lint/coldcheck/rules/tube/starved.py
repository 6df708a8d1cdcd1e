"""Screens with a fraction of the volts that their tubes are made for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import output_stage
from coldcheck.anatomy.case import unsolved_reason, warm_volts
from coldcheck.anatomy.neighbourhood import own_text, reading, resistors_at
from coldcheck.anatomy.output_stage import output_tubes, stiff_nets
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Section, Tube
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

OF_LEAST = Threshold(
    "share of the least published screen voltage that starves a tube", 0.75, "", PRACTICE
)
OF_SUPPLY = Threshold(
    "share of its supply that a starved screen is left", 0.5, "",
    Citation("practice", "screen droppers of amplifiers for radio frequencies take up to half"),
)  # fmt: skip
BELOW_PLATE = Threshold(
    "share of the plate's volts on a screen that is to have the same", 0.8, "", PRACTICE
)
ALIKE = 0.9
"""Types whose every published screen voltage is at least this share of the plate's."""

STOPPER_OHM = 2.2e3
"""From here up a resistor at a screen drops its volts (common practice)."""

FULL_PLATE = 1.5
"""Plate over screen volts; a limiter has little on both, and means to."""

SHORTED = 0.2
"""Of the least published: with less there is a short, or another wire is wrong."""

MOST_OVER = 1.35
"""Over the highest published screen voltage a tenth of the dropper's ohms must not lead."""

DECOUPLES_OHM = 8e3
"""No resistor of a screen of an output tube has as much; those of the stages before it have."""


@dataclass(frozen=True, slots=True)
class _Feed:
    """The resistor that feeds a screen's supply point, what is behind it and what ahead."""

    part: Branch
    value: float
    near: str
    far: str


@rule(
    "tube.screen-starved",
    title="Screen with a fraction of the volts its tube is made for",
    level="notice",
    states="warm",
    needs="a solved warm state and published working points of the type",
    criterion=(
        "A pentode or converter without a resistor in its plate lead has less than "
        f"{OF_LEAST.value:g} of the least published screen voltage, less than "
        f"{OF_SUPPLY.value:g} of what feeds the screen's resistor, and its plate far more, and a "
        "tenth of that resistor would not lead far beyond it; or an output pentode, published "
        f"with screen and plate alike, has less than {BELOW_PLATE.value:g} of the plate's volts on "
        f"a screen behind {DECOUPLES_OHM / 1e3:g} kohm or more that feed another stage as well."
    ),
    why=(
        "The screen sets the current of a pentode. With half its volts a third of the current is "
        "left: an oscillator stops, an IF stage has no gain, an output stage a third of its power "
        "and less as it is driven, since its screen takes most at the peaks."
    ),
    source=(Citation("type-sheet"), PRACTICE),
    limits=(
        "Small pentodes with a resistor for a load work with a fraction of any published screen "
        "voltage, and one on a divider has what it is to have. Tubes "
        "without published points, screens on taps, and screens of their own "
        "regulated supply are left alone."
    ),
    thresholds=(
        OF_LEAST,
        OF_SUPPLY,
        BELOW_PLATE,
        output_stage.PLATE_STOPPER,
        output_stage.SCREEN_STOPPER,
        output_stage.STIFF_FARAD,
    ),
)
def screen_starved(case: Case) -> Iterator[Outcome]:
    """Look at the screens of stages on coils."""
    if unsolved_reason(case) is not None:
        return
    power = {s.section.name for s in output_tubes(case.circuit)}
    small: dict[str, tuple[_Feed, list[tuple[Section, float, float]]]] = {}
    for tube, section in working(case.circuit):
        feed = _feed(case.circuit, section)
        if feed is None:
            continue
        if section.name in power:
            yield from _behind_a_stage(case, tube, section, feed)
        elif (found := _below(case, tube, section, feed)) is not None:
            small.setdefault(feed.part.name, (feed, []))[1].append((section, *found))
    for feed, starved in small.values():
        yield _starved(case, feed, starved)


def _feed(circuit: Circuit, section: Section) -> _Feed | None:
    """What feeds a screen, straight or behind the coil or stopper between it and its point."""
    screen = section.net("screen")
    if screen is None or screen in LANDMARKS or section.net("plate") == screen:
        return None
    stoppers = [b for b in circuit.at(screen) if b.traits.coil or _stopper(b)]
    near = [screen, *(b.other(screen) for b in stoppers)]
    stiff = stiff_nets(circuit) - set(LANDMARKS)
    found = []
    for net in dict.fromkeys(n for n in near if n not in LANDMARKS):
        up = [b for b in resistors_at(circuit, net) if b.other(net) in stiff]
        holds = net == screen or net in stiff or _bypassed(circuit, net)
        if len(up) == 1 and holds and (value := si(up[0].value, "ohm")):
            found.append(_Feed(up[0], value, net, up[0].other(net)))
    return max(found, key=lambda f: f.value, default=None)  # the others are stoppers


def _stopper(branch: Branch) -> bool:
    ohm = branch.ohms if branch.kind is PartKind.RESISTOR else None
    return ohm is not None and ohm < STOPPER_OHM


def _bypassed(circuit: Circuit, net: str) -> bool:
    return any(b.kind is PartKind.CAPACITOR and b.other(net) == GROUND for b in circuit.at(net))


def _published(tube: Tube, section: Section) -> list[tuple[float, float]]:
    """(plate, screen) volts of every published point that has both."""
    points = tube.type.points_of(section.type.name)
    pairs = ((p.get("plate-voltage"), p.get("screen-voltage")) for p in points)
    return [
        (a.value, b.value)
        for a, b in pairs
        if a is not None and b is not None and not isinstance(a, str) and not isinstance(b, str)
    ]


def _below(case: Case, tube: Tube, section: Section, feed: _Feed) -> tuple[float, float] | None:
    """A screen's volts and the least published, where it is starved by its dropper."""
    found, known = reading(case.warm, section), _published(tube, section)
    supply = warm_volts(case, feed.far)
    plate = section.net("plate")
    loaded = plate is None or any(resistors_at(case.circuit, plate))
    divided = any(b.other(feed.near) == GROUND for b in resistors_at(case.circuit, feed.near))
    if loaded or divided or not known or found is None or found.screen_v is None or not supply:
        return None
    screens = [screen for _, screen in known]
    left = _left(case, feed)
    low = (
        SHORTED * min(screens) < found.screen_v < OF_LEAST.value * min(screens)
        and left < OF_SUPPLY.value
    )
    full = (found.plate_v or 0.0) > FULL_PLATE * found.screen_v
    meant = supply * _with_a_tenth(left) < MOST_OVER * max(screens)
    return (found.screen_v, min(screens)) if low and full and meant else None


def _with_a_tenth(left: float) -> float:
    """What a tenth of a dropper's ohms would leave, its load taken for a resistance."""
    return left / (left + (1 - left) / 10)


def _left(case: Case, feed: _Feed) -> float:
    """What a dropper leaves of its supply, as a share."""
    near, far = warm_volts(case, feed.near), warm_volts(case, feed.far)
    return near / far if near is not None and far else 1.0


def _starved(case: Case, feed: _Feed, starved: list[tuple[Section, float, float]]) -> Outcome:
    names = [s.name for s, _, _ in starved]
    _, low, least = starved[0]
    return screen_starved.finding(
        case,
        (feed.part.name, *names),
        f"{feed.part.name} ({ohms(feed.value)}) leaves {volts(low)} to the screen"
        f"{'s' if len(names) > 1 else ''} of {listed(names)}; {volts(least)} is the least "
        "published",
        f"Look at the original again: {ohms(feed.value / 10)} looks likelier for {feed.part.name}",
        state="warm",
        evidence={
            "screen": figure(low, "V"),
            "left": figure(_left(case, feed), ""),
            "share": figure(low / least, ""),
        },
        limit=figure(OF_LEAST.value * least, "V"),
        certainty="likely",
        excess=OF_LEAST.value * least / low,
    )


def _behind_a_stage(case: Case, tube: Tube, section: Section, feed: _Feed) -> Iterator[Outcome]:
    """An output tube's screen on the supply point of the stages ahead of it."""
    found, known = reading(case.warm, section), _published(tube, section)
    if section.kind is not SectionKind.PENTODE or not known or found is None:
        return
    alike = all(screen >= ALIKE * plate for plate, screen in known)
    if not alike or not found.screen_v or not found.plate_v or feed.value < DECOUPLES_OHM:
        return
    fed = [s.name for s in _others(case.circuit, section, feed.near)]
    share = found.screen_v / found.plate_v
    if fed and 0 < share < BELOW_PLATE.value:
        yield _misfed(case, section, feed, (found.screen_v, found.plate_v, fed[0]))


def _others(circuit: Circuit, section: Section, net: str) -> Iterator[Section]:
    """The stages whose plates hang on a supply point by a resistor."""
    for load in resistors_at(circuit, net):
        at = circuit.electrodes_at(load.other(net))
        yield from (s for s, e in at if e == "plate" and s.name != section.name)


def _misfed(case: Case, section: Section, feed: _Feed, at: tuple[float, float, str]) -> Outcome:
    screen, plate, other = at
    near, far = (own_text(case.circuit, n) for n in (feed.near, feed.far))
    return screen_starved.finding(
        case,
        (section.name, f"{section.name}.screen", feed.part.name),
        f"{section.name}: its screen is on {near}, behind the {ohms(feed.value)} of "
        f"{feed.part.name} that filter for {other}, and has {volts(screen)} where its plate has "
        f"{volts(plate)}",
        f"Feed the screen from {far}, ahead of {feed.part.name}",
        state="warm",
        evidence={"screen": figure(screen, "V"), "share": figure(screen / plate, "")},
        limit=BELOW_PLATE.figure,
        certainty="likely",
        excess=BELOW_PLATE.value * plate / screen,
    )


RULES: tuple[Rule, ...] = (screen_starved,)
