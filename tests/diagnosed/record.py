"""The table of the study: counted, kept in ``recorded.toml``, shown in the README."""

from __future__ import annotations

import tomllib
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from tests.diagnosed.study import Trial

RECORD = Path(__file__).with_name("recorded.toml")
README = Path(__file__).parents[2] / "README.md"
BEGIN, END = "<!-- diagnosed -->", "<!-- /diagnosed -->"

FIRST_TARGET, THIRD_TARGET = 0.85, 0.97


@dataclass(frozen=True, slots=True)
class Count:
    """What came of the trials of a sample (or of all).

    ``alone`` of ``trials``: the true fault at the very top. ``first``: there or in the group of
    the top that is reported as not to be separated. ``third``: the same for the first three places
    or groups. ``hidden``: whose ten readings a sound circuit would give as well; ``seen_...`` are
    the counts without those. ``group``: median size of the first group where the fault is not
    hidden.
    """

    trials: int
    alone: int
    first: int
    third: int
    hidden: int
    seen_alone: int
    seen_first: int
    seen_third: int
    group: float

    @property
    def seen(self) -> int:
        """Trials in which there was something to see."""
        return self.trials - self.hidden

    @property
    def holds(self) -> bool:
        """Whether both targets are met."""
        first, third = self.first / self.trials, self.third / self.trials
        return first >= FIRST_TARGET and third >= THIRD_TARGET


def counted(trials: Iterable[Trial]) -> Count:
    """Count trials."""
    everything = list(trials)
    seen = [t for t in everything if not t.hidden]
    return Count(
        len(everything),
        *(sum(getattr(t, name) for t in everything) for name in ("alone", "first", "third")),
        len(everything) - len(seen),
        *(sum(getattr(t, name) for t in seen) for name in ("alone", "first", "third")),
        float(median([t.group for t in seen] or [0])),
    )  # fmt: skip


def total(counts: Sequence[Count]) -> Count:
    """All samples together; the group's size is the median of the samples' medians."""
    sums = {
        name: sum(getattr(c, name) for c in counts) for name in Count.__slots__ if name != "group"
    }
    return Count(**sums, group=float(median([c.group for c in counts])))


def load() -> dict[str, Count]:
    """The recorded counts by sample."""
    if not RECORD.exists():
        return {}
    found = tomllib.loads(RECORD.read_text(encoding="utf-8"))
    return {name: Count(**table) for name, table in found.items()}


def save(counts: Mapping[str, Count]) -> None:
    """Write the counts down."""
    lines = ["# Written by python -m tests.diagnosed --record; see study.py for what is counted."]
    for name, count in sorted(counts.items()):
        lines += ["", f"[{name}]", *(f"{k} = {v}" for k, v in asdict(count).items())]
    RECORD.write_text("\n".join(lines) + "\n", encoding="utf-8")


def table(counts: Mapping[str, Count]) -> str:
    """The table in Markdown."""
    rows = [
        "| sample | faults | first or in its group | in the first three | hidden | "
        "of the rest: first of all | first group | its size |",
        "|---|---:|---:|---:|---:|---:|---:|---:|",
    ]
    rows += [_row(name, count) for name, count in sorted(counts.items())]
    rows.append(_row("all", total(list(counts.values()))))
    return "\n".join(rows)


def _row(name: str, c: Count) -> str:
    cells = (
        name, str(c.trials), _share(c.first, c.trials), _share(c.third, c.trials), str(c.hidden),
        _share(c.seen_alone, c.seen), _share(c.seen_first, c.seen), f"{c.group:.0f}",
    )  # fmt: skip
    return f"| {' | '.join(cells)} |"


def _share(part: int, whole: int) -> str:
    return f"{100 * part / whole:.1f} %" if whole else "–"


def into_readme(counts: Mapping[str, Count]) -> bool:
    """Put the table between its marks in the README; False where there are no marks."""
    text = README.read_text(encoding="utf-8")
    if BEGIN not in text or END not in text:
        return False
    head, _, rest = text.partition(BEGIN)
    _, _, tail = rest.partition(END)
    README.write_text(f"{head}{BEGIN}\n{table(counts)}\n{END}{tail}", encoding="utf-8")
    return True
