"""Electrolytics the wrong way round, one by one or with the diode that feeds them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.neighbourhood import without
from coldcheck.anatomy.reach import reach
from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.finding import Blame
from coldcheck.judge.numbers import unsolved
from coldcheck.judge.ranges import UNKNOWN, certainty
from coldcheck.judge.rule import rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.solution import COLD, PULLED, STANDBY, WARM, WARMING
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Branch
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.solution import Solution

REVERSE_V = Threshold("reverse voltage of an electrolytic, DC", 1.0, "V", PRACTICE)
REVERSE_WARM_V = Threshold(
    "reverse voltage of an electrolytic at work", 0.3, "V",
    Citation("practice", "less is an offset, a bypass at a cathode has half a volt or more"),
)  # fmt: skip
REVERSE_PULLED_V = Threshold(
    "reverse voltage of an electrolytic with a tube out or in standby, DC", 1.5, "V",
    Citation("practice", "makers' guides let aluminium electrolytics stand it (from memory)"),
)  # fmt: skip
REVERSE_PEAK_V = Threshold("reverse voltage of an electrolytic on AC, peak", 5.0, "V", PRACTICE)
BURSTING_V = Threshold("reverse voltage that bursts an electrolytic", 25.0, "V", PRACTICE)


@rule(
    "capacitor.reversed",
    title="Electrolytic capacitor the wrong way round",
    level="warning",
    blame=Blame.LIKELY_SLIP,
    states="every solved state",
    needs="the + of the capacitor on the drawing, and a solved state",
    criterion=(
        "The DC of the + lead is more than 1 V below the other lead, of a bypass at a cathode at "
        f"work more than {REVERSE_WARM_V.value:g} V, or its lowest instant more than 5 V. Up to "
        "25 V of reverse voltage it is a notice, above that a warning; a level lower with a tube "
        "out, or while the tubes warm up where it is right when warm. Where all the electrolytics "
        "behind a diode are reversed, the diode is one finding. Tubes out of their sockets count "
        "only where it is right with all of them in. With a tube out, and in standby, it counts "
        f"from {REVERSE_PULLED_V.value:g} V on."
    ),
    why=(
        "A reversed electrolytic conducts, heats and builds up gas. On a supply rail it bursts, "
        "with hot electrolyte near the face that watches the first power-up; as a cathode "
        "bypass it only leaks and shifts the bias. In a negative supply the + goes to gnd."
    ),
    source=PRACTICE,
    limits=(
        "The settled DC of each solved state is looked at; reversal for milliseconds while "
        "the supply builds up is not. A capacitor drawn without a plus is not judged, "
        "whatever its type."
    ),
    thresholds=(BURSTING_V, REVERSE_PEAK_V, REVERSE_PULLED_V, REVERSE_V, REVERSE_WARM_V, UNKNOWN),
)
def capacitor_reversed(case: Case) -> Iterator[Outcome]:
    """Look at the DC across every capacitor with a drawn +."""
    polarised = [
        b
        for b in case.circuit.branches.values()
        if b.kind is PartKind.CAPACITOR and b.a != b.b and b.plus is not None
    ]
    reason = unsolved(case)
    if reason is not None and polarised:
        yield capacitor_reversed.not_judged(tuple(b.name for b in polarised), reason)
    found = [w for b in polarised for w in _wrong_ways(case, b)]
    steady = [w for w in found if w.solution.state.kind != PULLED]
    running = {w.branch.name for w in steady}
    kept = steady + [w for w in found if w.branch.name not in running]
    groups = _turned_supplies(case, polarised, {w.branch.name for w in kept if not w.on_ac})
    for group, diodes in groups:
        yield from _supply_reversed(case, group, diodes, kept)
    told = {name for group, _ in groups for name in group}
    alone = [w for w in kept if w.branch.name not in told]
    passing = [w for w in alone if _passes(case, w)]
    yield from (_reversed(case, w) for w in alone if w not in passing)
    for state in dict.fromkeys(w.solution.state.name for w in passing):
        yield _for_a_while(case, [w for w in passing if w.solution.state.name == state])


@dataclass(frozen=True, slots=True)
class _WrongWay:
    """A polarised capacitor whose + is below its other lead, at rest or (``on_ac``) at a peak."""

    branch: Branch
    solution: Solution
    volts: float
    on_ac: bool

    @property
    def limit(self) -> float:
        """What it may be, volts."""
        if self.on_ac:
            return REVERSE_PEAK_V.value
        usual = _steady_limit(self.solution)
        return usual if self.volts > usual else REVERSE_WARM_V.value

    @property
    def evidence(self) -> dict[str, Figure | str]:
        """The figure and its limit."""
        name = "reverse_peak" if self.on_ac else "reverse_dc"
        return {name: figure(self.volts, "V"), "limit": figure(self.limit, "V")}


def _steady_limit(solution: Solution) -> float:
    """What an electrolytic may have in reverse at rest in a state, volts.

    Behind an open standby switch the contact potential of hot tubes leaves a volt on a rail.
    """
    passing = solution.state.kind in (PULLED, STANDBY)
    return (REVERSE_PULLED_V if passing else REVERSE_V).value


def _bypasses(case: Case, branch: Branch) -> bool:
    """Whether a capacitor leads from a cathode to gnd, where the volts are always one way."""
    ends = {branch.a, branch.b}
    cathodes = {n for s in case.circuit.sections() for n in s.cathode_nets} - set(LANDMARKS)
    return bool(ends & cathodes) and bool(ends & set(LANDMARKS))


def _wrong_ways(case: Case, branch: Branch) -> Iterator[_WrongWay]:
    plus = branch.plus or branch.a
    for solution in case.solved():
        wave = solution.between(plus, branch.other(plus))
        if wave is None:
            continue
        little = solution.state.kind == WARM and _bypasses(case, branch)
        if wave.dc < -(REVERSE_WARM_V.value if little else _steady_limit(solution)):
            yield _WrongWay(branch, solution, -wave.dc, on_ac=False)
        elif wave.low < -REVERSE_PEAK_V.value:
            yield _WrongWay(branch, solution, -wave.low, on_ac=True)


def _turned_supplies(
    case: Case, polarised: list[Branch], wrong: set[str]
) -> list[tuple[tuple[str, ...], tuple[str, ...]]]:
    """Groups of two or more capacitors behind the same diodes, all of them reversed."""
    groups: list[tuple[tuple[str, ...], tuple[str, ...]]] = []
    for branch in polarised:
        if branch.name not in wrong or any(branch.name in g for g, _ in groups):
            continue
        nets = set(reach(case.circuit, {branch.a, branch.b} - set(LANDMARKS), LANDMARKS))
        nets -= set(LANDMARKS)
        near = [b for b in polarised if {b.a, b.b} & nets]
        on_them = {b.name for n in nets for b in case.circuit.at(n) if b.kind is PartKind.DIODE}
        if len(near) > 1 and on_them and {b.name for b in near} <= wrong:
            groups.append((tuple(b.name for b in near), tuple(sorted(on_them))))
    return groups


def _supply_reversed(
    case: Case, names: tuple[str, ...], diodes: tuple[str, ...], found: list[_WrongWay]
) -> Iterator[Finding]:
    """One finding for a supply that is the other way round than its capacitors."""
    for state in dict.fromkeys(w.solution.state.name for w in found):
        here = [w for w in found if w.branch.name in names and w.solution.state.name == state]
        if not here:
            continue
        worst = max(here, key=lambda w: w.volts)
        yield capacitor_reversed.finding(
            case,
            (*diodes, *names),
            f"{listed(diodes)} {'points' if len(diodes) == 1 else 'point'} against every "
            f"electrolytic behind ({listed(names)}): "
            f"the + of {worst.branch.name} is {volts(worst.volts)} below its other lead",
            f"Turn {listed(diodes)} round if the supply was meant to have the polarity the "
            "capacitors show; else turn every one of them",
            state=state,
            level="warning" if worst.volts > BURSTING_V.value else "notice",
            evidence={**worst.evidence, "behind": listed(diodes)},
            certainty=certainty(worst.volts / worst.limit),
            excess=worst.volts / worst.limit,
        )


def _reversed(case: Case, wrong: _WrongWay) -> Finding:
    branch = wrong.branch
    what = (
        f"{branch.name} is on AC: its + swings to {volts(wrong.volts)} below its other lead"
        if wrong.on_ac
        else f"the + of {branch.name} is {volts(wrong.volts)} below its other lead"
    )
    return capacitor_reversed.finding(
        case,
        (branch.name,),
        what,
        _cure(case, wrong),
        state=wrong.solution.state.name,
        level=_level(wrong),
        evidence=wrong.evidence,
        certainty=certainty(wrong.volts / wrong.limit),
        excess=wrong.volts / wrong.limit,
    )


def _cure(case: Case, wrong: _WrongWay) -> str:
    """Turned round where it is wrong at work; with a tube out, or in standby, it may be right."""
    name, pulled = wrong.branch.name, without(wrong.solution)
    if wrong.on_ac:
        return f"Find out why {name} is ahead of the rectifier; an electrolytic stands no AC"
    if pulled:
        return f"{pulled}, or use a bipolar part for {name}"
    if _right_when_warm(case, wrong):
        return (
            f"Leave {name} as drawn: warm it is right. See what draws its + below its other lead "
            f"in {wrong.solution.state.name}, or hold it there with a diode across, its cathode to "
            "the +"
        )
    return f"Turn {name} round"


def _right_when_warm(case: Case, wrong: _WrongWay) -> bool:
    plus = wrong.branch.plus or wrong.branch.a
    wave = case.warm.between(plus, wrong.branch.other(plus)) if case.warm.converged else None
    return wave is not None and wave.dc > 0


def _level(wrong: _WrongWay) -> str:
    bursts = wrong.volts > BURSTING_V.value
    if wrong.solution.state.kind == PULLED:
        return "notice" if bursts else "advice"
    return "warning" if bursts else "notice"


def _passes(case: Case, wrong: _WrongWay) -> bool:
    """Whether it is only while the tubes are cold or warming, and right when they are warm."""
    early = wrong.solution.state.kind in (COLD, WARMING) and not wrong.on_ac
    return early and _right_when_warm(case, wrong)


def _for_a_while(case: Case, found: list[_WrongWay]) -> Finding:
    """One finding for what the cold tubes leave the wrong way round in a state."""
    worst = max(found, key=lambda w: w.volts)
    names = listed(w.branch.name for w in found)
    return capacitor_reversed.finding(
        case,
        tuple(w.branch.name for w in found),
        f"until the tubes conduct the + of {worst.branch.name} is {volts(worst.volts)} below its "
        "other lead",
        f"Leave {names} as drawn: warm it is right. See what draws the + below the other lead, or "
        "hold it there with a diode across, its cathode to the +",
        state=worst.solution.state.name,
        level="notice" if worst.volts > BURSTING_V.value else "advice",
        evidence=worst.evidence,
        certainty=certainty(worst.volts / worst.limit),
        excess=worst.volts / worst.limit,
    )


RULES = (capacitor_reversed,)
