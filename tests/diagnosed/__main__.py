"""``python -m tests.diagnosed``: run the study of the diagnosis and print its table.

``--sample NAME`` (several times) only these; ``--seed N`` others; ``--misses`` lists what was not
found; ``--record`` writes ``recorded.toml`` and the README's table.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

from tests.diagnosed.evenings import ASIDE, EVENINGS, SEED, run
from tests.diagnosed.record import counted, into_readme, save, table


def main():
    parser = argparse.ArgumentParser(prog="tests.diagnosed", description=__doc__)
    parser.add_argument("--sample", action="append", choices=sorted(EVENINGS | ASIDE))
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--misses", action="store_true")
    parser.add_argument("--record", action="store_true")
    options = parser.parse_args()
    names = options.sample or sorted(EVENINGS)
    every = EVENINGS | ASIDE
    tasks = [(n, many, options.seed, k + 1) for n in names for k, many in enumerate(every[n])]
    counts = []
    with multiprocessing.get_context("spawn").Pool(options.jobs) as pool:
        for sample, faults, restless, found in pool.imap(run, tasks):
            counts.append(counted(sample, faults, restless, found))
            if options.misses:
                missed(found)
    print(table(counts))
    if options.record and not options.sample:
        save(counts)
        into_readme(counts)


def missed(found):
    """What was not first, and what was."""
    for e in (e for e in found if not e["first"]):
        said = "outside" if e["outside"] else e["answer"] if e["shown"] else "nothing shows"
        print(f"    {e['fault']} -> {said}{' (wrong at 90 %)' if e['wrong'] else ''}", flush=True)


if __name__ == "__main__":
    main()
