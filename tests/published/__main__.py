"""The scorecard: ``python -m tests.published``.

Predicted, published and error of every published value the program can predict, and the summary
by family. ``--record`` writes the summary as the one not to fall behind, ``--readme`` puts it
into the README.
"""

from __future__ import annotations

import argparse
import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does

from rich.console import Console
from rich.table import Table
from tests.published import score


def values() -> Table:
    """Every row."""
    table = Table(title="Published values", title_justify="left")
    for name in ("id", "family", "quantity", "tube law", "source"):
        table.add_column(name, overflow="fold")
    for name in ("published", "predicted", "error"):
        table.add_column(name, justify="right", no_wrap=True)
    for item in score.scored():
        row = item.row
        mark = "" if item.within else " !"
        table.add_row(
            row.id,
            row.family,
            row.quantity,
            row.basis,
            f"{row.confidence}: {row.source}",
            f"{row.answer} {row.unit}".strip(),
            f"{item.predicted:.5g}",
            f"{item.error:+.1f} %{mark}",
        )
    return table


def families() -> Table:
    """The summary."""
    table = Table(title="By family (doubtful sources and bounds left aside)", title_justify="left")
    table.add_column("family", overflow="fold")
    for name in ("values", "median", "worst", "to the printed digit"):
        table.add_column(name, justify="right")
    table.add_column("tube law")
    table.add_column("sources")
    for line in sorted(score.summary(), key=lambda x: x.basis == "in the fit"):
        exact = f"{line.number if line.digits == 'all' else line.digits}"
        worst = f"{line.worst:.1f} %"
        cells = (str(line.number), f"{line.median:.1f} %", worst, exact)
        table.add_row(line.family, *cells, line.basis, line.confidence)
    return table


def main() -> None:
    """Print, record, or write into the README."""
    parser = argparse.ArgumentParser(prog="python -m tests.published", description=__doc__)
    parser.add_argument("--summary", action="store_true", help="print the summary alone")
    parser.add_argument("--record", action="store_true", help="record the summary")
    parser.add_argument("--readme", action="store_true", help="put the summary into the README")
    asked = parser.parse_args()
    if asked.record:
        score.RECORD.write_text(score.record(score.summary()), encoding="utf-8")
    if asked.readme:
        text = score.README.read_text(encoding="utf-8")
        part = score.readme_table(score.scored())
        score.README.write_text(score.with_table(text, part), encoding="utf-8")
    if not (asked.record or asked.readme):
        console = Console()
        tables = (families(),) if asked.summary else (values(), families())
        console.print(*tables, sep="\n")


if __name__ == "__main__":
    main()
