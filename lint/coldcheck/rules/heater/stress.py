"""Heater-cathode insulation: every polarity, peak and DC, in every state; with the signal on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import Case, unsolved_reason
from coldcheck.anatomy.heater_lines import HeaterLine, dragged, heater_lines, insulated
from coldcheck.anatomy.neighbourhood import drawn, reading, without
from coldcheck.anatomy.worked import cathode_swing
from coldcheck.circuit.model import GROUND
from coldcheck.circuit.tubes import centred
from coldcheck.drawing.wording import listed, volts
from coldcheck.judge import ranges
from coldcheck.judge.figure import Figure, figure
from coldcheck.judge.ranges import UNKNOWN, certainty
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.rules.heater.lift import lift_remedy
from coldcheck.solve.solution import HIGH
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.circuit.model import Section, Tube
    from coldcheck.circuit.tubes import Sourced
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.solution import Solution, TubeReading

DOUBT = Threshold(
    "times a design-centre heater to cathode rating up to which it is advice", 1.05, "", PRACTICE
)
LIFTED_VOLTS = Threshold("heater bus that is lifted on purpose, DC", 5.0, "V", PRACTICE)
"""A heater line above this is lifted on purpose; below it sits at gnd."""

RELEVANT_VOLTS = Threshold("heater to cathode voltage that needs no rating", 10.0, "V", PRACTICE)
"""Less than this between heater and cathode needs no rating: every tube stands it."""

SWING_TOLD = 0.02
"""Share of a figure from which on the signal's part in it is told."""

PARTS = (
    ("heater-negative-peak", "peak", -1, "heater_cathode_low"),
    ("heater-negative-dc", "DC", -1, "heater_cathode_dc"),
    ("heater-positive-peak", "peak", 1, "heater_cathode_high"),
    ("heater-positive-dc", "DC", 1, "heater_cathode_dc"),
)
"""Rating, its word, the sign of heater minus cathode, and the reading it limits."""


STATES = (
    "every solved state; high line only for types with absolute or design-maximum ratings, since "
    "a design-centre rating is for nominal mains"
)
CRITERION = (
    "The peaks include what the stated signal swings the cathode by (warm, high and low line). "
    "An absolute or design-maximum limit that only the usual spread reaches is a possible advice."
)
LIMITS = (
    "Heaters are at their running voltage in every state. The signal is a small-signal "
    "estimate, at most as far as the stage's cut-off and grid current let its cathode go."
)


@dataclass(frozen=True, slots=True)
class Stress:
    """One figure against one limit; ``sign`` is that of the heater against the cathode.

    ``swing`` is the share of a peak that the signal makes of it; ``most`` the upper end of the
    figure's range where only that is beyond the limit, else the figure itself. Volts.
    """

    section: Section
    solution: Solution
    word: str
    sign: int
    value: float
    limit: Sourced
    cathode_dc: float
    heater_dc: float
    swing: float = 0.0
    most: float = 0.0
    centred: bool = False

    @property
    def excess(self) -> float:
        """Figure over limit."""
        return self.value / self.limit.value

    @property
    def evidence(self) -> dict[str, Figure | str]:
        """The numbers behind the verdict."""
        kind = "peak" if self.word == "peak" else "dc"
        sense = "heater negative" if self.sign < 0 else "heater positive"
        known: dict[str, Figure | str] = {
            "cathode_dc": figure(self.cathode_dc, "V"),
            "heater_dc": figure(self.heater_dc, "V"),
            kind: figure(self.value, "V"),
            "limit": figure(self.limit.value, "V"),
            "sense": sense,
        }
        if self.told_swing:
            known["signal_swing"] = figure(self.swing, "V")
        return known

    @property
    def told_swing(self) -> bool:
        """Whether the signal's share is worth a word."""
        return self.swing >= SWING_TOLD * self.value

    @property
    def said(self) -> str:
        """The figure in words: ``206 V peak``, and of it what the signal makes."""
        share = f" ({volts(self.swing)} of it signal)" if self.told_swing else ""
        return f"{volts(self.value)} {self.word}{share}"

    def told(self, finding: Finding) -> Finding:
        """The finding as it stands, or as that of a figure of which only the edge is beyond."""
        return finding if self.excess > 1 else ranges.possible(finding, self.most)

    @property
    def level(self) -> str | None:
        """Advice for a state with a tube out of its socket, else the rule's own level."""
        doubt = self.centred and self.excess <= DOUBT.value
        return "advice" if self.solution.state.pulled or doubt else None

    @property
    def lifted(self) -> bool:
        """Whether the heater line stands above the cathode because it was lifted."""
        return self.sign > 0 and self.heater_dc > LIFTED_VOLTS.value


def stresses(
    tube: Tube, section: Section, solution: Solution, swing: float = 0.0
) -> Iterator[Stress]:
    """The figures of a section in a state that are beyond their limit, at least at their edge.

    ``swing``: peak volts the signal moves the cathode by, added to both peaks.
    """
    found = reading(solution, section)
    if found is None or found.heater_cathode_dc is None or found.cathode_v is None:
        return
    if tube.heater is None or (solution.state.kind == HIGH and centred(tube.type)):
        return
    ends = tube.heater.nets[0], section.cathode_nets[0]
    heater_dc = found.cathode_v + found.heater_cathode_dc
    for name, word, sign, field in PARTS:
        limit, number = tube.type.rating(name, section.type.name), getattr(found, field)
        if limit is None or number is None:
            continue
        part = swing if word == "peak" else 0.0
        value = sign * number + part
        edge = not centred(tube.type)
        most = ranges.reach(solution, ends, value, limit.value, edge=edge)
        if most is not None:
            yield Stress(
                *(section, solution, word, sign, value, limit, found.cathode_v, heater_dc),
                *(part, most, not edge),
            )


def _over(case: Case, lifted: bool) -> Iterator[tuple[Tube, Stress]]:
    """The worst figure of each section and state that belongs to one of the two rules."""
    skip = dragged(case.circuit)
    for tube in case.circuit.tubes.values():
        if not insulated(tube) or tube.name in skip:
            continue
        for section in tube.sections:
            for solution in case.solved():
                swing = cathode_swing(case, solution, section)
                every = stresses(tube, section, solution, swing)
                found = [s for s in every if s.lifted is lifted]
                if found:
                    yield tube, max(found, key=lambda s: s.excess)


@rule(
    "heater.cathode-stress",
    title="Heater-cathode insulation over its limit",
    level="notice",
    states=STATES,
    needs="the heater wired, its reference, the cathode's voltage, and the limits of the type",
    criterion="The worst instant of heater against cathode beyond the peak limit for that "
    "polarity, or its mean beyond the DC limit, each as the data sheet gives it; advice where it "
    f"is so only with a tube out of its socket. {CRITERION}",
    why="Between heater and cathode there is a thin layer of insulation. A cathode that stands "
    "high above its heater (follower, upper tube of a stack, split load) strains it: first it "
    "hums and crackles, then it breaks down and takes the tube and its neighbours with it.",
    source=Citation("type-sheet"),
    limits=LIMITS,
    thresholds=(DOUBT, LIFTED_VOLTS, RELEVANT_VOLTS, UNKNOWN),
)
def cathode_stress(case: Case) -> Iterator[Outcome]:
    """Both polarities, peak and DC apart."""
    found = [stress for _, stress in _over(case, lifted=False)]
    low = {s.section.name for s in found if s.sign < 0 and s.level != "advice"}
    for stress in found:
        yield _stressed(case, stress, low)
    yield from _unjudged(case)


def _stressed(case: Case, stress: Stress, low: set[str]) -> Finding:
    """``low``: the sections whose heaters are too far below the cathode."""
    line = next(x for x in heater_lines(case.circuit) if _feeds(x, stress))
    message = (
        f"{stress.section.name}: cathode at {volts(stress.cathode_dc)}, heater at "
        f"{volts(stress.heater_dc)}: {stress.said} between them, "
        f"limit {volts(stress.limit.value)}"
    )
    own = [s.name for t in line.tubes for s in t.sections]
    tie = _tie(line) if stress.sign < 0 and low.issuperset(own) else ()
    finding = cathode_stress.finding(
        case,
        (stress.section.name, *tie),
        f"{message}; {tie[0]} ties the heaters to gnd, and no cathode there is near it"
        if tie
        else message,
        without(stress.solution) or lift_remedy(case, line, stress.section, stress.sign),
        state=stress.solution.state.name,
        level=stress.level,
        evidence=stress.evidence,
        certainty=certainty(stress.excess, _off(case, stress)),
        source=stress.limit.cited,
        excess=stress.excess,
    )
    return stress.told(finding)


def _tie(line: HeaterLine) -> tuple[str, ...]:
    """The lead of a line's winding that is on gnd."""
    leads = [f"{w.name}.{lead}" for w in line.windings for lead, net in w.leads if net == GROUND]
    return tuple(leads[:1])


def _off(case: Case, stress: Stress) -> float:
    """The range of the voltage between heater and cathode, as a share of the figure."""
    heater = case.circuit.tubes[stress.section.tube].heater
    if heater is None:
        return ranges.UNKNOWN.value
    ends = heater.nets[0], stress.section.cathode_nets[0]
    return ranges.between(stress.solution, *ends, stress.value)


def _feeds(line: HeaterLine, stress: Stress) -> bool:
    return any(t.name == stress.section.tube for t in line.tubes)


def _unjudged(case: Case) -> Iterator[Outcome]:
    """What this rule could not decide: one entry a tube."""
    whole = unsolved_reason(case)
    tubes = [t for t in case.circuit.tubes.values() if insulated(t)]
    used = {t.name: [s for s in t.sections if drawn(case.circuit, s)] for t in tubes}
    names = tuple(name for name, sections in used.items() if sections)
    if whole is not None and names:
        yield cathode_stress.not_judged(names, whole)
        return
    for name in names:
        reason = _gap(case, case.circuit.tubes[name], used[name])
        if reason is not None:
            yield cathode_stress.not_judged((name,), reason)


def _gap(case: Case, tube: Tube, used: list[Section]) -> str | None:
    """Why a tube, or a direction of it, is not judged."""
    if tube.heater is None:
        return "its heater is not drawn, so its voltage is not known"
    found = [(s, reading(case.warm, s)) for s in used]
    undefined = _undefined(case.warm, tube, found)
    if undefined is not None:
        return undefined
    return _missing_limit(tube, [r for _, r in found if r is not None])


def _undefined(
    warm: Solution,
    tube: Tube,
    found: list[tuple[Section, TubeReading | None]],
) -> str | None:
    if all(r is not None and r.heater_cathode_dc is not None for _, r in found):
        return None
    nets = [n for s, _ in found for n in s.cathode_nets]
    nets += tube.heater.nets if tube.heater else ()
    why = next((warm.why_lost(n) for n in nets if n in warm.undefined), "")
    return f"the voltage between heater and cathode is not defined{': ' + why if why else ''}"


def _missing_limit(tube: Tube, found: list[TubeReading]) -> str | None:
    """A direction that really occurs and for which the type has no limit on file."""
    for sign, side in ((-1, "negative"), (1, "positive")):
        worst = max((_extreme(r, sign) for r in found), default=0.0)
        names = (f"heater-{side}-peak", f"heater-{side}-dc")
        if worst > RELEVANT_VOLTS.value and not any(tube.type.rating(n) for n in names):
            return (
                f"no limit on file for the heater {side} of the cathode ({tube.type.name}); "
                f"{volts(worst)} predicted"
            )
    return None


def _extreme(found: TubeReading, sign: int) -> float:
    edge = found.heater_cathode_low if sign < 0 else found.heater_cathode_high
    return 0.0 if edge is None else sign * edge


@rule(
    "heater.lifted-too-far",
    title="Heater bus lifted beyond a tube's limit",
    level="notice",
    states=STATES,
    needs="the heater bus's voltage, the cathodes on it, and the limits of the types",
    criterion=f"A heater bus more than {LIFTED_VOLTS.value:g} V above gnd whose voltage above a "
    "cathode "
    f"is beyond the limit for a positive heater, DC or peak. {CRITERION}",
    why="Lifting the heater bus helps the tube with the high cathode and strains every other "
    "tube on the line the other way round; for a positive heater the limit is often the lower one.",
    source=Citation("type-sheet"),
    limits=LIMITS,
    thresholds=(DOUBT, LIFTED_VOLTS, UNKNOWN),
)
def lifted_too_far(case: Case) -> Iterator[Outcome]:
    """One finding a heater line: the lift is the cause, however many tubes suffer."""
    found: dict[str, list[Stress]] = {}
    lines = {t.name: x for x in heater_lines(case.circuit) for t in x.tubes}
    for tube, stress in _over(case, lifted=True):
        found.setdefault(lines[tube.name].name, []).append(stress)
    for every in found.values():
        group = [s for s in every if s.excess > 1] or every
        line = lines[group[0].section.tube]
        at = (line.name, *dict.fromkeys(s.section.name for s in group))
        for state in dict.fromkeys(s.solution.state.name for s in group):
            here = [s for s in group if s.solution.state.name == state]
            yield _lifted(case, line, at, sorted(here, key=lambda s: -s.excess))


def _lifted(case: Case, line: HeaterLine, at: tuple[str, ...], found: list[Stress]) -> Finding:
    worst = found[0]
    others = listed(s.section.name for s in found[1:])
    also = f" (also {others})" if others else ""
    message = (
        f"{line.name}: lifted to {volts(worst.heater_dc)}, {worst.said} above "
        f"the cathode of {worst.section.name}, limit {volts(worst.limit.value)}{also}"
    )
    finding = lifted_too_far.finding(
        case,
        at,
        message,
        without(worst.solution) or lift_remedy(case, line, worst.section, 1),
        state=worst.solution.state.name,
        level=worst.level,
        evidence=worst.evidence,
        certainty=certainty(worst.excess),
        source=worst.limit.cited,
        excess=worst.excess,
    )
    return worst.told(finding)


RULES: tuple[Rule, ...] = (cathode_stress, lifted_too_far)
