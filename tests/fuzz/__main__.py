"""``python -m tests.fuzz --count 10000 --seed 1 --jobs 2``: random drawings, every report of each.

Prints each distinct internal error with the plainest drawing that shows it, and the count.
``--no-chart`` leaves the chart out; ``--record`` writes the figure to ``recorded.toml``.
"""

from __future__ import annotations

import argparse
import multiprocessing
from functools import partial
from pathlib import Path

from tests.fuzz.errors import INSTANTS
from tests.fuzz.hunt import told_hunt

RECORD = Path(__file__).parent / "recorded.toml"


def main():
    parser = argparse.ArgumentParser(prog="tests.fuzz", description=__doc__)
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--instants", type=int, default=INSTANTS)
    parser.add_argument("--no-chart", action="store_true")
    parser.add_argument("--record", action="store_true")
    options = parser.parse_args()
    tallies = share(options)
    errors = {error: text for tally in tallies for error, text in tally.errors.items()}
    drawn, readable = sum(t.drawings for t in tallies), sum(t.readable for t in tallies)
    print(f"{drawn} drawings, {readable} readable: {len(errors)} internal errors")
    if options.record:
        RECORD.write_text(record(options, drawn, readable, len(errors)))
    raise SystemExit(1 if errors else 0)


def share(options):
    """The tallies of as many processes as there are jobs; each has a seed of its own."""
    jobs, each = options.jobs, -(-options.count // options.jobs)
    work = partial(told_hunt, each, chart=not options.no_chart, instants=options.instants)
    names = [f"{options.seed}.{job}" for job in range(jobs)]
    if jobs == 1:
        return [work(names[0])]
    with multiprocessing.get_context("spawn").Pool(jobs) as pool:
        return pool.map(work, names)


def record(options, drawn, readable, errors):
    return (
        "# Written by python -m tests.fuzz --record.\n"
        f"seed = {options.seed}\njobs = {options.jobs}\n"
        f"chart = {str(not options.no_chart).lower()}\ninstants = {options.instants}\n"
        f"drawings = {drawn}\nreadable = {readable}\nerrors = {errors}\n"
    )


if __name__ == "__main__":
    main()
