"""What a fault brings about: limits exceeded, fuses opened, charge kept, terminals made live.

The rules of the review judge the limits, in a case that holds the faulty state alone; what they say
of the good circuit already is left out.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from coldcheck.anatomy.case import Case
from coldcheck.anatomy.galvanic import jacks
from coldcheck.bench.faults.fuses import HOLDS, OPENS, Blown, speed_of
from coldcheck.bench.faults.touch import FELT_DC, HARMFUL_A, HARMFUL_DC
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.units import engineering, si
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.finding import LEVELS, Finding, NotJudged
from coldcheck.judge.limits import TOUCH_DC, TOUCH_PEAK
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.faults import fault as f
from coldcheck.solve.faults.fault import altered
from coldcheck.solve.off.discharge import slowest, surely_below
from coldcheck.solve.solution import WARM, State
from coldcheck.sources.register import DRAWING, PRACTICE, cited_by
from coldcheck.verdict.registry import rule_by_id
from coldcheck.verdict.running import merge, run_rules

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.faults.fault import Fault
    from coldcheck.solve.solution import Solution

HEATERS = "heater.wrong-voltage"
"""Looked at only where a heater gets another voltage than before."""

LIMITS = (
    "capacitor.over-voltage", "capacitor.reversed",
    "resistor.over-power", "resistor.over-voltage",
    "tube.plate-dissipation", "tube.screen-dissipation", "tube.plate-voltage",
    "tube.screen-voltage", "tube.cathode-current", "grid.positive", "grid.no-bias",
    "heater.cathode-stress", HEATERS,
    "supply.inverse-voltage", "supply.rectifier-overload", "supply.zener-overload",
    "supply.regulator-current", "supply.insulation-overstressed", "supply.switch-over-rating",
    "output.primary-over-current",
    "transistor.over-voltage", "transistor.gate-over-voltage", "transistor.overload",
    "transistor.dissipation",
)  # fmt: skip
"""The rules that hold a figure against a limit."""

MAINS = ("mains.live-chassis", "mains.live-common")
"""What a part that conducts where it should not can put on the mains."""

CHARGE, OUTPUT = ("supply.no-bleeder",), ("capacitor.undrained-output",)
"""What keeps a charge when a part opens."""

JOINING = (f.SHORT, f.LEAK, f.BRIDGE, f.HEATER_CATHODE)

CHANGING = (*JOINING, f.OPEN, f.WIPER, f.DRIFT)
SLOWER = (f.OPEN, f.WIPER, f.THROWN)
"""Kinds of faults that can take a drain away."""

OVERLOADED = Threshold("times its rating at which a winding is overloaded", 1.5, "", PRACTICE)
HOT = Threshold("heat in a capacitor that leaks, a film or paper one", 0.5, "W", PRACTICE)
HOT_CAN = Threshold("heat in an electrolytic that leaks", 1.0, "W", PRACTICE)
"""Watts from which a capacitor that leaks gets hot, and so leaks more."""

WORSE = Threshold(
    "times the sound circuit's excess from which a limit counts again", 1.2, "", PRACTICE
)
"""A limit exceeded by the good circuit too counts again when exceeded by so much more."""

TOUCH = cited_by((TOUCH_DC.source, TOUCH_PEAK.source))
THRESHOLDS = (
    *(OPENS, HOLDS, OVERLOADED, HOT, HOT_CAN, WORSE, TOUCH_DC, TOUCH_PEAK),
    *(FELT_DC, HARMFUL_A, HARMFUL_DC),
)
"""What the faulty states are judged by besides the rules' own limits."""


@dataclass(frozen=True, slots=True)
class Judge:
    """Judges faulty states of one circuit against its good state ``good``.

    ``known`` maps (rule, what has the limit) of what the good circuit exceeds already to by how
    much;
    ``seconds`` is its own slowest discharge.
    """

    circuit: Circuit
    good: Solution
    known: Mapping[tuple[str, tuple[str, ...]], float]
    seconds: float

    @classmethod
    def of(cls, circuit: Circuit, good: Solution) -> Judge:
        """Judge the good circuit first."""
        found, _ = _findings(circuit, good, _rules((*LIMITS, *MAINS, *CHARGE, *OUTPUT)))
        known = {(x.rule, _limited(circuit, x)): x.excess for x in found}
        return cls(circuit, good, known, seconds_charged(circuit, good))

    def findings(
        self, fault: Fault, solution: Solution, seconds: float | None
    ) -> tuple[tuple[Finding, ...], tuple[str, ...]]:
        """What is new with the fault, gravest and furthest beyond first; rules that failed.

        ``seconds`` is what :meth:`charged` says.
        """
        every, broken = self._ruled(fault, solution, seconds)
        found = [x for x in every if self._new(x) and not _cold(x) and not _gone(fault, x)]
        name = solution.state.name
        found = [replace(x, state=_renamed(x.state, name)) for x in found]
        found += self._live(solution)
        found += self._windings(solution)
        found += self._heat(fault, solution)
        return ordered(found), broken

    def _ruled(
        self, fault: Fault, solution: Solution, seconds: float | None
    ) -> tuple[list[Finding], tuple[str, ...]]:
        """What the rules say.

        Limits are judged on the drawing with an open part still in it, since a tube whose plate
        hangs loose would look unused; what drains a charge is judged without it.
        """
        kept, faulty = fault.kind in (f.OPEN, f.WIPER), self.circuit
        if fault.kind in CHANGING:
            faulty = altered(self.circuit, (fault,))
        limits = LIMITS if self._heats(solution) else tuple(r for r in LIMITS if r != HEATERS)
        found, broken = _findings(self.circuit if kept else faulty, solution, _rules(limits))
        more = MAINS if fault.kind in JOINING else OUTPUT if self._slower(fault) else ()
        more = (*more, *CHARGE) if seconds is not None else more
        others, failed = _findings(faulty, solution, _rules(more)) if more else ([], ())
        return [*found, *others], (*broken, *failed)

    def _heats(self, solution: Solution) -> bool:
        """Whether any heater gets another voltage than without the fault."""
        before = {name: r.heater_v for name, r in self.good.readings.items()}
        now = {name: r.heater_v for name, r in solution.readings.items()}
        return any(_differ(now[n], before.get(n)) for n in now)

    def _slower(self, fault: Fault) -> bool:
        """Whether the fault can take a drain away: a capacitor that opens only holds less."""
        branch = self.circuit.branches.get(fault.part)
        return fault.kind in SLOWER and (branch is None or branch.traits.drains)

    def _new(self, finding: Finding) -> bool:
        before = self.known.get((finding.rule, _limited(self.circuit, finding)))
        return before is None or finding.excess > WORSE.value * before

    def by_earth(
        self, findings: Sequence[Finding]
    ) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
        """Those there are, and those that only the earth lead prevents: a fuse opens instead."""
        kept = [x for x in findings if not (self.earthed() and x.rule.startswith("mains."))]
        return tuple(kept), tuple(x for x in findings if x not in kept)

    def earthed(self) -> bool:
        """Whether the metal is joined to protective earth: a fault to it blows a fuse."""
        points = self.circuit.points
        return "earth" in points and points["earth"] in (points.get("chassis"), points.get(GROUND))

    def fuses(self, solution: Solution) -> tuple[Blown, ...]:
        """The fuses that carry more than their rating, the worst first."""
        found = [
            Blown(name, times, None, speed_of(self.circuit.branches[name]))
            for name, times in self.carried(solution).items()
            if times > 1.0
        ]
        return tuple(sorted(found, key=lambda b: -b.times))

    def carried(self, solution: Solution) -> dict[str, float]:
        """Fuse -> times its rating that it carries, rms."""
        found = {}
        for fuse in (b for b in self.circuit.branches.values() if b.kind is PartKind.FUSE):
            amps, wave = si(fuse.value, "ampere"), solution.current(fuse.name)
            if amps and wave is not None:
                found[fuse.name] = wave.rms / amps
        return found

    def charged(self, fault: Fault, solution: Solution) -> float | None:
        """Seconds above 60 V after switch-off where the fault adds to them; ``inf`` for never."""
        if not self._slower(fault):
            return None
        faulty, enough = (
            altered(self.circuit, (fault,), graph=False),
            WORSE.value * self.seconds + 1.0,
        )
        if surely_below(faulty, _as_warm(faulty, solution), enough):
            return None
        seconds = seconds_charged(faulty, solution)
        return seconds if seconds > enough else None

    def _live(self, solution: Solution) -> Iterator[Finding]:
        """Terminals somebody can touch that stand at a dangerous voltage with the fault only."""
        for name, net in touchable(self.circuit):
            excess, before = _beyond_touch(solution, net), _beyond_touch(self.good, net)
            if excess <= 1.0 or before > 1.0:
                continue
            wave = solution.waves[net]
            yield Finding(
                "fault.live-terminal", "danger", solution.state.name, (name,),
                self.circuit.span(name),
                f"{name}, which can be touched, is at {engineering(wave.dc, 'V')} DC and "
                f"{engineering(wave.ac_rms, 'V')} AC to gnd",
                "Add a second barrier: a second capacitor in series, a drain across the terminal",
                {"dc": figure(wave.dc, "V"), "ac_rms": figure(wave.ac_rms, "V"),
                 "point": next(p for p, at in self.circuit.points.items() if at == net)},
                limit=TOUCH_DC.figure,
                source=TOUCH.text, excess=excess, cites=TOUCH.cites,
            )  # fmt: skip

    def _heat(self, fault: Fault, solution: Solution) -> Iterator[Finding]:
        """What a capacitor that leaks turns into heat."""
        branch = self.circuit.branches.get(fault.part)
        if fault.kind != f.LEAK or branch is None:
            return
        wave = solution.between(branch.a, branch.b)
        watts = 0.0 if wave is None else wave.rms**2 / fault.magnitude
        can = branch.plus is not None
        limit = HOT_CAN if can else HOT
        if watts > limit.value:
            yield Finding(
                "fault.capacitor-heat", "caution" if can else "notice", solution.state.name,
                (branch.name,), self.circuit.span(branch.name),
                f"{branch.name} turns {engineering(watts, 'W')} into heat, and leaks more the "
                f"hotter it is{': it can burst' if can else ''}",
                "Give it more margin of voltage; keep it away from what heats it",
                {"heat": figure(watts, "W")},
                limit=limit.figure, source=PRACTICE.text, excess=watts / limit.value,
                cites=(PRACTICE,),
            )  # fmt: skip

    def _windings(self, solution: Solution) -> Iterator[Finding]:
        """Windings of mains transformers that carry far more than their rating."""
        for winding in self.circuit.windings():
            rated = si(winding.current, "ampere")
            for branch in winding.branches if rated else ():
                wave, before = solution.current(branch.name), self.good.current(branch.name)
                if wave is None or rated is None:
                    continue
                times = wave.rms / rated
                if times <= OVERLOADED.value or (before and wave.rms < WORSE.value * before.rms):
                    continue
                yield Finding(
                    "fault.winding-overload", "notice", solution.state.name, (branch.name,),
                    self.circuit.span(branch.name),
                    f"winding {branch.name} carries {engineering(wave.rms, 'A')}, rated "
                    f"{engineering(rated, 'A')}",
                    "See that a fuse opens before the winding burns",
                    {"current_rms": figure(wave.rms, "A")},
                    limit=figure(rated, "A"),
                    source=DRAWING.text, excess=times, cites=(DRAWING,),
                )  # fmt: skip


def ordered(found: Iterable[Finding]) -> tuple[Finding, ...]:
    """The gravest first, then those furthest beyond."""
    key = lambda x: (-LEVELS.index(x.level), -about(x.excess), x.rule, x.at)  # noqa: E731
    return tuple(sorted(found, key=key))


def about(excess: float) -> float:
    """To four digits: halves of a winding that carry the same are not ranked by rounding."""
    return float(f"{excess:.4g}")


def touchable(circuit: Circuit) -> list[tuple[str, str]]:
    """(Terminal, net): the chassis, and what one plugs into or holds; gnd is none."""
    found = [("chassis", circuit.points["chassis"])] if "chassis" in circuit.points else []
    found += [(name, net) for name, nets in jacks(circuit).items() for net in nets]
    for branch in circuit.branches.values():
        if branch.traits.touchable:
            found += [(branch.name, branch.a), (branch.name, branch.b)]
    return [(name, net) for name, net in dict.fromkeys(found) if net != GROUND]


def _beyond_touch(solution: Solution, net: str) -> float:
    wave = solution.waves.get(net)
    if wave is None:
        return 0.0
    swing = max(wave.high - wave.dc, wave.dc - wave.low)
    return max(abs(wave.dc) / TOUCH_DC.value, swing / TOUCH_PEAK.value)


def seconds_charged(circuit: Circuit, solution: Solution) -> float:
    """The longest that a capacitor stays above 60 V after switch-off; 0 where none is charged."""
    if not solution.converged:
        return 0.0
    found = slowest(circuit, [_as_warm(circuit, solution)])
    return max((d.seconds for d in found if not d.undrawn), default=0.0)


def _as_warm(circuit: Circuit, solution: Solution) -> Solution:
    return replace(solution, state=State(WARM, WARM), circuit=circuit)


@cache
def _rules(names: tuple[str, ...]) -> tuple[Rule, ...]:
    return tuple(rule_by_id(name) for name in names)


def _findings(
    circuit: Circuit, solution: Solution, rules: Sequence[Rule]
) -> tuple[list[Finding], tuple[str, ...]]:
    """What the rules say of this one state, taken as the nominal one, and which of them failed.

    Advice is left out, and so is the signal: the set is at rest.
    """
    warm = replace(solution, state=replace(solution.state, name=WARM, kind=WARM), circuit=circuit)
    case = Case(circuit, {WARM: warm}, {WARM: None})
    outcomes = run_rules(case, rules)
    found = [o for o in outcomes if isinstance(o, Finding) and o.level != "advice"]
    said = [o for o in outcomes if isinstance(o, NotJudged) and o.kind.broken]
    return merge(found), tuple(dict.fromkeys(o.rule for o in said))


def _differ(now: float | None, before: float | None) -> bool:
    """By more than a thousandth; without a number they are taken to differ."""
    return now is None or before is None or abs(now - before) > 1e-3 * abs(before)


def _cold(finding: Finding) -> bool:
    """A heater that gets too little: the set does not work, but nothing is exceeded."""
    found, rated = finding.evidence.get("heater_rms"), finding.evidence.get("rated")
    return isinstance(found, Figure) and isinstance(rated, Figure) and found.value < rated.value


def _limited(circuit: Circuit, finding: Finding) -> tuple[str, ...]:
    """The places a limit is of: of tubes, without the parts that are only told to set it.

    Which parts set a bias depends on what flows, and so on the fault.
    """
    tubes = {n for s in circuit.sections() for n in (s.name, s.tube)}
    its = [place for place in finding.at if place.partition(".")[0] in tubes]
    return tuple(sorted(its if finding.at[:1] == tuple(its[:1]) else finding.at))


def _gone(fault: Fault, finding: Finding) -> bool:
    """A part that is open has no limits any more."""
    return fault.kind == f.OPEN and finding.at[:1] == (fault.part,)


def _renamed(state: str, name: str) -> str:
    """``failed R9 open`` for warm; ``off, failed R9 open`` for off."""
    if state.startswith("off"):
        return f"{state}, {name}"
    return name if state in (WARM, "drawing", "") else f"{state}, {name}"
