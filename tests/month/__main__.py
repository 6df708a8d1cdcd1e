"""A month in a repository of drawings: ``python -m tests.month [--drawings 200] [--days 30]``.

Writes a scratch repository (one-stage sets, copies of the samples, sets that share a sheet; some
with standing findings), records a ledger, installs the hook through pre-commit, and goes through a
month of changes, two a day, every third one bad. Each is committed on a branch (the hook) and gated
by a script (the CI step). The month is as it should be when exactly the bad changes were stopped,
by both; a new waiver is the gate's business.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import tempfile
from collections import Counter
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from tests.month.adversary import main as adversary
from tests.month.changes import Change, month
from tests.month.repository import Fate, Repository


def main() -> int:
    """Live through the month; returns 0 when exactly the bad changes were stopped."""
    reader = argparse.ArgumentParser(prog="python -m tests.month")
    reader.add_argument("--drawings", type=int, default=200)
    reader.add_argument("--days", type=int, default=30)
    reader.add_argument("--seed", type=int, default=1)
    reader.add_argument("--adversary", action="store_true", help="the attempts instead")
    options = reader.parse_args()
    if options.adversary:
        return adversary()
    counts, wrong = lived(options.drawings, options.days, options.seed)
    for what, number in sorted(counts.items()):
        print(f"  {number:4} {what}")
    print(f"{sum(counts.values())} changes in {options.drawings} drawings, {wrong} judged wrongly")
    return 1 if wrong else 0


def lived(drawings: int, days: int, seed: int) -> tuple[Counter[str], int]:
    """How many changes passed and were stopped, and how many wrongly."""
    counts: Counter[str] = Counter()
    wrong = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "drawings"
        folder.mkdir()
        repository = Repository(folder, random.Random(seed), drawings)
        repository.begin()
        for change in month(repository, days):
            kept = [list(x) for x in (repository.stages, repository.copies, repository.sharing)]
            fate = repository.submit(change.what)
            counts["stopped" if fate.gate else "passed"] += 1
            wrong += not told(change, fate)
            if fate.hook or fate.gate:
                back(repository, kept)
    return counts, wrong


def told(change: Change, fate: Fate) -> bool:
    """Print how a change fared; returns whether that is right."""
    hook = change.bad and not change.waiver
    right = ((fate.hook != 0) is hook) and ((fate.gate != 0) is change.bad)
    mark = "" if right else f"   WRONG (hook {fate.hook}, gate {fate.gate})\n{fate.said}"
    print(f"  {'stopped' if fate.gate else 'passed':8}{change.what}{mark}", flush=True)
    return right


def back(repository: Repository, kept: list[list[Path]]) -> None:
    """Forget files that came with a change that was stopped."""
    repository.stages, repository.copies, repository.sharing = (
        [p for p in files if p.exists()] for files in kept
    )


if __name__ == "__main__":
    sys.exit(main())
