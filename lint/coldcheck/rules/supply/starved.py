"""Supplies that leave the stages on them a fraction of what they are made for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy import output_stage
from coldcheck.anatomy.case import unsolved_reason, warm_volts
from coldcheck.anatomy.neighbourhood import own_text
from coldcheck.anatomy.output_stage import stiff_nets
from coldcheck.circuit.model import GROUND, LANDMARKS
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import listed, ohms, volts
from coldcheck.judge.figure import figure
from coldcheck.judge.limits import SUPPLY_WINDING_V
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch, Circuit, Winding
    from coldcheck.judge.finding import Outcome
    from coldcheck.judge.rule import Rule

TAKES = Threshold(
    "share of a supply that a dropping resistor takes from stages", 0.55, "",
    Citation("practice", "decoupling resistors take a twentieth to a third"),
)  # fmt: skip
LEAVES = 0.4
"""A tenth of its ohms has to take less than this, or the value is not what is wrong."""

LEAST_OHM = 3.3e3
"""A smaller resistor that takes most of a supply has a short behind it."""

LEAST_V = 60.0
"""Below this there is not much to be dropped."""

OWN_CURRENT = 0.3
"""More than this share of a dropper's current to gnd makes it the upper half of a divider."""

OF_RATING = Threshold(
    "share of their ratings that a supply's electrolytics have at rest", 0.34, "",
    Citation("practice", "electrolytics are bought for a quarter to twice what they get"),
)  # fmt: skip
MANY, DEAD, AWAKE_MA = 2, 0.22, 0.1
"""Of how many it is no chance; the share whose double is little still; a tube that works."""

RATED_V = 300.0
"""Electrolytics for less may be what was at hand."""


@dataclass(frozen=True, slots=True)
class _Dropper:
    """A resistor between two supply points, with the volts ahead of it and behind it."""

    part: Branch
    value: float
    far: str
    near: str
    feed: float
    left: float

    @property
    def takes(self) -> float:
        """What it takes of the feed, as a share."""
        return 1 - self.left / self.feed

    @property
    def tenth(self) -> float:
        """What a tenth of its ohms would take, the load behind it taken for a resistance."""
        load = self.value * self.left / max(self.feed - self.left, 1e-9)
        return self.value / 10 / (self.value / 10 + load)


@rule(
    "supply.dropper-starves",
    title="Dropping resistor that starves the stages behind it",
    level="notice",
    states="warm",
    needs="a solved warm state; two supply points with a resistor between them",
    criterion=(
        f"A resistor from one bypassed supply point to another takes more than {TAKES.value:g} of "
        "the voltage, the plates and screens behind it take most of the current, and a tenth of "
        f"its ohms would take less than {LEAVES:g}."
    ),
    why=(
        "220k for 22k ahead of a pair of stages, and each works at a fifth of its volts: they "
        "amplify, every share of the load line is right, and they clip after a few volts."
    ),
    source=(Citation("practice", "a fall of a twentieth to a third"), Citation("arithmetic")),
    limits=(
        "The load behind is taken for a resistance. What feeds a gas tube, a zener or a divider "
        "is left alone, and so is a supply of less than 60 V."
    ),
    thresholds=(TAKES, output_stage.STIFF_FARAD),
)
def dropper_starves(case: Case) -> Iterator[Outcome]:
    """Look at every resistor between two supply points."""
    if unsolved_reason(case) is not None:
        return
    for dropper in _droppers(case):
        if dropper.takes > TAKES.value and dropper.tenth < LEAVES and _feeds_stages(case, dropper):
            yield _starves(case, dropper)


def _droppers(case: Case) -> Iterator[_Dropper]:
    circuit = case.circuit
    still = stiff_nets(circuit) - set(LANDMARKS)
    for part in circuit.branches.values():
        value = part.ohms if part.kind is PartKind.RESISTOR else None
        if value is None or value < LEAST_OHM or not {part.a, part.b} <= still:
            continue
        at = {n: warm_volts(case, n) for n in (part.a, part.b)}
        known = {n: v for n, v in at.items() if v is not None and v > 0}
        if len(known) == 2:
            far, near = sorted(known, key=lambda n: -known[n])
            if known[far] >= LEAST_V:
                yield _Dropper(part, value, far, near, known[far], known[near])


def _feeds_stages(case: Case, dropper: _Dropper) -> bool:
    """Whether plates and screens take what a dropper brings, and nothing holds the point behind."""
    circuit, near = case.circuit, dropper.near
    held = any(s.kind is SectionKind.REGULATOR for s, _ in circuit.electrodes_at(near))
    others = [b for b in circuit.at(near) if b is not dropper.part]
    if held or any(b.kind in (PartKind.ZENER, PartKind.SOURCE) for b in others):
        return False
    amps = (dropper.feed - dropper.left) / dropper.value
    lost = sum(_amps(case, b) for b in others if b.other(near) in LANDMARKS)
    return lost < OWN_CURRENT * amps and any(_stage(circuit, near, b) for b in others)


def _amps(case: Case, part: Branch) -> float:
    wave = case.warm.current(part.name)
    return 0.0 if wave is None else abs(wave.dc)


def _stage(circuit: Circuit, near: str, part: Branch) -> bool:
    """Whether a resistor, or a primary, leads from a supply point to a plate or screen."""
    loads = part.kind is PartKind.RESISTOR or part.traits.coil
    return loads and any(
        e in ("plate", "screen") for _, e in circuit.electrodes_at(part.other(near))
    )


def _starves(case: Case, dropper: _Dropper) -> Outcome:
    near, took = own_text(case.circuit, dropper.near), dropper.feed - dropper.left
    left = dropper.feed * (1 - dropper.tenth)
    return dropper_starves.finding(
        case,
        (dropper.part.name, near),
        f"{dropper.part.name} ({ohms(dropper.value)}) takes {volts(took)} of "
        f"{volts(dropper.feed)} and leaves {near} {volts(dropper.left)}",
        f"Look at the original again: {ohms(dropper.value / 10)} would leave about {volts(left)}",
        state="warm",
        evidence={"takes": figure(dropper.takes, ""), "left": figure(dropper.left, "V")},
        limit=TAKES.figure,
        certainty="likely",
        excess=dropper.takes / TAKES.value,
    )


@rule(
    "supply.winding-too-low",
    title="Winding that gives a fraction of what the supply is made for",
    level="notice",
    states="warm",
    needs="a solved warm state, the working voltages of the electrolytics, a winding's wiring",
    criterion=(
        f"All electrolytics for {RATED_V:g} V or more on supply points, two or more, have less "
        f"than {OF_RATING.value:g} of that at rest, from a winding of "
        f"{SUPPLY_WINDING_V.value:g} V or more whose ends a full-wave rectifier takes against its "
        "tap, and with twice the voltage none would be beyond its rating."
    ),
    why=(
        "A winding is written with the volts of a side or with those of the whole: 250 V with a "
        "tap is 125 V a side, and every supply point has half of what the tubes want. Nothing is "
        "harmed, and hardly any power comes out."
    ),
    source=(Citation("drawing", "the working voltages written"), PRACTICE),
    limits=(
        "Sets for low voltage built with capacitors for high voltage look the same: accept it with "
        "that reason. Windings without a tap, bridges and doublers are not looked at."
    ),
    thresholds=(OF_RATING, SUPPLY_WINDING_V, output_stage.STIFF_FARAD),
)
def winding_too_low(case: Case) -> Iterator[Outcome]:
    """Compare what the electrolytics have with what they are made for."""
    if unsolved_reason(case) is not None:
        return
    found = [w for w in case.circuit.windings() if _both_sides(case.circuit, w)]
    shares = dict(_shares(case))
    several = len(found) == 1 and len(shares) >= MANY and _awake(case)
    if several and DEAD < max(shares.values()) < OF_RATING.value:
        yield _too_low(case, found[0], shares)


def _awake(case: Case) -> bool:
    """Whether the stages draw current at all: a dead supply is another matter."""
    return any(r.plate_ma > AWAKE_MA for r in case.warm.readings.values())


def _both_sides(circuit: Circuit, winding: Winding) -> bool:
    """Whether a winding's tap is on gnd and both its ends lead to plates or anodes alone."""
    leads = dict(winding.leads)
    high = (si(winding.volts, "volt") or 0.0) >= SUPPLY_WINDING_V.value
    if winding.primary or not high or leads.get("ct") != GROUND or not {"1", "2"} <= set(leads):
        return False
    return all(_forward(circuit, leads[end]) for end in ("1", "2"))


def _forward(circuit: Circuit, net: str) -> bool:
    diodes = [b for b in circuit.at(net) if b.kind is PartKind.DIODE]
    tubes = [s for s, e in circuit.electrodes_at(net) if s.kind is SectionKind.RECTIFIER]
    return bool(diodes or tubes) and all(b.a == net for b in diodes)


def _shares(case: Case) -> Iterator[tuple[str, float]]:
    """What each electrolytic of a supply has of its rating."""
    for branch in case.circuit.branches.values():
        rated = None if branch.part is None else si(branch.part.voltage, "volt")
        to_gnd = branch.plus is not None and branch.other(branch.plus) == GROUND
        wave = case.warm.between(branch.a, branch.b)
        if to_gnd and rated is not None and rated >= RATED_V and wave is not None:
            yield branch.name, abs(wave.dc) / rated


def _too_low(case: Case, winding: Winding, shares: dict[str, float]) -> Outcome:
    most = max(shares.values())
    whole = si(winding.volts, "volt") or 0.0
    side = whole if len(winding.branches) < 2 else _side(winding, whole)
    return winding_too_low.finding(
        case,
        (winding.name, *shares),
        f"{winding.name} gives {volts(side)} a side, and {listed(shares)} have "
        f"{100 * most:.0f} % of their ratings at most: the supply looks made for twice as much",
        f"Look at the original again: volts of a side, {volts(2 * side)} ct {volts(2 * side)}, "
        "are often written where the whole is meant, and the other way round",
        state="warm",
        evidence={"share": figure(most, ""), "side": figure(side, "V")},
        limit=OF_RATING.figure,
        certainty="likely",
        excess=OF_RATING.value / most,
    )


def _side(winding: Winding, whole: float) -> float:
    """The volts from the tap to an end."""
    half = si(winding.branches[0].value, "volt")
    return half if half else whole / 2


RULES: tuple[Rule, ...] = (dropper_starves, winding_too_low)
