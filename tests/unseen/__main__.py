"""``python -m tests.unseen SET``: review a frozen set and print what each drawing got.

``--record RUN`` keeps the findings in ``SET/runs/RUN.json``; whoever judges them writes
``SET/runs/RUN.judged.toml`` beside it, and ``python -m tests.unseen --table`` makes the table.
"""

from __future__ import annotations

import argparse
import json
import sys
from datetime import date

from tests.unseen.study import HERE, Told, read_set, scored, told_of
from tests.unseen.table import table


def main() -> int:
    options = _options()
    if options.table:
        sys.stdout.write(table())
        return 0
    told = {d.file: told_of(HERE / options.set / d.file) for d in read_set(options.set)}
    for drawing in read_set(options.set):
        _say(drawing.file, drawing.mistake or drawing.about, told[drawing.file], options.set)
    if options.record:
        runs = HERE / options.set / "runs"
        runs.mkdir(exist_ok=True)
        kept = {name: one.data() for name, one in told.items()}
        text = json.dumps({"date": str(date.today()), "drawings": kept}, indent=1) + "\n"
        (runs / f"{options.record}.json").write_text(text, "utf-8")
    return 0


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("set", nargs="?", default="one")
    parser.add_argument("--record", metavar="RUN")
    parser.add_argument("--table", action="store_true")
    return parser.parse_args()


def _say(name: str, what: str, told: Told, folder: str) -> None:
    expected = next(d for d in read_set(folder) if d.file == name)
    print(f"{name} {scored(expected, told).word}  [{expected.level or 'sound'}] {what}")
    if expected.places:
        print(f"     places: {', '.join(expected.places)}")
    for finding in told.findings:
        print(
            f"     {finding.level:8} {finding.rule} at {', '.join(finding.at)}: {finding.message}"
        )
    print(f"     {told.verdict}")


if __name__ == "__main__":
    raise SystemExit(main())
