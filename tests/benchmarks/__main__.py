"""Speed, as ratios taken in one run: ``python -m tests.benchmarks``.

Absolute times differ from machine to machine; what is compared here is compared within this run.
Not part of the test suite: nothing here passes or fails.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

SAMPLE = Path(__file__).resolve().parents[2] / "samples" / "harbour-light.tube"
LIBRARIES = "import lark, networkx, pint, rich.console, numpy"
RUNS = 9
COPIES = (1, 5, 10, 25, 50)


def process(*argv: str) -> float:
    """Seconds of one run of this interpreter, output thrown away."""
    # Bytecode is kept between runs, as it is after an ordinary installation.
    env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    start = time.perf_counter()
    subprocess.run([sys.executable, *argv], check=False, stdout=subprocess.DEVNULL, env=env)
    return time.perf_counter() - start


def paired(a: tuple[str, ...], b: tuple[str, ...]) -> float:
    """Median over pairs of the time of ``a`` over the time of ``b``, taken in turn."""
    process(*a), process(*b)
    return statistics.median(process(*a) / process(*b) for _ in range(RUNS))


def timed(work: Callable[[], object], runs: int = 5) -> tuple[float, object]:
    """Median seconds in this process, and the last result."""
    spent, result = [], None
    for _ in range(runs):
        start = time.perf_counter()
        result = work()
        spent.append(time.perf_counter() - start)
    return statistics.median(spent), result


def copies(n: int) -> str:
    """``n`` resistance-coupled double triodes on one silicon supply."""
    lines = [
        'drawing "copies of a stage"', "mains 230 V 50 Hz", "transformer T1",
        "    primary pri 230 V 10 ohm", "    winding ht 250 V ct 250 V 100 ohm",
        "    winding warm 6.3 V ct 20 A", "T1.warm.ct -- gnd", "T1.ht.ct -- gnd",
        "T1.ht.1 --[D1 1N4007]-> RES", "T1.ht.2 --[D2 1N4007]-> RES",
        "RES --+[C1 47 uF 450 V]-- gnd", "RES --[R1 1k 5 W]-- B1",
        "B1 --+[C2 47 uF 450 V]-- gnd", "B1 --[R2 220k 2 W]-- gnd",
    ]  # fmt: skip
    for k in range(1, n + 1):
        lines.append(f"tube V{k} 12AX7 heater T1.warm")
        for j, half in enumerate("AB"):
            tag = f"{k}{j}"
            lines += [
                f"B1 --[R1{tag} 100k 1 W]-- V{k}{half}.plate",
                f"V{k}{half}.cathode --[R2{tag} 1k5]-- gnd",
                f"V{k}{half}.cathode --+[C2{tag} 25 uF 25 V]-- gnd",
                f"V{k}{half}.grid --[R3{tag} 1M]-- gnd",
            ]
        lines.append(f"V{k}A.plate --[C3{k} 22 nF 630 V]-- V{k}B.grid")
    return "\n".join(lines)


def stages(text: str, runs: int) -> Iterable[tuple[str, float]]:
    """Seconds of each stage of a review of a drawing's text."""
    from coldcheck.circuit import build_circuit
    from coldcheck.drawing import parse_drawing
    from coldcheck.rules.engine import run_rules
    from coldcheck.rules.model import Case
    from coldcheck.solve import solve_state, solve_states

    parse, drawing = timed(lambda: parse_drawing(text, "x.tube"), runs)
    build, circuit = timed(lambda: build_circuit(drawing), runs)
    one, _ = timed(lambda: solve_state(circuit), runs)
    every, solutions = timed(lambda: solve_states(circuit), 1 if runs < 3 else runs)
    rules, _ = timed(lambda: run_rules(Case(circuit, solutions)), runs)
    yield from (
        ("parse", parse), ("build", build), ("solve warm", one), ("solve all", every),
        ("rules", rules),
    )  # fmt: skip


def main() -> None:
    """Print the tables."""
    bare = ("-c", "pass")
    review = ("-m", "coldcheck", "review", str(SAMPLE))
    light, whole = paired(("-m", "coldcheck", "--help"), bare), paired(review, ("-c", LIBRARIES))
    print("process time, ratio                                   (target)")
    print(f"  coldcheck --help / bare python          {light:6.2f}  (at most 3)")
    print(f"  review of a sample / importing libraries{whole:6.2f}  (at most 2)")
    unit, _ = timed(lambda: process(*bare))
    print("\nstages of that review, in this process; unit: one bare python process")
    for name, seconds in stages(SAMPLE.read_text(encoding="utf-8"), 5):
        print(f"  {name:<12}{seconds / unit:8.2f}")
    print("\ngrowth with copies of a stage: time per copy over that of the smallest")
    table = {n: dict(stages(copies(n), 1 if n > 10 else 3)) for n in COPIES}
    names = list(table[COPIES[0]])
    print("  copies  " + "".join(f"{name:>12}" for name in names))
    for n, row in table.items():
        cells = (f"{row[k] / n / (table[COPIES[1]][k] / COPIES[1]):12.2f}" for k in names)
        print(f"  {n:6d}  " + "".join(cells))
    print("  (per copy, relative to 5 copies; 1.00 is linear. 'solve all' has one state a tube.)")


if __name__ == "__main__":
    main()
