"""Clocks: whole processes by the wall clock, work inside this process by its own CPU time."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

    Result = TypeVar("Result")

RUNS = 9


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


def timed(work: Callable[[], Result], runs: int = 5) -> tuple[float, Result]:
    """Median CPU seconds of this process, which other work on the machine hardly touches."""
    spent = []
    for _ in range(max(runs, 1)):
        start = time.process_time()
        result = work()
        spent.append(time.process_time() - start)
    return statistics.median(spent), result
