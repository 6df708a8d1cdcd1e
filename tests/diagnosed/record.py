"""The table of the study: counted, kept in ``recorded.toml``, shown in the README."""

from __future__ import annotations

import tomllib
from dataclasses import asdict, dataclass
from pathlib import Path

RECORD = Path(__file__).with_name("recorded.toml")
README = Path(__file__).with_name("README.md")
BEGIN, END = "<!-- evenings -->", "<!-- /evenings -->"
HEADS = (
    *(
        "sample",
        "faults",
        "trials",
        "never at rest",
        "first, in at most five",
        "in the first three",
    ),
    *("both in three", "shown", "of those: first", "in three", "outside", "told at 90 %"),
    "of those wrong",
)


@dataclass(frozen=True)
class Count:
    """What came of the trials of a sample with so many faults each."""

    sample: str
    faults: int
    trials: int
    restless: int
    first: int
    third: int
    both: int
    shown: int
    shown_first: int
    shown_third: int
    outside: int
    told: int
    wrong: int


def counted(sample, faults, restless, found):
    """Count evenings."""
    seen = [e for e in found if e["shown"]]

    def many(name, of=found):
        return sum(bool(e[name]) for e in of)

    return Count(
        *(sample, faults, len(found), restless, many("first"), many("third"), many("both")),
        *(len(seen), many("first", seen), many("third", seen), many("outside")),
        *(sum(e["share"] >= 0.9 for e in found), many("wrong")),
    )


def total(counts, faults):
    """All samples together."""
    some = [c for c in counts if c.faults == faults]
    sums = [sum(getattr(c, n) for c in some) for n in Count.__dataclass_fields__ if n not in NAMES]
    return Count("all", faults, *sums)


NAMES = ("sample", "faults")


def load():
    """The recorded counts, in order."""
    found = tomllib.loads(RECORD.read_text(encoding="utf-8"))
    return [Count(**table) for table in found["count"]]


def save(counts):
    """Write the counts down."""
    lines = [
        "# Written by python -m tests.diagnosed --record; see evenings.py for what is counted."
    ]
    for count in counts:
        lines += ["", "[[count]]"]
        lines += [f"{k} = {_toml(v)}" for k, v in asdict(count).items()]
    RECORD.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _toml(value):
    return f'"{value}"' if isinstance(value, str) else str(value)


def table(counts):
    """As Markdown: one fault, then two, with all samples below."""
    lines = [f"| {' | '.join(HEADS)} |", "|---|" + "---:|" * (len(HEADS) - 1)]
    for faults in (1, 2):
        for c in [*(c for c in counts if c.faults == faults), total(counts, faults)]:
            of, seen = max(c.trials, 1), max(c.shown, 1)
            cells = (
                *(c.sample, c.faults, c.trials, c.restless, _share(c.first, of)),
                *(_share(c.third, of), _share(c.both, of) if faults > 1 else "-", c.shown),
                *(_share(c.shown_first, seen), _share(c.shown_third, seen), c.outside, c.told),
                c.wrong,
            )
            lines.append(f"| {' | '.join(str(cell) for cell in cells)} |")
    return "\n".join(lines)


def _share(part, whole):
    return f"{100 * part / whole:.0f} %"


def into_readme(counts):
    """Put the table between its marks."""
    text = README.read_text(encoding="utf-8")
    head, _, rest = text.partition(BEGIN)
    _, _, tail = rest.partition(END)
    README.write_text(f"{head}{BEGIN}\n{table(counts)}\n{END}{tail}", encoding="utf-8")
