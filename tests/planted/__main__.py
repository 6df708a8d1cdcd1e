"""The mutation study: ``python -m tests.planted`` (some minutes).

Plants every mistake at every place of every sample that it applies to, reviews each, and prints
by kind how many were found. ``--record`` stores the counts and what was missed or told besides,
``--readme`` puts the table of the record into the README.
"""

from __future__ import annotations

import argparse
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

from rich.console import Console
from rich.progress import track
from rich.table import Table
from tests.planted import record, study


def table(lines: tuple[study.Count, ...]) -> Table:
    """The table by kind."""
    made = Table(title="Planted mistakes", title_justify="left")
    made.add_column("mistake", overflow="fold")
    for name in ("planted", "right rule", "right place", "only an expect", "extra", "share"):
        made.add_column(name, justify="right")
    for line in lines:
        figures = (line.planted, line.named, line.found, line.confirmed, line.extra)
        made.add_row(line.kind, *(str(n) for n in figures), f"{line.share:.0f} %")
    return made


def rest(outcomes: list[study.Outcome]) -> list[str]:
    """What was missed, and what was told besides."""
    reasons = record.explained()
    said = []
    for item in outcomes:
        name = ": ".join(item.key)
        if not item.found:
            why = " ".join(reasons.get(item.key, "without an explanation").split())
            said.append(f"missed: {name} ({'named elsewhere; ' if item.named else ''}{why})")
        said += [f"extra: {name}: {finding}" for finding in item.extra]
    return said


def main() -> None:
    """Run, print, record, or write into the README."""
    parser = argparse.ArgumentParser(prog="python -m tests.planted", description=__doc__)
    parser.add_argument("--sample", action="append", default=[], choices=study.names())
    parser.add_argument("--kind", action="append", default=[], choices=tuple(study.KINDS))
    parser.add_argument("--record", action="store_true", help="record the outcome (of all)")
    parser.add_argument("--readme", action="store_true", help="put the record into the README")
    asked = parser.parse_args()
    console = Console()
    if asked.record or not asked.readme:
        if asked.record and (asked.sample or asked.kind):
            parser.error("only the whole study is recorded")
        mutants = list(study.exhibits(asked.sample, asked.kind))
        found = list(track(study.outcomes(mutants), total=len(mutants), console=console))
        console.print(table(record.totals(found)), *rest(found), sep="\n", highlight=False)
        if asked.record:
            record.RECORD.write_text(record.written(found), encoding="utf-8")
    if asked.readme:
        known = record.Recorded()
        part = record.readme_table((*known.kinds, known.total), len(known.samples))
        text = record.README.read_text(encoding="utf-8")
        record.README.write_text(record.with_table(text, part), encoding="utf-8")


if __name__ == "__main__":
    main()
