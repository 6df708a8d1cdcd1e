"""The plan of a careful first power-up of one circuit, from its review and its solutions.

What the review finds dangerous comes first: the steps with power are then withheld. A drawing
that does not solve gives only what needs no solution. Every figure is solved for this circuit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.bench.chart.conditions import as_drawn
from coldcheck.bench.instruments.clip import mains_side
from coldcheck.bench.plan.cautions import cautions_of
from coldcheck.bench.plan.junctions import diodes_step
from coldcheck.bench.plan.model import Plan
from coldcheck.bench.plan.off import charges_of, unknown_charges
from coldcheck.bench.plan.power import Power, limiter_of
from coldcheck.bench.plan.reform import reform_step
from coldcheck.bench.plan.stages import Stages
from coldcheck.bench.plan.steps import cold_step, empty_step, off_step, tubes_step
from coldcheck.circuit.model import GROUND
from coldcheck.judge.finding import LEVELS
from coldcheck.solve.solution import WARM, State

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.plan.model import Step
    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding
    from coldcheck.solve.solution import Solution
    from coldcheck.verdict.review import Review

BLOCKING = ("warning", "danger")
TOLD = ("notice", "caution")

RANGES = (
    "Ranges of voltages are the usual spread of parts and tubes and a meter's error, with the "
    "mains at the stated voltage by the meter; they are not a bound. Ranges of resistances are all "
    "tolerances at their worst together."
)
HEATERS = (
    "A heater below half its voltage is taken not to emit; from there to full voltage a reading is "
    "given as anything between no emission and full emission."
)
LOSSES = (
    "Losses and magnetising current of transformers are not in the power and current of the mains; "
    "a lamp's current is taken to go as the power 0.55 of its voltage (memory)."
)


def plan_of(review: Review) -> Plan:
    """The plan for a reviewed drawing. Raises ValueError for one that could not be read."""
    circuit = review.circuit
    if circuit is None:
        raise ValueError("a drawing that could not be read has no plan")
    power = Power(circuit)
    blocking = _findings(review, BLOCKING)
    withheld = _withheld(review, power, blocking)
    limiter = None if withheld else limiter_of(power, review.solutions[WARM])
    stages = Stages(circuit, review.solutions, limiter)
    powered = () if withheld else tuple(stages.steps())
    charges = charges_of(circuit, {**review.solutions, **stages.solved})
    live = GROUND in mains_side(circuit)
    solutions = [*review.solutions.values(), *stages.solved.values()]
    unknown = unknown_charges(circuit, solutions if power.fed else ())
    return Plan(
        review.file,
        review.title,
        live,
        withheld,
        blocking,
        _findings(review, TOLD),
        _findings(review, (*BLOCKING, *TOLD), accepted=True),
        cautions_of(circuit, solutions, charges, limiter, live=live, mains=power.mains),
        limiter,
        (
            empty_step(circuit, charges, mains=power.mains),
            cold_step(circuit),
            *(step for step in (diodes_step(circuit), tubes_step(circuit)) if step is not None),
            *_formed(circuit, review),
            *powered,
            off_step(charges, unknown, mains=power.mains),
        ),
        charges,
        as_drawn(circuit, State("", WARM)),
        (RANGES, *((HEATERS, LOSSES) if power.mains and powered else ())),
    )


def _formed(circuit: Circuit, review: Review) -> Iterator[Step]:
    """Old electrolytics, where their volts are known."""
    found = reform_step(circuit, review.solutions.values())
    if found is not None:
        yield found


def _findings(
    review: Review, levels: tuple[str, ...], *, accepted: bool = False
) -> tuple[Finding, ...]:
    """Findings of these levels, accepted or not, the gravest first."""
    found = [
        f for f in review.findings if (f.accepted is not None) is accepted and f.level in levels
    ]
    return tuple(sorted(found, key=lambda f: -LEVELS.index(f.level)))


def _withheld(review: Review, power: Power, blocking: tuple[Finding, ...]) -> str:
    """Why no power is to be applied, if so."""
    warm: Solution | None = review.solutions.get(WARM)
    if blocking:
        return (
            "the review of the drawing has findings that can hurt or kill; settle them before any "
            "power, then make this plan anew"
        )
    if not power.fed:
        return "nothing in the drawing feeds it"
    if warm is None or not warm.converged:
        reason = "nothing was solved" if warm is None else warm.reason
        return f"its voltages could not be worked out: {reason}"
    return ""
