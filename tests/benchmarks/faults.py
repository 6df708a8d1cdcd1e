"""The sweep of single faults, as a multiple of one solution: ``python -m tests.benchmarks faults``.

One solution is the warm state of the good circuit, from nothing, at the instants of a review; the
sweep includes the good circuit's own solution and its factors at the instants of the sweep. Both
are CPU seconds of this process, taken in turn; printed are the medians over the rounds.

``x one``
    the sweep over one solution;
``judged``
    the same with the limits judged in every faulty state;
``x each``
    one fault over one solution: the same at every size if faults cost as much as solutions do;
``anew``
    faults that went the ordinary route.
"""

from __future__ import annotations

import statistics
from pathlib import Path
from typing import TYPE_CHECKING

from tests.benchmarks.drawings import copies
from tests.benchmarks.timing import timed

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit

SAMPLE = Path(__file__).resolve().parents[2] / "samples" / "breakwater.tube"
SIZES = (1, 2, 5, 10)
SLOWEST = 8


def main() -> None:
    """Print the sample's sweep, where its time goes, and the growth with copies of a stage."""
    from coldcheck.circuit import build_circuit
    from coldcheck.drawing import parse_drawing, read_drawing

    print("all single faults of a drawing over one solution   (target: at most 15)")
    heads = ("unknowns", "faults", "x one", "judged", "x each", "anew")
    print(" " * 16 + "".join(f"{head:>10}" for head in heads))
    _row("breakwater", build_circuit(read_drawing(SAMPLE)), rounds=5, judged=True)
    for tubes in SIZES:
        circuit = build_circuit(parse_drawing(copies(tubes), "x.tube"))
        _row(f"{tubes} double", circuit, rounds=3 if tubes < SIZES[-1] else 1, judged=False)
    _slowest(build_circuit(read_drawing(SAMPLE)))


def _row(name: str, circuit: Circuit, *, rounds: int, judged: bool) -> None:
    from coldcheck.bench.faults.faults import sweep
    from coldcheck.bench.faults.listing import every_fault
    from coldcheck.solve import solve_state
    from coldcheck.solve.faults.solver import FaultSolver

    faults = every_fault(circuit)

    def all_solved() -> FaultSolver:
        solver = FaultSolver(circuit)
        list(solver.solve_all(faults))
        return solver

    solve_state(circuit), all_solved()  # imports and caches
    ratios, with_rules = [], []
    for _ in range(rounds):
        one, _solution = timed(lambda: solve_state(circuit), 3)
        spent, solver = timed(all_solved, 1)
        ratios.append(spent / one)
        if judged:
            with_rules.append(timed(lambda: sweep(circuit, faults), 1)[0] / one)
    ratio, anew = statistics.median(ratios), solver.counts["anew"]
    size = solver._known("warm").cycle.network.size
    whole = f"{statistics.median(with_rules):.1f}" if with_rules else "-"
    cells = (size, len(faults), f"{ratio:.1f}", whole, f"{ratio / len(faults):.3f}", anew)
    print(f"  {name:<14}" + "".join(f"{cell:>10}" for cell in cells), flush=True)


def _slowest(circuit: Circuit) -> None:
    """The faults that cost most, in solutions."""
    from coldcheck.bench.faults.listing import every_fault
    from coldcheck.solve import solve_state
    from coldcheck.solve.faults.solver import FaultSolver

    one, _ = timed(lambda: solve_state(circuit), 3)
    solver = FaultSolver(circuit)
    solver.good()
    spent = [(timed(lambda x=x: solver.solve(x), 1)[0] / one, x.name) for x in every_fault(circuit)]
    print(f"  median fault {statistics.median(t for t, _ in spent):.3f}; the slowest:")
    for times, name in sorted(spent, reverse=True)[:SLOWEST]:
        print(f"    {times:6.2f}  {name}")
