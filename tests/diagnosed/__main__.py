"""``python -m tests.diagnosed``: run the study of the diagnosis and print its table.

``--sample NAME`` (several times) only these; ``--count N`` trials each, ``--seed N`` others;
``--misses`` lists what was not found; ``--record`` writes ``recorded.toml``; ``--readme`` puts the
recorded tables there.
"""

from __future__ import annotations

import argparse
import multiprocessing
from collections import Counter

from tests.diagnosed.record import by_way, into_readme, load, save, save_firsts, table, tables
from tests.diagnosed.study import SEED, TRIALS, WAYS, run, samples


def main():
    parser = argparse.ArgumentParser(prog="tests.diagnosed", description=__doc__)
    parser.add_argument("--sample", action="append", choices=samples())
    parser.add_argument("--count", type=int, default=TRIALS)
    parser.add_argument("--seed", type=int, default=SEED)
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
    tasks = [(name, options.count, options.seed) for name in options.sample or samples()]
    counts, first = {}, {}
    with multiprocessing.get_context("spawn").Pool(options.jobs) as pool:
        for sample, found in pool.imap_unordered(run, tasks):
            counts[sample] = by_way(found)
            for way, count in counts[sample].items():
                print(way, table({sample: count}).splitlines()[2], flush=True)
            if options.misses:
                missed(found)
            first[sample] = found
            if options.record:
                save({**load(), sample: counts[sample]})
    if options.record and not options.sample:
        save_firsts(first)
    print(tables(counts))


def missed(found):
    """What was not in the first group, by kind of fault and what was put first instead."""
    for k, way in enumerate(WAYS):
        outcomes = ((t, t.outcomes[k]) for t in found)
        kinds = Counter((t.fault, o.answer, o.hidden, o.third) for t, o in outcomes if not o.first)
        for (fault, answer, hidden, third), times in kinds.most_common():
            said = f"{' (hidden)' if hidden else ''}{'' if third else ' (not in three)'}"
            print(f"    {way} {times} x {fault} -> {answer}{said}", flush=True)


if __name__ == "__main__":
    main()
