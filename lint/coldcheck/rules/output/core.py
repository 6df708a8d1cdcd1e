"""Direct current in output transformers: cores without a gap, and what the primary may carry."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.case import unsolved_reason
from coldcheck.anatomy.class_c import driven
from coldcheck.circuit.model import CoilSet, OutputTransformer
from coldcheck.drawing.units import si
from coldcheck.drawing.wording import amperes, listed
from coldcheck.judge.figure import figure
from coldcheck.judge.ranges import UNKNOWN, certainty
from coldcheck.judge.rule import Rule, rule
from coldcheck.judge.threshold import Threshold
from coldcheck.solve.solution import HIGH, LOW, WARM
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.solve.solution import Solution

RUNNING = (WARM, HIGH, LOW)
SINGLE = 0.9
UNBALANCE = Threshold(
    "share of current left over in a core without a gap",
    0.05,
    "",
    Citation("transformer-makers", "5 %"),
)
"""What a core without a gap bears of direct current left over (from memory, transformer makers)."""

LEAST_A = Threshold("current in a core that does not matter", 1e-3, "A", PRACTICE)


def in_primary(output: OutputTransformer, solution: Solution) -> dict[str, float] | None:
    """Amperes of DC in each part of the primary, by its leads; positive from the dotted end."""
    found = {}
    for _, branch in output.primary_parts:
        wave = solution.current(branch.name)
        if wave is None:
            return None
        found[branch.name.partition(".")[2]] = wave.dc
    return found


def in_parts(wound: OutputTransformer | CoilSet, solution: Solution) -> dict[str, float]:
    """Amperes of DC in each part of what may carry it, by its leads."""
    if isinstance(wound, OutputTransformer):
        return in_primary(wound, solution) or {}
    waves = {b.name: solution.current(b.name) for _, b in wound.branches}
    return {name.partition(".")[2]: w.dc for name, w in waves.items() if w is not None}


def in_core(output: OutputTransformer | CoilSet, solution: Solution) -> tuple[float, float]:
    """Net direct current in the core, and what the parts carry together, both in amperes.

    Counted as if it flowed in the whole primary (of other transformers, in the first winding):
    sum of share of the turns times current, with its sign and without.
    """
    whole = output.coils[0].turns if isinstance(output, CoilSet) else 1.0
    found = [
        ratio / whole * wave.dc
        for ratio, branch in output.branches
        if (wave := solution.current(branch.name)) is not None
    ]
    return abs(sum(found)), sum(abs(x) for x in found)


@rule(
    "output.ungapped-core",
    title="Direct current left over in a core without a gap",
    level="notice",
    states="warm, high line and low line",
    needs="a solved state, and an output transformer that is `ungapped` or has a centre tap and is "
    "not said to be `gapped`; or another transformer for signals that is `ungapped`",
    criterion="The direct currents of the primary's parts (of other transformers, of all their "
    "windings), by their turns, do not cancel: more than 5 % of their sum is left over.",
    why="A push-pull transformer has its laminations closed, because the currents of the two "
    "tubes magnetise against each other. Used single-ended, or with one tube drawing more, the "
    "core is magnetised one way all the time: the bass is gone, and what is left is distorted.",
    source=Citation("transformer-makers", "5 % of unbalance"),
    limits="A part with a centre tap counts as a push-pull part unless the drawing says `gapped`. "
    "Tubes on file are all alike, so the unbalance of a real pair is not seen, only that of the "
    "circuit.",
    thresholds=(LEAST_A, UNBALANCE, UNKNOWN),
)
def ungapped_core(case: Case) -> Iterator[Outcome]:
    """What direct current is left over in each closed core."""
    reason = unsolved_reason(case)
    for name, output in case.circuit.outputs.items():
        if output.gapped or reason is not None:
            continue
        tapped = any(lead == "ct" for lead, _ in output.leads)
        if output.gapped is None and not tapped:
            if output.current is None and _loaded(case, output):
                unsaid = "the drawing does not say whether its core is gapped, or the DC it takes"
                yield ungapped_core.not_judged((name,), unsaid)
            continue
        for solution in case.solved(*RUNNING):
            net, total = in_core(output, solution)
            if total > LEAST_A.value and net > UNBALANCE.value * total:
                yield _unbalanced(case, output, solution, net, total)
    for coil_set in case.circuit.coil_sets.values() if reason is None else ():
        yield from _of_coils(case, coil_set)


def _of_coils(case: Case, coil_set: CoilSet) -> Iterator[Outcome]:
    """A transformer for signals; one of which no core is said is left alone if none carries DC."""
    if coil_set.gapped or not coil_set.iron or coil_set.springs:
        return
    driven_by = [
        d for d in driven(case.circuit) if d.coils & {b.name for _, b in coil_set.branches}
    ]
    if driven_by:
        name = driven_by[0].section.name
        unsaid = f"it carries what {name} draws when {driven_by[0].driver} drives it: not known"
        yield ungapped_core.not_judged((coil_set.name,), unsaid)
        return
    if not coil_set.sized and len(coil_set.coils) > 1:
        yield ungapped_core.not_judged((coil_set.name,), "the turns of its windings are not known")
        return
    if coil_set.gapped is None:
        if in_core(coil_set, case.warm)[0] > LEAST_A.value and not any(
            coil.current for coil in coil_set.coils
        ):
            unsaid = "the drawing does not say whether its core is gapped, or the DC it takes"
            yield ungapped_core.not_judged((coil_set.name,), unsaid)
        return
    for solution in case.solved(*RUNNING):
        net, total = in_core(coil_set, solution)
        if total > LEAST_A.value and net > UNBALANCE.value * total:
            yield _unbalanced(case, coil_set, solution, net, total)


def _loaded(case: Case, output: OutputTransformer) -> bool:
    net, _ = in_core(output, case.warm)
    return net > LEAST_A.value


def _unbalanced(
    case: Case, output: OutputTransformer | CoilSet, solution: Solution, net: float, total: float
) -> Finding:
    share = net / total
    parts = in_parts(output, solution)
    most = max((abs(i) for i in parts.values()), default=net)
    said = listed(
        f"{amperes(abs(i))} in {lead}" for lead, i in parts.items() if abs(i) > 0.01 * most
    )
    single = share > SINGLE
    return ungapped_core.finding(
        case,
        (output.name,),
        f"{output.name} has no gap in its core, and "
        f"{'its primary' if isinstance(output, OutputTransformer) else 'it'} carries {said}: "
        f"{100 * share:.0f} % of the direct current is left over to magnetise it one way",
        "Use a transformer made for single-ended use and for this current: "
        f"`gapped {amperes(1.2 * most)}` or more"
        if single and isinstance(output, OutputTransformer)
        else f"Feed the plate through a resistor and {output.name} through a capacitor, or use one "
        f"made for this current: `gapped`, {amperes(1.2 * most)} or more"
        if single
        else "Make the two tubes draw alike: matched tubes, equal bias, equal cathode resistors",
        state=solution.state.name,
        evidence={
            "left_over": figure(net, "A"),
            "share": figure(share, ""),
            "limit_share": UNBALANCE.figure,
        },
        certainty="certain" if single else certainty(share / UNBALANCE.value),
        excess=share / UNBALANCE.value,
    )


@rule(
    "output.primary-over-current",
    title="More direct current in a primary than it is made for",
    level="notice",
    states="warm, high line and low line",
    needs="a solved state and the rated current in the transformer's line (`gapped 60 mA`)",
    criterion="The direct current in any part of the primary exceeds the rating.",
    why="The gap is cut for a certain current. Beyond it the core saturates and the inductance, "
    "with it the bass, goes; the thin wire gets hot as well.",
    source=Citation("drawing", "the rating written"),
    limits="The heating by the signal is not counted; a transformer without a rating is not "
    "judged.",
    thresholds=(UNKNOWN,),
)
def primary_over_current(case: Case) -> Iterator[Outcome]:
    """The largest current in a primary against its rating."""
    for name, output in case.circuit.outputs.items():
        rated = si(output.current, "ampere")
        for solution in case.solved(*RUNNING) if rated else ():
            parts = in_primary(output, solution) or {}
            lead, worst = max(parts.items(), key=lambda p: abs(p[1]), default=("", 0.0))
            excess = abs(worst) / (rated or 1.0)
            if rated and excess > 1:
                yield primary_over_current.finding(
                    case,
                    (name,),
                    f"the primary of {name} ({lead}) carries {amperes(abs(worst))} of direct "
                    f"current; it is made for {amperes(rated)}",
                    f"Use a transformer for {amperes(1.2 * abs(worst))} or more, or bias the tube "
                    "to draw less",
                    state=solution.state.name,
                    evidence={"current": figure(abs(worst), "A")},
                    limit=figure(rated, "A"),
                    certainty=certainty(excess),
                    excess=excess,
                )


RULES: tuple[Rule, ...] = (ungapped_core, primary_over_current)
