"""Compares one rating of the data sheet with the solved states, for every used section."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.class_c import UNDRIVEN, driven
from coldcheck.anatomy.neighbourhood import amplifiers, reading, without
from coldcheck.anatomy.running import running
from coldcheck.circuit.tubes import centred
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.drawing.units import engineering
from coldcheck.drawing.wording import volts
from coldcheck.judge import ranges
from coldcheck.judge.figure import figure
from coldcheck.judge.ranges import certainty
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.solve.solution import HIGH, PULLED, STANDBY, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Section, Tube
    from coldcheck.circuit.tubes import Sourced
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule
    from coldcheck.solve.solution import Solution, TubeReading

CLEARLY = Threshold("times a rating that is allowed with a tube pulled", 1.2, "", PRACTICE)
DOUBT = Threshold(
    "times a rating up to which it is advice",
    1.05,
    "",
    Citation("practice", "a prediction is no better than 5 %"),
)
"""A predicted figure up to 5 % over a rating is advice: the prediction is no better than that."""
CENTRED = Threshold(
    "times a design-centre voltage up to which it is advice",
    1.1,
    "",
    Citation("practice", "it leaves room for the mains 10 % high: a little more costs some life"),
)

IDLE_MA = 0.01
"""With less a tube is cut off."""


@dataclass(frozen=True, slots=True)
class Check:
    """One rating: its name in the data, its words, and how to read the figure."""

    rating: str
    words: str
    unit: Literal["V", "A", "W"]
    figure: Callable[[TubeReading], float | None]
    detail: Callable[[TubeReading], str]
    remedy: Callable[[TubeReading, float], str]
    electrode: str = "plate"
    makers: Callable[[Case, Section], tuple[str, tuple[str, ...]]] | None = None
    """The parts that the remedy is about, in words and by name."""

    @property
    def figure_key(self) -> str:
        """The figure's name in the evidence: ``plate_dissipation``."""
        return self.words.replace(" ", "_")

    def said(self, value: float) -> str:
        """A figure in words: three digits with its unit."""
        return volts(value) if self.unit == "V" else engineering(value, self.unit)


@dataclass(frozen=True, slots=True)
class Excess:
    """A figure beyond its rating in one state."""

    at: str
    solution: Solution
    value: float
    limit: Sourced
    found: TubeReading

    @property
    def ratio(self) -> float:
        """Figure over limit."""
        return self.value / self.limit.value


def in_force(tube: Tube, solution: Solution) -> bool:
    """Whether a state counts for the rating system of a type (a low line and cold never do)."""
    kind = solution.state.kind
    if kind == HIGH:
        return not centred(tube.type)
    return kind in (WARM, STANDBY, PULLED)


def judge(which: Rule, case: Case, check: Check) -> Iterator[Outcome]:
    """Compare one rating for every used section; what is missing is said once a tube."""
    used = [(t, s) for t, s in amplifiers(case.circuit) if check.electrode in s.electrodes]
    reason = unsolved_reason(case)
    if reason is not None and used:
        yield which.not_judged(tuple(dict.fromkeys(t.name for t, _ in used)), reason)
        return
    gaps: dict[str, str] = {}
    for tube, section in used:
        limit = tube.type.rating(check.rating, section.type.name)
        if limit is None:
            gaps[tube.name] = f"no limit on file for {check.words} ({tube.type.name})"
        elif _figure(check, case.warm, section) is None:
            gaps[section.name] = _why_unknown(case.warm, section, check)
        else:
            yield from findings(which, case, check, _excesses(case, check, tube, section, limit))
    yield from (which.not_judged((at,), why) for at, why in gaps.items())


def _figure(check: Check, solution: Solution, section: Section) -> float | None:
    found = reading(solution, section)
    return None if found is None else check.figure(found)


def _why_unknown(warm: Solution, section: Section, check: Check) -> str:
    why = next(filter(None, map(warm.why_lost, section.electrodes.values())), "")
    return f"{check.words} could not be worked out{': ' + why if why else ''}"


def _excesses(
    case: Case, check: Check, tube: Tube, section: Section, limit: Sourced
) -> Iterator[Excess]:
    for solution in case.solved():
        found = reading(solution, section)
        value = None if found is None else check.figure(found)
        if found is None or value is None or not in_force(tube, solution):
            continue
        if value > limit.value * threshold(solution, found):
            yield Excess(section.name, solution, value, limit, found)


def threshold(solution: Solution, found: TubeReading | None = None) -> float:
    """A pulled tube is a passing state: only what is clearly over counts there.

    So is standby for a tube that draws nothing then.
    """
    idle = found is not None and found.plate_ma < IDLE_MA and solution.state.kind == STANDBY
    return CLEARLY.value if idle or solution.state.kind == PULLED else 1.0


def findings(which: Rule, case: Case, check: Check, found: Iterable[Excess]) -> Iterator[Finding]:
    """Candidates, one a state; a pulled socket is mentioned only where the set is fine with all."""
    everything = list(found)
    steady = [e for e in everything if e.solution.state.kind != PULLED]
    for excess in steady or everything:
        yield _finding(which, case, check, excess)


def _finding(which: Rule, case: Case, check: Check, excess: Excess) -> Finding:
    state = excess.solution.state
    section = _section(case, excess)
    oscillates = section is not None and _oscillates(case, check, section)
    type_ = case.circuit.tubes[_tube_name(case, excess.at)].type
    doubt = CENTRED if check.unit == "V" and centred(type_) else DOUBT
    mild = excess.ratio <= doubt.value or state.kind == PULLED or oscillates
    detail, system = check.detail(excess.found), type_.rating_system
    if section is not None and _is_driven(case, section):
        detail += f", {UNDRIVEN}"
    remedy, parts = _remedy(case, check, excess)
    message = (
        f"{excess.at}: {check.words} {check.said(excess.value)}{detail}, "
        f"limit {check.said(excess.limit.value)}{f' ({system})' if system else ''}"
    )
    return which.finding(
        case,
        (excess.at, *parts),
        message,
        remedy,
        state=state.name,
        level="advice" if mild else None,
        evidence={check.figure_key: figure(excess.value, check.unit)},
        limit=figure(excess.limit.value, check.unit),
        certainty=certainty(excess.ratio, _off(case, check, excess)),
        source=excess.limit.cited,
        excess=excess.ratio,
    )


def _is_driven(case: Case, section: Section) -> bool:
    return section.name in {d.section.name for d in driven(case.circuit)}


def _oscillates(case: Case, check: Check, section: Section) -> bool:
    """Whether a stage takes less at work than at rest, as it is solved."""
    own = {stage.section.name for stage in running(case.circuit)}
    own |= {stage.section.name for stage in driven(case.circuit)}
    return section.kind is SectionKind.CONVERTER or (check.unit != "V" and section.name in own)


def _off(case: Case, check: Check, excess: Excess) -> float:
    """The range of the figure as a share of it."""
    section = _section(case, excess)
    if section is None:
        return ranges.UNKNOWN.value
    quantity = excess.limit.unit
    return ranges.electrode(excess.solution, section, check.electrode, quantity)


def _remedy(case: Case, check: Check, excess: Excess) -> tuple[str, tuple[str, ...]]:
    """What to do, and the parts it is about."""
    pulled, section = without(excess.solution), _section(case, excess)
    if section is not None and _is_driven(case, section) and check.unit != "V":
        return "Give it a bias besides its leak that holds it when the drive fails", ()
    if pulled:
        return pulled, ()
    plain = check.remedy(excess.found, excess.limit.value)
    if check.makers is None or section is None:
        return plain, ()
    makers, parts = check.makers(case, section)
    return plain + makers, parts


def _section(case: Case, excess: Excess) -> Section | None:
    return next((s for s in case.circuit.sections() if s.name == excess.at), None)


def _tube_name(case: Case, at: str) -> str:
    if at in case.circuit.tubes:
        return at
    return next(s.tube for s in case.circuit.sections() if s.name == at)
