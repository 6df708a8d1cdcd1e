"""``python -m tests.diagnosed``: run the study of the diagnosis and print its table.

``--sample NAME`` (several times) only these; ``--count N`` trials each; ``--misses`` lists what was
not found; ``--record`` writes ``recorded.toml``; ``--readme`` puts the recorded table there.
"""

from __future__ import annotations

import argparse
import multiprocessing
from collections import Counter

from tests.diagnosed.record import counted, into_readme, load, save, table
from tests.diagnosed.study import TRIALS, run, samples


def main():
    parser = argparse.ArgumentParser(prog="tests.diagnosed", description=__doc__)
    parser.add_argument("--sample", action="append", choices=samples())
    parser.add_argument("--count", type=int, default=TRIALS)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--misses", action="store_true")
    parser.add_argument("--record", action="store_true")
    parser.add_argument("--readme", action="store_true")
    options = parser.parse_args()
    if not options.readme or options.sample:
        study(options)
    if options.readme and not into_readme(load()):
        raise SystemExit("the README has no marks for the table")


def study(options):
    tasks = [(name, options.count) for name in options.sample or samples()]
    counts = {}
    with multiprocessing.get_context("spawn").Pool(options.jobs) as pool:
        for sample, found in pool.imap_unordered(run, tasks):
            counts[sample] = counted(found)
            print(table({sample: counts[sample]}).splitlines()[2], flush=True)
            if options.misses:
                missed(found)
            if options.record:
                save({**load(), sample: counts[sample]})
    print(table(counts))


def missed(found):
    """What was not in the first group, by kind of fault and what was put first instead."""
    kinds = Counter((t.fault, t.answer, t.hidden) for t in found if not t.first)
    for (fault, answer, hidden), times in kinds.most_common():
        print(f"    {times} x {fault} -> {answer}{' (hidden)' if hidden else ''}", flush=True)


if __name__ == "__main__":
    main()
