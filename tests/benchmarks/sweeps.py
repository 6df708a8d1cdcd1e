"""A sweep of one resistor over one solution: ``python -m tests.benchmarks sweeps``.

The sweep is fifty values of one resistor from half to twice its own, as a notebook asks for it,
on a drawing that has solved nothing yet. One solution is the warm state of that drawing, likewise
from nothing. Both are CPU seconds of this process, taken in turn; printed are the medians over the
rounds, with what reading text and building the circuit cost in both left out.

``x one``
    the sweep over one solution (target: at most 15);
``x alone``
    the same values solved each by itself and from nothing, over one solution;
``alone``
    how many of the fifty did not go together.
"""

from __future__ import annotations

import statistics
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from tests.benchmarks.timing import timed

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.api import Drawing

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
SWEPT = (
    ("breakwater", "R7"), ("breakwater", "R4"), ("sluice-gate", "R9"), ("harbour-light", "R7"),
    ("low-tide", "R1"), ("galley", "R3"), ("galley", "R7"), ("ballast", "R2"),
)  # fmt: skip
"""Push-pull twice with a bias and a supply resistor, and once with a cathode resistor; the rest
besides. Ballast has gas tubes, which are lit one after the other for every value."""

VALUES, ROUNDS = 50, 5


def main() -> None:
    """Print a row a resistor."""
    print(f"{VALUES} values of one resistor over one solution   (target: at most 15)")
    print(" " * 22 + "".join(f"{head:>10}" for head in ("x one", "x alone", "alone")))
    for sample, part in SWEPT:
        _row(sample, part)


def _row(sample: str, part: str) -> None:
    import numpy as np

    import coldcheck
    from coldcheck.circuit.valued import valued
    from coldcheck.drawing.valued import Value, amount_of
    from coldcheck.solve.faults.values import ValueSolver

    def fresh() -> Drawing:
        return coldcheck.read(SAMPLES / f"{sample}.tube")

    def median(work: Callable[[Drawing], object], drawings: list[Drawing]) -> float:
        return statistics.median(timed(partial(work, d), 1)[0] for d in drawings)

    value: Value = fresh().values[part]
    ohms = value.number * np.geomspace(0.5, 2, VALUES)
    fresh().sweep({part: ohms})  # imports and caches
    ratios, alone = [], []
    for _ in range(ROUNDS):
        one = median(lambda d: d.warm, [fresh() for _ in range(3)])
        ratios.append(median(lambda d: d.sweep({part: ohms}), [fresh()]) / one)
        each = [fresh().with_values({part: x}) for x in ohms[::10]]
        alone.append(VALUES * median(lambda d: d.warm, each) / one)
    circuit = fresh()._asked.circuit
    circuits = [valued(circuit, {part: amount_of(value, x)}) for x in ohms]
    found = ValueSolver(circuit, fresh()._asked.states["warm"]).solve(circuits)
    cells = (f"{statistics.median(ratios):.1f}", f"{statistics.median(alone):.0f}")
    told = "".join(f"{cell:>10}" for cell in (*cells, found.count(None)))
    print(f"  {sample + ' ' + part:<20}{told}", flush=True)
