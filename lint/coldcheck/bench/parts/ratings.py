"""The ratings to buy: those drawn, or else the least of the usual series to which no rule objects.

The rules themselves are asked. Ratings do not change what flows, so each round is the same solved
states with other ratings written on the drawing; what a rule objects to goes a step up, until
none objects or no step is left. So the list cannot ask for less than a finding would, and where
a rating is drawn and no rule objects it stays: its designer may know what is not in the figures.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.bench.parts.items import Sort
from coldcheck.bench.parts.series import SERIES, Load, load_for
from coldcheck.bench.parts.uses import on_mains
from coldcheck.drawing.rerated import Ratings, rerated
from coldcheck.judge.finding import Finding
from coldcheck.records import dataclass
from coldcheck.settings.apply import circuit_of
from coldcheck.verdict.registry import rule_by_id
from coldcheck.verdict.running import run_rules

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Iterator, Mapping

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
    Sort.COIL: _COIL,
    Sort.TRANSFORMER: (*_COIL, "heater.winding-overload"),
    Sort.OUTPUT: ("output.primary-over-current",),
    Sort.TUBE: (),
    Sort.TRANSISTOR: (),
    Sort.FUSE: _FUSE,
    Sort.FAST_FUSE: _FUSE,
    Sort.SWITCH: ("supply.switch-over-rating",),
    Sort.JACK: ("supply.jack-over-rating",),
    Sort.LAMP: (),
    Sort.METER: (),
    Sort.ARRESTER: (),
    Sort.CRYSTAL: (),
    Sort.THYRISTOR: ("transistor.thyristor-over-voltage", "transistor.thyristor-overload"),
    Sort.BARRETTER: (),
    Sort.PHOTOCELL: ("resistor.photocell-overload",),
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

_ORDER = (Load.VOLTS, Load.WATTS, Load.AMPS)

BEYOND = "Beyond the usual series"


@dataclass(frozen=True, slots=True)
class Advice:
    """``buy`` is what no rule objects to; ``besides`` what a rating does not mend."""

    buy: Ratings
    besides: str = ""


@dataclass(frozen=True, slots=True)
class _Climb:
    """A part on its way up: the step it is on in its series, which may be past the last.

    What has no step has the rating that is drawn.
    """

    item: Item
    steps: Mapping[Load, int]
    ac: bool

    def _step(self, load: Load) -> float | None:
        """The largest there is, where it is past the last."""
        if load not in self.steps:
            return None
        steps = SERIES[self.item.sort][load].steps
        return steps[min(self.steps[load], len(steps) - 1)]

    def written(self) -> Ratings:
        """What is to be written in the place of what is drawn."""
        volts, watts, amps = map(self._step, _ORDER)
        return Ratings(volts, watts, amps, self.ac)

    def bought(self) -> Ratings:
        """The same with what stays as it is drawn; nothing for what is bought by its type."""
        if not SERIES[self.item.sort]:
            return Ratings()
        new, old = self.written(), self.item.stated
        return Ratings(
            old.volts if new.volts is None else new.volts,
            old.watts if new.watts is None else new.watts,
            old.amps if new.amps is None else new.amps,
            old.ac if new.volts is None else new.ac,
        )

    @property
    def ended(self) -> bool:
        """Whether it would have to be larger than anything in the series."""
        series = SERIES[self.item.sort]
        return any(n >= len(series[load].steps) for load, n in self.steps.items())

    def after(self, finding: Finding) -> _Climb:
        """A step further up; where none helps, itself."""
        load = None if finding.rule in _SMALLER else _about(self.item, finding)
        if load is None or load not in self.steps or self.ended:
            return self
        return replace(self, steps={**self.steps, load: self.steps[load] + 1})


def advised(
    case: Case, used: Mapping[str, tuple[Item, Uses]], settings: Settings
) -> Mapping[str, Advice]:
    """Part -> what to buy; nothing at all where no state is solved."""
    if not any(True for _ in case.solved()):
        return {}
    drawn = {name: _Climb(item, {}, item.stated.ac) for name, (item, _) in used.items()}
    every = _rules(climb.item.sort for climb in drawn.values())
    against: dict[str, set[Load | None]] = {}
    for name, finding in _objections(case, drawn, every, settings):
        against.setdefault(name, set()).add(_about(drawn[name].item, finding))
    climbs = {
        name: _begin(case, item, uses, against.get(name, set()))
        for name, (item, uses) in used.items()
    }
    return _advice(case, _climbed(case, climbs, settings), every, settings)


def _climbed(case: Case, climbs: dict[str, _Climb], settings: Settings) -> Mapping[str, _Climb]:
    """Up, one step a round, until nothing moves."""
    moved = {name for name, climb in climbs.items() if climb.steps}
    while moved:
        asked = _rules(climbs[n].item.sort for n in moved) - {*_LAST}
        moved = set()
        for name, finding in _objections(case, climbs, asked, settings):
            higher = climbs[name].after(finding)
            if name not in moved and higher is not climbs[name]:
                climbs[name] = higher
                moved.add(name)
    return climbs


def _advice(
    case: Case, climbs: Mapping[str, _Climb], every: frozenset[str], settings: Settings
) -> Mapping[str, Advice]:
    """What came of it, and what the rules still say."""
    left: dict[str, Finding] = {}
    for name, finding in _objections(case, climbs, every, settings):
        left.setdefault(name, finding)
    return {name: _advised(climb, left.get(name)) for name, climb in climbs.items()}


def _advised(climb: _Climb, left: Finding | None) -> Advice:
    if left is not None and left.rule in _BESIDE and not climb.ended:
        return Advice(climb.bought(), left.remedy)
    if left is not None or climb.ended:
        return Advice(Ratings(), BEYOND if left is None else left.remedy)
    return Advice(climb.bought())


def _about(item: Item, finding: Finding) -> Load | None:
    """Which rating a finding is about; ``None`` for one that is about something else."""
    return load_for(item.sort, finding.limit.unit if finding.limit else "")


def _rules(sorts: Iterable[Sort]) -> frozenset[str]:
    return frozenset(rule for sort in sorts for rule in ASKED[sort])


def _begin(case: Case, item: Item, uses: Uses, against: Container[Load | None]) -> _Climb:
    """Where a part starts: only what is not drawn, or what a rule objects to, has a step."""
    use = dict(zip(_ORDER, (uses.volts, uses.watts, uses.amps), strict=True))
    drawn = dict(zip(_ORDER, (item.stated.volts, item.stated.watts, item.stated.amps), strict=True))
    steps = {
        load: series.first(seen.figure.value)
        for load, series in SERIES[item.sort].items()
        if (seen := use[load]) is not None
        and (load in against or (drawn[load] is None and _asked_for(item, load, seen)))
    }
    if item.sort is not Sort.SWITCH:
        return _Climb(item, steps, item.stated.ac)
    ac = on_mains(case, item.name)
    if ac and Load.VOLTS in steps:
        steps[Load.VOLTS] = max(steps[Load.VOLTS], _MAINS_STEP)
    return _Climb(item, steps, ac)


def _asked_for(item: Item, load: Load, use: Use) -> bool:
    """Whether one buys by a rating that is not drawn: not by insulation, nor by little ripple."""
    match item.sort, load:
        case ((Sort.CHOKE | Sort.TRANSFORMER), Load.VOLTS):
            return False
        case Sort.TRANSFORMER, Load.AMPS:
            return use.figure.value >= IDLE_A
        case Sort.ELECTROLYTIC, Load.AMPS:
            return use.figure.value >= RIPPLE_A
        case _:
            return True


RIPPLE_A = 0.01
"""Ripple below this any electrolytic stands."""

IDLE_A = 1e-3
"""A winding that gives less is not wired to anything."""

_MAINS_STEP = SERIES[Sort.SWITCH][Load.VOLTS].steps.index(250.0)


def _objections(
    case: Case, climbs: Mapping[str, _Climb], asked: frozenset[str], settings: Settings
) -> Iterator[tuple[str, Finding]]:
    """Part -> what a rule says of it with the ratings it has now."""
    ratings = {name: climb.written() for name, climb in climbs.items()}
    circuit = circuit_of(rerated(case.circuit.drawing, ratings), settings)
    rules = [rule_by_id(n) for n in sorted(asked) if settings.off_entry(n) is None]
    for finding in run_rules(replace(case, circuit=circuit), rules):
        if isinstance(finding, Finding):
            for name in finding.at:
                if name in climbs and finding.rule in ASKED[climbs[name].item.sort]:
                    yield name, finding
