"""What a run of the command costs: as ratios against bare Python and against its libraries."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from tests.benchmarks.timing import paired, process, timed

if TYPE_CHECKING:
    from collections.abc import Iterable

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
REVIEWED = ("harbour-light", "twin-quay", "breakwater")
SAMPLE = SAMPLES / f"{REVIEWED[0]}.tube"
LIBRARIES = "import lark, networkx, numpy, rich.console, pint; pint.UnitRegistry(None)"
BARE = ("-c", "pass")


def stages(text: str) -> Iterable[tuple[str, float]]:
    """Seconds of each stage of a review of a drawing's text."""
    from coldcheck.anatomy.case import Case
    from coldcheck.circuit import build_circuit
    from coldcheck.drawing import parse_drawing
    from coldcheck.solve import solve_state, solve_states
    from coldcheck.verdict.engine import run_rules

    parse, drawing = timed(lambda: parse_drawing(text, "x.tube"))
    build, circuit = timed(lambda: build_circuit(drawing))
    one, _ = timed(lambda: solve_state(circuit))
    every, solutions = timed(lambda: solve_states(circuit))
    rules, _ = timed(lambda: run_rules(Case(circuit, solutions)))
    yield from (
        ("parse", parse), ("build", build), ("solve warm", one), ("solve all", every),
        ("rules", rules),
    )  # fmt: skip


def main() -> None:
    """Print both tables."""
    print("process time, ratio                                   (target)")
    light = paired(("-m", "coldcheck", "--help"), BARE)
    print(f"  coldcheck --help / bare python          {light:6.2f}  (at most 3)")
    for name in REVIEWED:
        review = ("-m", "coldcheck", "review", "--no-cache", str(SAMPLES / f"{name}.tube"))
        whole = paired(review, ("-c", LIBRARIES))
        print(f"  {name + ' / importing libraries':<40}{whole:6.2f}  (at most 2)")
    unit = min(process(*BARE) for _ in range(5))
    print("\nstages of that review, in this process; unit: one bare python process")
    for name, seconds in stages(SAMPLE.read_text(encoding="utf-8")):
        print(f"  {name:<12}{seconds / unit:8.2f}")
