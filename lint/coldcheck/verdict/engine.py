"""Review one drawing: build, solve, run every rule, merge, waive, sort.

A rule that raises does not take the review down with it; it becomes a NotJudged that says so,
and the tests fail on it.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from coldcheck.anatomy.case import Case
from coldcheck.anatomy.worked import worked_out
from coldcheck.circuit.limits import shortened
from coldcheck.drawing import read_drawing
from coldcheck.drawing.wording import sentence
from coldcheck.judge.finding import LEVELS, Finding, NotJudged, Unjudged
from coldcheck.settings.apply import assumed, circuit_of
from coldcheck.settings.model import DEFAULTS
from coldcheck.solve import solve_states
from coldcheck.solve.solution import WARM, Solution, State, Unsolved
from coldcheck.sources.register import LANGUAGE
from coldcheck.verdict.added import NOTHING
from coldcheck.verdict.added import added as installed
from coldcheck.verdict.alike import told_once
from coldcheck.verdict.consequences import fold
from coldcheck.verdict.doubts import REVIEW, doubts
from coldcheck.verdict.fingerprints import marked
from coldcheck.verdict.registry import RULES
from coldcheck.verdict.review import Review
from coldcheck.verdict.ruling import Gate
from coldcheck.verdict.running import merge, run_rules
from coldcheck.verdict.too_much import too_much
from coldcheck.verdict.waivers import apply_accepts, new_waivers

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Drawing, Problem
    from coldcheck.judge.rule import Rule
    from coldcheck.settings.model import Settings
    from coldcheck.verdict.added import Added
    from coldcheck.verdict.waivers import Trusted

BARELY = 1.25
"""So many times its limit is little: a writer's rounding, or the edge of a rating."""


def review_file(
    path: Path,
    today: date | None = None,
    settings: Settings = DEFAULTS,
    added: Added | None = None,
    trusted: Trusted | None = None,
) -> Review:
    """Review the drawing in a file; a file that cannot be read gives an unreadable review."""
    return review_drawing(read_drawing(path), today, settings, added, trusted)


def review_drawing(
    drawing: Drawing,
    today: date | None = None,
    settings: Settings = DEFAULTS,
    added: Added | None = None,
    trusted: Trusted | None = None,
) -> Review:
    """Review a drawing as of ``today`` (the system's date when not given).

    ``trusted`` are the only waivers that hold, where not all of the drawing's do.
    ``added`` are the rules of other packages (of those installed when not given). Nothing else
    comes in: no settings are looked for here. The same text, date, ``settings.fingerprint()``
    and packages give the same review.

    A drawing with anything in it that could not be read is not worked out at all: a voltage
    computed around a missing line would be a guess.
    """
    circuit = circuit_of(drawing, settings)
    problems = (*drawing.problems, *circuit.problems)
    if problems:
        unread = _unreadable(drawing, circuit, shortened(problems))
        return replace(unread, gate=Gate.of(settings))
    solutions = _solve(circuit)
    beyond = too_much(circuit, solutions.values())
    if beyond is not None:
        return replace(_unreadable(drawing, circuit, (beyond,)), gate=Gate.of(settings))
    case = Case(circuit, solutions)
    added = installed() if added is None else added
    rules, off = running(settings, added)
    notes = [NotJudged(REVIEW, (), text, Unjudged.ASSUMED) for text in assumed(circuit, settings)]
    judged = run_rules(case, rules, added.packages)
    outcomes = [*notes, *off, *added.remarks, *doubts(case), *judged]
    merged = merge(o for o in outcomes if isinstance(o, Finding))
    day, ran = today or date.today(), [r.id for r in rules]
    waived = apply_accepts(circuit, merged, day, ran, trusted)
    loosened = () if trusted is None else tuple(new_waivers(circuit, merged, day, trusted))
    told = fold(circuit, waived)
    findings = told_once(circuit, _explained(case, settings, rules, added, told, merged))
    return Review(
        file=drawing.file,
        title=drawing.title,
        circuit=circuit,
        findings=_finish(circuit, (*findings, *loosened)),
        not_judged=tuple(dict.fromkeys(o for o in outcomes if isinstance(o, NotJudged))),
        solutions=solutions,
        lines=drawing.lines,
        readable=True,
        worked=worked_out(case),
        gate=Gate.of(settings),
        sheets=drawing.sheets,
    )


def _explained(
    case: Case, settings: Settings, rules: tuple[Rule, ...], added: Added,
    told: list[Finding], merged: list[Finding],
) -> list[Finding]:  # fmt: skip
    """The findings with their causes; advice has none, and does not load what looks for them."""
    if all(finding.level == LEVELS[0] for finding in told):
        return told
    from coldcheck.verdict.causes import Inquest, explained

    return explained(Inquest(case, settings, rules, added.packages, tuple(told), tuple(merged)))


def running(settings: Settings, added: Added = NOTHING) -> tuple[tuple[Rule, ...], list[NotJudged]]:
    """The rules that are to run, and what is said of those that are off."""
    off = [
        NotJudged(entry, (), _why_off(entry, settings), Unjudged.RULE_OFF) for entry in settings.off
    ]
    every = (*RULES, *added.rules)
    return tuple(r for r in every if settings.off_entry(r.id) is None), off


def _why_off(entry: str, settings: Settings) -> str:
    what = "off" if "." in entry else f"the rules of the family {entry} are off"
    return f"{what}: {settings.off[entry]} ({settings.source(f'off.{entry}')})"


def _solve(circuit: Circuit) -> Mapping[str, Solution]:
    try:
        return solve_states(circuit)
    except MemoryError:
        raise  # the drawing is too large for what its worker may have
    except Exception as error:
        reason = f"the solver failed: {type(error).__name__}: {error}"
        state, nothing = State(WARM, WARM), float("nan")
        broken = Unsolved.BROKEN
        return {WARM: Solution(state, False, nothing, 0, reason, circuit, unsolved=broken)}


def _unreadable(drawing: Drawing, circuit: Circuit | None, problems: tuple[Problem, ...]) -> Review:
    reason = "nothing was worked out: not all of the drawing could be read"
    said = NotJudged(REVIEW, (), reason, Unjudged.UNREADABLE)
    return Review(
        file=drawing.file,
        title=drawing.title,
        circuit=circuit,
        findings=_finish(circuit, [_from_problem(p) for p in problems]),
        not_judged=(said,),
        solutions={},
        lines=drawing.lines,
        readable=False,
        sheets=drawing.sheets,
    )


def _from_problem(problem: Problem) -> Finding:
    """A reading problem in the shape of a finding, so that every report treats it alike."""
    return Finding(
        rule=problem.rule,
        level="notice",
        state="drawing",
        at=(),
        span=problem.span,
        message=f"found {problem.found}; expected {problem.expected}",
        remedy=sentence(problem.hint or f"write {problem.expected}"),
        evidence={"found": problem.found, "expected": problem.expected},
        certainty="certain",
        source=LANGUAGE.text,
        cites=(LANGUAGE,),
    )


def _finish(circuit: Circuit | None, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Fingerprints on, gravest first, causes before others, then in the order of the drawing.

    Of causes those that name wiring come before a guess at a value.

    What is barely beyond its limit stands behind what is far beyond it, or is wired wrongly. Of
    dangers and warnings those of what hands and the mains reach come first.
    """
    own = None if circuit is None else circuit.drawing.file
    return tuple(
        sorted(
            marked(circuit, findings),
            key=lambda f: (
                -LEVELS.index(f.level),
                not f.blame.first,
                not f.is_cause,
                not (f.reaches_hands and f.level in ("danger", "warning")),
                f.limit is not None and f.excess < BARELY,
                f.span.file != own,
                f.span,
                f.rule,
                f.at,
            ),
        )
    )
