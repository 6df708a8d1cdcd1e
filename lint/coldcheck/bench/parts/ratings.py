"""The ratings to buy: the least of the usual series to which no rule objects.

The rules themselves are asked. Ratings do not change what flows, so each round is the same solved
states with other ratings written on the drawing; what a rule objects to goes a step up, until
none objects or no step is left. So the list cannot ask for less than a finding would.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from coldcheck.bench.parts.items import Sort
from coldcheck.bench.parts.series import SERIES, Load, load_for
from coldcheck.bench.parts.uses import on_mains
from coldcheck.drawing.rerated import Ratings, rerated
from coldcheck.judge.finding import Finding
from coldcheck.settings.apply import circuit_of
from coldcheck.verdict.registry import rule_by_id
from coldcheck.verdict.running import run_rules

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from coldcheck.anatomy.case import Case
    from coldcheck.bench.parts.items import Item
    from coldcheck.bench.parts.uses import Uses
    from coldcheck.judge.use import Use
    from coldcheck.settings.model import Settings

_CAPACITOR = (
    "capacitor.over-voltage", "capacitor.little-margin", "capacitor.no-room-for-swing",
    "capacitor.cathode-bypass-underrated", "capacitor.ripple-current",
    "capacitor.series-unbalanced", "capacitor.balancing-too-high",
    "heater.lift-capacitor-underrated", "mains.capacitor-class", "mains.capacitor-to-chassis",
)  # fmt: skip

_COIL = ("supply.coil-overload", "supply.insulation-overstressed")

_FUSE = ("supply.fuse-too-small", "mains.fuse-too-large", "supply.fuse-voltage")

ASKED: Mapping[Sort, tuple[str, ...]] = {
    Sort.RESISTOR: ("resistor.over-power", "resistor.over-voltage"),
    Sort.CONTROL: ("resistor.control-overload",),
    Sort.ELECTROLYTIC: _CAPACITOR,
    Sort.CAPACITOR: _CAPACITOR,
    Sort.AC_CAPACITOR: _CAPACITOR,
    Sort.DIODE: ("supply.inverse-voltage", "supply.diode-overload"),
    Sort.LED: ("supply.diode-overload",),
    Sort.ZENER: ("supply.zener-overload", "supply.diode-overload"),
    Sort.CHOKE: _COIL,
    Sort.TRANSFORMER: (*_COIL, "heater.winding-overload"),
    Sort.OUTPUT: ("output.primary-over-current",),
    Sort.TUBE: (),
    Sort.FUSE: _FUSE,
    Sort.FAST_FUSE: _FUSE,
    Sort.SWITCH: ("supply.switch-over-rating",),
    Sort.JACK: ("supply.jack-over-rating",),
    Sort.LAMP: (),
    Sort.THERMISTOR: ("resistor.thermistor-overload",),
    Sort.SPEAKER: ("output.speaker-overload",),
    Sort.SOURCE: ("supply.source-overload",),
}
"""The rules that hold a part of a sort against the ratings written on it."""


_BESIDE = ("capacitor.series-unbalanced", "capacitor.balancing-too-high")
"""What is to be done besides buying the rating; any other objection left is done instead."""

_LAST = ("supply.fuse-voltage",)
"""Asked only at the end: it solves the circuit, and its own figure is where one begins."""

_SMALLER = ("mains.fuse-too-large",)
"""Rules that no larger rating helps against."""

BEYOND = "Beyond the usual series"


@dataclass(frozen=True, slots=True)
class Advice:
    """``buy`` is the least that no rule objects to; ``besides`` what a rating does not mend."""

    buy: Ratings
    besides: str = ""


@dataclass(frozen=True, slots=True)
class _Climb:
    """A part on its way up: the step it is on in each of its series, which may be past the last."""

    item: Item
    steps: Mapping[Load, int]
    ac: bool

    def _rating(self, load: Load) -> float | None:
        """The step's, the largest where it is past the last."""
        if load not in self.steps:
            return None
        steps = SERIES[self.item.sort][load].steps
        return steps[min(self.steps[load], len(steps) - 1)]

    def ratings(self) -> Ratings:
        """What its steps are."""
        volts, watts, amps = map(self._rating, Load)
        return Ratings(volts, watts, amps, self.ac)

    @property
    def ended(self) -> bool:
        """Whether it would have to be larger than anything in the series."""
        series = SERIES[self.item.sort]
        return any(n >= len(series[load].steps) for load, n in self.steps.items())

    def after(self, finding: Finding) -> _Climb:
        """A step further up; where none helps, itself."""
        unit = finding.limit.unit if finding.limit else ""
        load = None if finding.rule in _SMALLER else load_for(self.item.sort, unit)
        if load is None or load not in self.steps or self.ended:
            return self
        return replace(self, steps={**self.steps, load: self.steps[load] + 1})


def advised(
    case: Case, used: Mapping[str, tuple[Item, Uses]], settings: Settings
) -> Mapping[str, Advice]:
    """Part -> what to buy; nothing at all where no state is solved."""
    if not any(True for _ in case.solved()):
        return {}
    climbs = {name: _begin(case, item, uses) for name, (item, uses) in used.items()}
    moved = set(climbs)
    while moved:
        asked = _rules(climbs[n].item.sort for n in sorted(moved))
        moved = set()
        for name, finding in _objections(case, climbs, asked - {*_LAST}, settings):
            higher = climbs[name].after(finding)
            # One step a round, whatever the number of objections to it.
            if name not in moved and higher is not climbs[name]:
                climbs[name] = higher
                moved.add(name)
    left: dict[str, Finding] = {}
    every = _rules(climb.item.sort for climb in climbs.values())
    for name, finding in _objections(case, climbs, every, settings):
        left.setdefault(name, finding)
    return {name: _advice(climb, left.get(name)) for name, climb in climbs.items()}


def _rules(sorts: Iterable[Sort]) -> frozenset[str]:
    return frozenset(rule for sort in sorts for rule in ASKED[sort])


def _advice(climb: _Climb, left: Finding | None) -> Advice:
    if left is not None and left.rule in _BESIDE and not climb.ended:
        return Advice(climb.ratings(), left.remedy)
    if left is not None or climb.ended:
        return Advice(Ratings(), BEYOND if left is None else left.remedy)
    return Advice(climb.ratings())


def _begin(case: Case, item: Item, uses: Uses) -> _Climb:
    found = dict(zip(Load, (uses.volts, uses.watts, uses.amps), strict=True))
    steps = {
        load: series.first(use.figure.value)
        for load, series in SERIES[item.sort].items()
        if (use := found[load]) is not None and _asked_for(item, load, use)
    }
    if item.sort is Sort.SWITCH and on_mains(case, item.name):
        steps[Load.VOLTS] = max(steps.get(Load.VOLTS, 0), _MAINS_STEP)
        return _Climb(item, steps, ac=True)
    return _Climb(item, steps, ac=item.stated.ac and item.sort is not Sort.SWITCH)


def _asked_for(item: Item, load: Load, use: Use) -> bool:
    """Whether one buys by this rating at all: insulation that is written, ripple worth a line."""
    match item.sort, load:
        case ((Sort.CHOKE | Sort.TRANSFORMER), Load.VOLTS):
            return item.stated.volts is not None
        case Sort.ELECTROLYTIC, Load.AMPS:
            return use.figure.value >= RIPPLE_A or item.stated.amps is not None
        case _:
            return True


RIPPLE_A = 0.01
"""Ripple below this any electrolytic stands."""

_MAINS_STEP = SERIES[Sort.SWITCH][Load.VOLTS].steps.index(250.0)


def _objections(
    case: Case, climbs: Mapping[str, _Climb], asked: frozenset[str], settings: Settings
) -> Iterator[tuple[str, Finding]]:
    """Part -> what a rule says of it with the ratings it has now."""
    ratings = {name: climb.ratings() for name, climb in climbs.items()}
    circuit = circuit_of(rerated(case.circuit.drawing, ratings), settings)
    rules = [rule_by_id(name) for name in sorted(asked)]
    for finding in run_rules(replace(case, circuit=circuit), rules):
        if isinstance(finding, Finding):
            for name in finding.at:
                if name in climbs and finding.rule in ASKED[climbs[name].item.sort]:
                    yield name, finding
