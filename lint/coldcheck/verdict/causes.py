"""The one thing to change: a slip that, undone, makes most of the findings go away.

Each suspect is a drawing with one slip undone. It is reviewed quickly (the warm state and those
the findings stand in, fewer instants, only the rules that fired), and the best few once more with
all rules. What is told is likely and never certain: the findings it explains are folded under
one of them, which gets the gravest level and names the thing to change.
"""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from coldcheck.anatomy.case import Case
from coldcheck.anatomy.suspect import Likely
from coldcheck.anatomy.suspects import suspects
from coldcheck.anatomy.vicinity import vicinity
from coldcheck.anatomy.working import working
from coldcheck.judge.finding import CHANGE, EXPLAINS, LEVELS, Blame, Finding
from coldcheck.records import dataclass
from coldcheck.rules.drawing.incomplete import incomplete
from coldcheck.settings.apply import circuit_of
from coldcheck.solve.engine import INSTANTS, ROUGH_INSTANTS, Beside
from coldcheck.solve.solution import WARM
from coldcheck.solve.states import states_of
from coldcheck.verdict.running import merge, run_rules

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from coldcheck.anatomy.suspect import Suspect
    from coldcheck.anatomy.vicinity import Vicinity
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.rule import Rule
    from coldcheck.settings.model import Settings
    from coldcheck.solve.engine import Solver
    from coldcheck.solve.solution import Solution, State

MOST_SUSPECTS = 30
"""Slips tried; a quick look costs a twentieth of a review or so."""

LOOKED_AT = 2
"""The best of them are reviewed by all rules, one after the other, until one holds."""

MOST_PARTS = 250
"""Above, no slip is looked for: each look costs seconds. The samples have at most some 70."""

EXTRA_STATES = 1
"""Besides warm, in a quick look: that of the gravest finding elsewhere."""

WEIGHT: Mapping[str, float] = MappingProxyType(
    {"advice": 0.0, "notice": 2.0, "caution": 3.0, "warning": 5.0, "danger": 8.0}
)
TRUST: Mapping[Likely, float] = MappingProxyType(
    {
        Likely.SELDOM: 0.4, Likely.AT_TIMES: 0.55, Likely.COMMON: 0.75, Likely.USUAL: 0.9,
        Likely.PLAIN: 1.0,
    }
)  # fmt: skip
"""What a share of the findings explained counts, by how likely the slip is."""

OVER_VOLTS = ("capacitor.over-voltage", "supply.inverse-voltage", "heater.wrong-voltage")
"""Where these fire, windings are looked at before other things that happen seldom."""

SLOW_FAMILY = "signal"
"""Its rules drive the stages through their swing; left to the second look where others fired."""

SIGNALS = (SLOW_FAMILY, "output", "capacitor", "intent")
"""Families of what alternating currents have to do with."""

PLAIN_FAMILIES = ("drawing", "grid", "tube")

MAJORITY, CLEAR_MAJORITY = 0.6, 0.75
NEARLY_ALL, SEVERAL = 0.9, 3
"""What a slip that happens seldom has to explain: a change may silence things by chance."""

FAR = 1.5
"""A part's rating that is passed by less is no decade's work: that does more."""

ALONE = 0.9
"""Trust from which a slip is named though it explains a single finding."""

HOPES = "intent"
"""The family of what the drawing expects of itself."""

SAY_EXCHANGED = (
    "tube.grid-and-cathode-exchanged",
    "tube.plate-and-screen-exchanged",
    "output.plate-and-screen-exchanged",
    "signal.gain-control-positive",
)

OF_A_RATING = ("resistor.over-power", "resistor.over-voltage", "capacitor.over-voltage")
"""They are about a part's rating, and say nothing of its value."""

OF_WHAT_DRAINS = ("supply.no-bleeder",)
"""It is about what is missing beside a capacitor, and says nothing of its value."""

WORSE = 1.5
"""What is so many times further beyond its limit than before is something new."""

TAPS = "output.taps-swapped"
"""It tells of the leads too, though not which of them to exchange."""

ALIVE = 0.2
"""A sound stage that keeps less than this share of its current was not mended but starved."""

SUPPLY_V = 60.0
"""A capacitor that holds more is one of a supply, or of what hangs on one."""

DEAD = 0.02
"""With less than this share of its volts a supply was not mended but taken away."""

CONDUCTS = 0.01
"""So was one of which there is much to say, if it hardly conducts any more."""


@dataclass(frozen=True, slots=True)
class Inquest:
    """What is to be explained, and what it takes to look at a changed drawing."""

    case: Case
    settings: Settings
    rules: tuple[Rule, ...]
    packages: Mapping[str, str]
    told: tuple[Finding, ...]
    every: tuple[Finding, ...]

    @property
    def judged(self) -> tuple[Finding, ...]:
        """What a rule tells: a waiver that fits nothing is no fault that a change would mend."""
        names = {r.id for r in self.rules} & {f.rule for f in self.every}
        return tuple(f for f in self.told if f.rule in names)


@dataclass(frozen=True, slots=True)
class Answer:
    """A suspect with the findings that go away, and what that counts."""

    suspect: Suspect
    gone: tuple[Finding, ...]
    score: float
    other: Suspect | None = None
    """One elsewhere that explains as much: the drawing does not say which of them it is."""


@dataclass(frozen=True, slots=True)
class Quick:
    """Rules of a quick look: those that fired, and those that see that a stage is only killed."""

    fired: tuple[Rule, ...]
    guards: tuple[Rule, ...] = ()


def explained(inquest: Inquest) -> list[Finding]:
    """The findings with those one likely slip explains folded under one of them."""
    counted = _counted(inquest.judged)
    small = len(inquest.case.circuit.branches) <= MOST_PARTS
    # A drawing that is not all there leaves any guess about its slips in the air.
    whole = incomplete.id not in {f.rule for f in inquest.every}
    answer = _best(inquest, counted) if counted and small and whole else None
    return list(inquest.told) if answer is None else _telling(inquest, answer)


def _counted(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Those that have to be explained: none that is waived, merely possible, or advice."""
    return tuple(
        f
        for f in findings
        if f.accepted is None and WEIGHT[f.level] and not f.only_edge and not f.reaches_hands
    )


def _best(inquest: Inquest, counted: tuple[Finding, ...]) -> Answer | None:
    """The slip that explains most, held by all rules; likelier ones are looked at first."""
    circuit = inquest.case.circuit
    near = vicinity(circuit, [place for f in counted for place in f.at])
    elsewhere = [f for f in counted if not _stands_in(f, (WARM,))]
    states = _states(inquest.case, elsewhere, EXTRA_STATES)
    rules, beside = _quick_rules(inquest, counted), Beside.of(circuit, ROUGH_INSTANTS)
    names = {r.id for r in (*rules.fired, *rules.guards)}
    seen = tuple(f for f in counted if _stands_in(f, (WARM, *states)) and f.rule in names)
    found: list[Answer] = []
    for suspect in _worth_a_look(inquest.case, near, counted):
        settled = [a for a in found if a.score > TRUST[suspect.likely]]
        if settled:
            held = _first_that_holds(inquest, settled)
            if held is not None:
                return held
            found = [a for a in found if a not in settled]
        answer = _look(inquest, suspect, seen, rules, states, beside)
        if answer is not None:
            found.append(answer)
    return _first_that_holds(inquest, found)


def _quick_rules(inquest: Inquest, counted: Iterable[Finding]) -> Quick:
    fired = {f.rule for f in counted}
    quick = {n for n in fired if n.partition(".")[0] != SLOW_FAMILY} or fired
    return Quick(
        tuple(r for r in inquest.rules if r.id in quick),
        tuple(r for r in inquest.rules if r.id not in quick and r.family in PLAIN_FAMILIES),
    )


def _stands_in(finding: Finding, states: Collection[str]) -> bool:
    return finding.state == "drawing" or bool({finding.state, *finding.also_in} & set(states))


def _worth_a_look(case: Case, near: Vicinity, counted: Sequence[Finding]) -> list[Suspect]:
    """The likeliest suspects; behind a single finding only those that are very likely."""
    few = _many(counted) < 2
    signals = any(f.family in SIGNALS for f in counted)
    found = suspects(case, near, signals=signals)
    if any(f.rule in OVER_VOLTS for f in counted):
        found.sort(key=lambda s: s.likely < Likely.COMMON and s.at[0] not in _windings(case))
    slight = few and all(f.rule in OF_A_RATING and f.excess < FAR for f in counted)
    found = [s for s in found if not (slight and s.decade)]
    return [s for s in found if not few or TRUST[s.likely] >= ALONE][:MOST_SUSPECTS]


def _windings(case: Case) -> set[str]:
    return {w.name for w in case.circuit.windings()}


def _first_that_holds(inquest: Inquest, found: list[Answer]) -> Answer | None:
    """The best that all rules agree to; nothing where two explain one finding equally well."""
    named = {p.partition(".")[0] for f in _counted(inquest.judged) for p in f.at}
    best = sorted(
        found,
        key=lambda a: (-a.score, a.suspect.at[0].partition(".")[0] not in named, a.suspect.steps),
    )[:LOOKED_AT]
    held = (x for a in best for x in [_confirmed(inquest, a)] if x is not None)
    first = next(held, None)
    if first is None:
        return None
    other = next((x for x in held if _as_good(first, x)), None)
    if other is None:
        return first
    return replace(first, other=other.suspect) if _many(_counted(first.gone)) > 1 else None


def _many(findings: Iterable[Finding]) -> int:
    """How many there are, with those that were told with another."""
    return sum(1 + str(f.evidence.get(EXPLAINS, "")).count(" at ") for f in findings)


def _as_good(one: Answer, other: Answer) -> bool:
    """Whether two slips in different places explain about as well."""
    near = other.score > 0.97 * one.score and other.suspect.steps <= one.suspect.steps
    return near and other.suspect.at[0] != one.suspect.at[0]


def _states(case: Case, findings: Iterable[Finding], most: int) -> list[str]:
    """The states besides warm that the gravest findings stand in."""
    grave = sorted(findings, key=lambda f: -WEIGHT[f.level])
    names = dict.fromkeys(f.state for f in grave if f.state in case.solutions)
    return [n for n in names if n != WARM and case.solutions[n].converged][:most]


def _look(
    inquest: Inquest,
    suspect: Suspect,
    told: Sequence[Finding],
    rules: Quick,
    states: Sequence[str],
    beside: Beside,
) -> Answer | None:
    """What goes away with a slip undone; ``None`` if it is none that works, or explains too little.

    The cheapest is looked at first: a slip that leaves most findings standing in warm, or with the
    rules that fired, leaves them standing in more states and with more rules.
    """
    trial = _Trial.of(inquest, suspect, beside)
    if trial is None:
        return None
    for more in ([], states) if states else ([],):
        after = trial.findings(inquest, rules.fired, more)
        answer = None if after is None else _answer(inquest, suspect, told, after)
        if answer is None:
            return None
    after = trial.findings(inquest, rules.guards, states)
    return None if after is None or _news(inquest, after) else answer


@dataclass(frozen=True, slots=True)
class _Trial:
    """A drawing with a slip undone, what the slip is about, and the states solved so far."""

    at: tuple[str, ...]
    circuit: Circuit
    solver: Solver
    solutions: dict[str, Solution]

    @staticmethod
    def of(inquest: Inquest, suspect: Suspect, beside: Beside) -> _Trial | None:
        """``None`` for a drawing that is none."""
        circuit = circuit_of(suspect.redrawn(), inquest.settings)
        own = suspect.decade and suspect.steps == 0  # few, and worth what they cost
        return (
            None
            if circuit.problems
            else _Trial(suspect.at, circuit, beside.solver(circuit, patient=own), {})
        )

    def findings(
        self, inquest: Inquest, rules: Iterable[Rule], states: Collection[str]
    ) -> list[Finding] | None:
        """What rules say in warm and some states; ``None`` where those are not to be had."""
        wanted = [s for s in states_of(self.circuit) if s.name == WARM or s.name in states]
        for state in wanted:
            if state.name not in self.solutions and not self._solved(inquest, state):
                return None
        outcomes = run_rules(Case(self.circuit, self.solutions), rules, inquest.packages)
        return merge(o for o in outcomes if isinstance(o, Finding))

    def _solved(self, inquest: Inquest, state: State) -> bool:
        """Whether a state is solved, and warm leaves every stage alive."""
        try:
            found = self.solver.solve(state)
        except MemoryError:
            raise
        except Exception:  # a drawing nobody drew may do to the solver what it likes
            return False
        self.solutions[state.name] = found
        before = inquest.case.solutions.get(WARM)
        if state.name == WARM and before is not None:
            return found.converged and not _starved(inquest, self.at, before, found)
        return found.converged


def _starved(inquest: Inquest, at: tuple[str, ...], before: Solution, after: Solution) -> bool:
    """Whether a stage of which there is nothing to say loses its current, or a supply its volts.

    One that the slip names besides what is to be changed may have less.
    """
    if _unfed(before, after):
        return True
    named = {p.partition(".")[0] for p in (*at[1:], *(p for f in inquest.told for p in f.at))}
    for tube, section in working(inquest.case.circuit):
        old, new = before.readings.get(section.name), after.readings.get(section.name)
        if old is None or new is None:
            continue
        least = CONDUCTS if {tube.name, section.name} & named else ALIVE
        if new.plate_ma < least * old.plate_ma:
            return True
    return False


def _unfed(before: Solution, after: Solution) -> bool:
    """Whether a capacitor that held a supply is left with next to nothing."""
    for branch in before.circuit.branches.values():
        old = before.between(branch.a, branch.b) if branch.plus is not None else None
        same = after.circuit.branches.get(branch.name)
        if old is None or same is None or abs(old.dc) < SUPPLY_V:
            continue
        new = after.between(same.a, same.b)
        if new is None or abs(new.dc) < DEAD * abs(old.dc):
            return True
    return False


def _answer(
    inquest: Inquest, suspect: Suspect, told: Sequence[Finding], after: Sequence[Finding]
) -> Answer | None:
    """What goes away; ``None`` if that is no clear majority, or something new comes up."""
    if _news(inquest, after):
        return None
    away = [f for f in told if not _in(f, after) and not f.reaches_hands]
    places = {p for f in _counted(away) for p in f.at}
    gone = tuple(f for f in away if WEIGHT[f.level] or places & set(f.at))
    weight = sum(WEIGHT[f.level] for f in gone)
    share = weight / max(sum(WEIGHT[f.level] for f in _counted(told)), 1e-9)
    return (
        Answer(suspect, gone, share * TRUST[suspect.likely])
        if _enough(suspect, share, _many(_counted(gone)))
        else None
    )


def _news(inquest: Inquest, after: Iterable[Finding]) -> bool:
    """Whether something comes up that was not there before, or was much milder."""
    return any(
        WEIGHT[f.level] and not _in(f, (b for b in inquest.every if f.excess < WORSE * b.excess))
        for f in after
        if not f.only_edge
    )


def _enough(suspect: Suspect, share: float, many: int) -> bool:
    """Whether so much is explained that a slip may be named: more, the rarer the slip."""
    if suspect.likely is Likely.SELDOM:
        return share >= NEARLY_ALL and many >= SEVERAL
    enough = MAJORITY if suspect.likely > Likely.AT_TIMES else CLEAR_MAJORITY
    return share >= enough and (many > 1 or TRUST[suspect.likely] >= ALONE)


def _in(finding: Finding, others: Iterable[Finding]) -> bool:
    """Whether the same is said of a place in common, as gravely or as more than advice.

    What a finding explains may have raised its level: milder than that is not gone.
    """
    places, level = set(finding.at), LEVELS.index(finding.level)
    return any(
        f.rule == finding.rule
        and places & set(f.at)
        and (LEVELS.index(f.level) >= level or WEIGHT[f.level])
        for f in others
    )


def _confirmed(inquest: Inquest, answer: Answer) -> Answer | None:
    """The same by all rules, in every state that a finding stands in."""
    states = _states(inquest.case, _counted(inquest.judged), len(inquest.case.solutions))
    trial = _Trial.of(inquest, answer.suspect, Beside(INSTANTS))
    after = None if trial is None else trial.findings(inquest, inquest.rules, states)
    told = [f for f in inquest.judged if f.accepted is None]
    return None if after is None else _answer(inquest, answer.suspect, told, after)


def _telling(inquest: Inquest, answer: Answer) -> list[Finding]:
    """The findings with what is explained folded under one, which names the change."""
    carrier = _carrier(answer)
    rest = [f for f in answer.gone if f is not carrier]
    says_it = _says_so(inquest, carrier, answer.suspect)
    by_itself = says_it or carrier.blame in (Blame.LIKELY_SLIP, Blame.SLIP)
    decade = answer.suspect.decade and carrier.blame is Blame.VALUE
    guess = carrier.blame is Blame.SLIP and not (
        answer.suspect.likely is Likely.PLAIN and _of_its_places(carrier, answer.suspect)
    )
    if decade or (by_itself and (guess or _many(_counted(answer.gone)) < 2)):
        return list(inquest.told)
    names = [f"{f.rule} at {', '.join(f.at)}" for f in rest]
    names += [str(f.evidence[EXPLAINS]) for f in answer.gone if EXPLAINS in f.evidence]
    change = {CHANGE: f"{answer.suspect.found}; {answer.suspect.meant}"}
    listed = {EXPLAINS: "; ".join(names)} if names else {}
    first = replace(
        _named(carrier, answer, len(rest), says_it=says_it),
        level=max((f.level for f in answer.gone), key=LEVELS.index),
        evidence={**carrier.evidence, **change, **listed},
        blame=carrier.blame if answer.suspect.decade else Blame.WIRING,
    )
    gone = {id(f) for f in answer.gone}
    return [first, *(f for f in inquest.told if id(f) not in gone)]


def _of_its_places(carrier: Finding, suspect: Suspect) -> bool:
    """Whether a slip is in one of the things that a finding names."""
    named = {p.partition(".")[0] for p in carrier.at}
    return any(p.partition(".")[0] in named for p in suspect.at)


def _says_so(inquest: Inquest, carrier: Finding, suspect: Suspect) -> bool:
    """Whether a finding names the change already; exchanged leads are named by few rules."""
    circuit = inquest.case.circuit
    if suspect.decade and carrier.rule in (*OF_A_RATING, *OF_WHAT_DRAINS):
        return False
    place = suspect.at[0]
    things = {*circuit.outputs, *(s.name for s in circuit.sections())}
    has_leads = bool({place, place.rpartition(".")[0]} & things)
    return _about(carrier, suspect) and (not has_leads or carrier.rule in SAY_EXCHANGED)


def _carrier(answer: Answer) -> Finding:
    """The finding that tells it: one at the thing to change, else the gravest and furthest.

    That an expectation is missed says least: what is beyond a limit goes before it.
    """
    counted = _counted(answer.gone)
    here = [f for f in counted if _about(f, answer.suspect)]
    first = answer.suspect.at[0]
    wired = [f for f in counted if f.rule in (*SAY_EXCHANGED, TAPS) and first in f.at]
    return max(
        wired or here or counted, key=lambda f: (LEVELS.index(f.level), not _hoped(f), f.excess)
    )


def _hoped(finding: Finding) -> bool:
    return finding.family == HOPES


def _about(finding: Finding, suspect: Suspect) -> bool:
    """Whether a finding is, in the first place, about the thing to change or what has that lead."""
    first, owner = suspect.at[0], suspect.at[0].rpartition(".")[0]
    return finding.at[:1] in ((first,), (owner,))


def _small(text: str) -> str:
    return text[:1].lower() + text[1:]


def _named(carrier: Finding, answer: Answer, others: int, *, says_it: bool) -> Finding:
    """The finding with the thing to change in front; one about that already says it its own way."""
    suspect, other = answer.suspect, answer.other
    remedy = suspect.remedy if other is None else f"{suspect.remedy}. Or: {other.remedy}"
    if says_it:
        return replace(carrier, remedy=f"{carrier.remedy}. What would do it: {_small(remedy)}")
    remedy = f"{remedy}. If that is not it: {carrier.remedy}"
    more = f", and {others} more" if others else ""
    either = "" if other is None else f" (as it does {other.meant} for {other.at[0]})"
    at = (*suspect.at, *(() if other is None else other.at), *carrier.at)
    return replace(
        carrier, at=tuple(dict.fromkeys(at)), span=suspect.span, certainty="likely",
        message=f"{suspect.found}; {suspect.meant} this goes away{more}{either}: {carrier.message}",
        remedy=remedy,
    )  # fmt: skip
