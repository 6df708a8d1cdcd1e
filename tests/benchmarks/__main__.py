"""Speed, as ratios taken in one run: ``python -m tests.benchmarks [TABLE...]``.

Absolute times differ from machine to machine; what is compared here is compared within this run.
Not part of the test suite: nothing here passes or fails.
"""

from __future__ import annotations

import argparse
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

from tests.benchmarks import collection, faults, growth, many, pictures, start, sweeps

TABLES = {
    "start": start.main,
    "growth": growth.main,
    "faults": faults.main,
    "sweeps": sweeps.main,
    "many": many.main,
    "collection": collection.main,
    "pictures": pictures.main,
}


def main() -> None:
    """Print the tables asked for, or all of them."""
    reader = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    reader.add_argument("tables", nargs="*", choices=[*TABLES, []], help="which; or all")
    for name in reader.parse_args().tables or TABLES:
        TABLES[name]()
        print()


if __name__ == "__main__":
    main()
