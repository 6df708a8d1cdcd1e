"""How time and memory grow with the circuit: ``python -m tests.benchmarks growth``.

Each row is measured in a fresh process of its own, so that the peak memory is that row's. Times
are CPU seconds of that process and are printed only as ratios:

``x factor``
    the warm solve over one sparse LU (scipy's ``splu``, minimum degree) of the same circuit's real
    matrix of mean values (harmonic 0) with the tubes' slopes at the answer;
``x instants``
    the same over one LU (``splu``, its default order) of the matrix of all unknowns at all
    instants together, which is what solving the cycle in one piece would factor at every Newton
    step; left out where that takes minutes;
``per tube``
    the time over the number of tubes, relative to the row of 10 tubes: 1.00 is linear growth.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tests.benchmarks.drawings import copies
from tests.benchmarks.timing import timed

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.solve.cycle.steady import Cycle
    from coldcheck.solve.solution import Solution

    Row = dict[str, float]

ROOT = Path(__file__).resolve().parents[2]
WARM_ROWS = ((1, 1), (10, 1), (100, 1), (1000, 1), (100, 10), (1000, 10))
"""Tubes, and the supplies they are shared out over."""

ALL_ROWS = (1, 5, 10, 25, 50, 100)
REFERENCE = 10
INSTANTS_UP_TO = 10
"""Tubes up to which the matrix of all instants is factored for comparison."""


def main() -> None:
    """Print both tables."""
    print("one warm solve; every tube is a double triode, two stages (unknowns: of one instant)")
    _table(
        [_child("warm", *row) for row in WARM_ROWS],
        ("supplies", "unknowns", "iterations", "x factor", "x instants", "peak MiB"),
        ("parse", "build", "solve"),
    )
    print("\nall states, one pulled state a tube among them ('each': the time of one state)")
    _table(
        [_child("all", n) for n in ALL_ROWS],
        ("states", "unsolved", "peak MiB"),
        ("solve", "each", "rules"),
    )


def _table(rows: Sequence[Row], plain: Sequence[str], growing: Sequence[str]) -> None:
    """Columns as they are, then times per tube relative to the reference row."""
    base = next(row for row in rows if row["tubes"] == REFERENCE)
    heads = [*plain, *(f"{name}/tube" for name in growing)]
    print("   tubes" + "".join(f"{head:>12}" for head in heads))
    for row in rows:
        share = row["tubes"] / REFERENCE
        cells = [_cell(row.get(name)) for name in plain]
        cells += [f"{row[name] / base[name] / share:.2f}" for name in growing]
        print(f"{row['tubes']:8.0f}" + "".join(f"{cell:>12}" for cell in cells), flush=True)


def _cell(value: float | None) -> str:
    if value is None:
        return "-"
    return f"{value:.2f}" if value < 10 and value != int(value) else f"{value:.0f}"


def _child(what: str, tubes: int, supplies: int = 1) -> Row:
    """One row, from a process of its own."""
    argv = [sys.executable, "-m", "tests.benchmarks.growth", what, str(tubes), str(supplies)]
    done = subprocess.run(argv, check=True, capture_output=True, text=True, cwd=ROOT)
    row: Row = json.loads(done.stdout)
    return row


def _peak() -> float:
    """Largest resident memory of this process so far, MiB."""
    unit = 1 if sys.platform == "darwin" else 1024  # bytes there, kibibytes elsewhere
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 2**20


def warm(tubes: int, supplies: int) -> Row:
    """The warm solve of a circuit of that many tubes."""
    from scipy.sparse.linalg import splu

    from coldcheck.circuit import build_circuit
    from coldcheck.drawing import parse_drawing
    from coldcheck.solve import solve_state
    from coldcheck.solve.cycle.triplets import sparse_factor

    runs = 5 if tubes <= REFERENCE else 3 if tubes <= 100 else 1
    _imported()
    parse, drawing = timed(lambda: parse_drawing(copies(tubes, supplies), "x.tube"), runs)
    build, circuit = timed(lambda: build_circuit(drawing), runs)
    solve, solution = timed(lambda: solve_state(circuit), runs)
    if not solution.converged:
        raise RuntimeError(solution.reason)
    row = {
        "tubes": tubes, "supplies": supplies, "parse": parse, "build": build, "solve": solve,
        "iterations": solution.iterations, "peak MiB": _peak(),
    }  # fmt: skip
    cycle, still, moving, charge = _matrices(circuit, solution)
    row["unknowns"] = cycle.network.size
    row["x factor"] = solve / _least(lambda: sparse_factor(still), 9)
    if tubes <= INSTANTS_UP_TO:
        whole = _all_instants(cycle, moving, charge)
        row["x instants"] = solve / _least(lambda: splu(whole), 3)
    return row


def every(tubes: int, supplies: int) -> Row:
    """All states of a circuit of that many tubes."""
    from coldcheck.anatomy.case import Case
    from coldcheck.circuit import build_circuit
    from coldcheck.drawing import parse_drawing
    from coldcheck.solve import solve_states
    from coldcheck.verdict.engine import run_rules

    circuit = build_circuit(parse_drawing(copies(tubes, supplies), "x.tube"))
    _imported()
    solve, solutions = timed(lambda: solve_states(circuit), 3 if tubes < REFERENCE else 1)
    rules, _ = timed(lambda: run_rules(Case(circuit, solutions)), 1)
    unsolved = sum(not s.converged for s in solutions.values())
    return {
        "tubes": tubes, "solve": solve, "each": solve / len(solutions), "rules": rules,
        "states": len(solutions), "unsolved": unsolved, "peak MiB": _peak(),
    }  # fmt: skip


def _imported() -> None:
    """Pay for imports before the clock runs: a circuit just large enough to need all of them."""
    from coldcheck.circuit import build_circuit
    from coldcheck.drawing import parse_drawing
    from coldcheck.solve import solve_state

    solve_state(build_circuit(parse_drawing(copies(20), "x.tube")))


def _matrices(circuit: Circuit, solution: Solution) -> tuple[Cycle, Any, Any, Any]:
    """The warm equations as sparse matrices: cycle, G for means, G for ripple, C.

    All hold the network's rows; both G include the tubes' slopes at the answer.
    """
    import numpy as np
    from scipy.sparse import csc_array

    from coldcheck.solve.cycle.assembly import Assembly, Parts
    from coldcheck.solve.cycle.triplets import sparse_matrix
    from coldcheck.solve.engine import INSTANTS
    from coldcheck.solve.setting import Setting

    cycle = Assembly(Parts(circuit), INSTANTS).cycle(Setting(solution.state))
    network = cycle.network
    mean = np.zeros(network.size)
    for net, wave in solution.waves.items():
        if net in network.nets:
            mean[network.nets[net]] = wave.dc
    _, slopes = cycle.bank.linear(cycle.valve_at.T @ mean)
    at = csc_array(cycle.valve_at)
    tubes: Any = at @ csc_array(slopes) @ at.T
    still, moving = (
        (sparse_matrix(network.shape, network.g + only) + tubes).tocsc()
        for only in (network.dc_only, network.ac_only)
    )
    return cycle, still, moving, sparse_matrix(network.shape, network.c)


def _all_instants(cycle: Cycle, moving: Any, charge: Any) -> Any:
    """The matrix of all unknowns at all instants (m N, m N), rectifiers blocking."""
    from scipy.sparse import coo_array, eye_array, kron

    n, scale = cycle.n, cycle.n * cycle.network.frequency
    at = [(t, (t - lag) % n, w) for t in range(n) for lag, w in ((0, 1.5), (1, -2.0), (2, 0.5))]
    rows, columns, values = zip(*at, strict=True)
    difference = coo_array(([scale * v for v in values], (rows, columns)), shape=(n, n))
    return (kron(eye_array(n), moving) + kron(difference, charge)).tocsc()


def _least(work: Callable[[], object], runs: int) -> float:
    return min(timed(work, 1)[0] for _ in range(runs))


if __name__ == "__main__":
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    print(json.dumps({"warm": warm, "all": every}[sys.argv[1]](*map(int, sys.argv[2:]))))
