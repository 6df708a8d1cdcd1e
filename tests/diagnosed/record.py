"""The table of the study: counted, kept in ``recorded.toml``, shown in the README."""

from __future__ import annotations

import json
import tomllib
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

from tests.diagnosed.study import WAYS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from tests.diagnosed.study import Outcome, Trial

RECORD = Path(__file__).with_name("recorded.toml")
FIRSTS = Path(__file__).with_name("first_trials.toml")
KEPT = 8
"""Trials of each sample that are kept one by one."""

README = Path(__file__).with_name("README.md")
BEGIN, END = "<!-- diagnosed -->", "<!-- /diagnosed -->"

FIRST_TARGET, THIRD_TARGET = 0.85, 0.97


@dataclass(frozen=True, slots=True)
class Count:
    """What came of the trials of a sample (or of all) by one way of taking readings.

    ``alone`` of ``trials``: the true fault at the very top. ``first``: there or in the group of
    the top that is reported as not to be separated. ``third``: in that group or among the first
    three suspects. ``hidden``: whose ten readings a sound circuit would give as well; ``seen_...``
    are the counts without those. ``group``, ``large``, ``largest``: size of the first group where
    the fault is not hidden: median, what nine in ten do not exceed, largest; ``blind``: the
    largest where it is hidden.
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
    large: float
    largest: int
    blind: int

    @property
    def seen(self) -> int:
        """Trials in which there was something to see."""
        return self.trials - self.hidden

    @property
    def holds(self) -> bool:
        """Whether both targets are met."""
        first, third = self.first / self.trials, self.third / self.trials
        return first >= FIRST_TARGET and third >= THIRD_TARGET


def counted(outcomes: Iterable[Outcome]) -> Count:
    """Count outcomes."""
    everything = list(outcomes)
    seen = [o for o in everything if not o.hidden]
    sizes = sorted(o.group for o in seen) or [0]
    return Count(
        len(everything),
        *(sum(getattr(o, name) for o in everything) for name in ("alone", "first", "third")),
        len(everything) - len(seen),
        *(sum(getattr(o, name) for o in seen) for name in ("alone", "first", "third")),
        float(median(sizes)),
        float(sizes[(9 * len(sizes)) // 10]),
        max(sizes),
        max((o.group for o in everything if o.hidden), default=0),
    )  # fmt: skip


def by_way(trials: Iterable[Trial]) -> dict[str, Count]:
    """Counts by the way the readings were taken."""
    everything = list(trials)
    return {way: counted(t.outcomes[k] for t in everything) for k, way in enumerate(WAYS)}


def total(counts: Sequence[Count]) -> Count:
    """All samples together; sizes of groups are the median of the samples', and the largest."""
    sums = {n: sum(getattr(c, n) for c in counts) for n in Count.__slots__ if n not in SIZES}
    sizes = {n: of([getattr(c, n) for c in counts]) for n, of in SIZES.items()}
    return Count(**sums, **sizes)


SIZES = {"group": median, "large": median, "largest": max, "blind": max}


def load() -> dict[str, dict[str, Count]]:
    """The recorded counts: sample -> way -> count."""
    if not RECORD.exists():
        return {}
    found = tomllib.loads(RECORD.read_text(encoding="utf-8"))
    return {
        name: {way: Count(**table) for way, table in ways.items()} for name, ways in found.items()
    }


def save(counts: Mapping[str, Mapping[str, Count]]) -> None:
    """Write the counts down."""
    lines = ["# Written by python -m tests.diagnosed --record; see study.py for what is counted."]
    for name, ways in sorted(counts.items()):
        for way, count in ways.items():
            lines += ["", f"[{name}.{way}]", *(f"{k} = {v}" for k, v in asdict(count).items())]
    RECORD.write_text("\n".join(lines) + "\n", encoding="utf-8")


def firsts(trials: Iterable[Trial]) -> list[dict[str, object]]:
    """What is kept of single trials: the fault, and what came of it by either way."""
    return [
        {"fault": t.fault, "size": float(f"{t.size:.6g}")}
        | {f"{way}_first": o.first for way, o in zip(WAYS, t.outcomes, strict=True)}
        | {f"{way}_hidden": o.hidden for way, o in zip(WAYS, t.outcomes, strict=True)}
        for t in trials
    ]


def load_firsts() -> dict[str, list[dict[str, object]]]:
    """The first trials of each sample, as :func:`firsts` has them."""
    return tomllib.loads(FIRSTS.read_text(encoding="utf-8"))


def save_firsts(trials: Mapping[str, Sequence[Trial]]) -> None:
    """Write the first trials of samples down."""
    lines = ["# The first trials of recorded.toml; written by python -m tests.diagnosed --record."]
    for name, several in sorted(trials.items()):
        for trial in firsts(several[:KEPT]):
            lines += ["", f"[[{name}]]", *(f"{k} = {_toml(v)}" for k, v in trial.items())]
    FIRSTS.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _toml(value: object) -> str:
    return json.dumps(value)


def tables(counts: Mapping[str, Mapping[str, Count]]) -> str:
    """Both tables in Markdown, each under a line that says how the readings were taken."""
    parts = []
    for way in WAYS:
        parts += [f"{HEADS[way]}:", "", table({n: c[way] for n, c in counts.items()}), ""]
    return "\n".join(parts).strip()


def table(counts: Mapping[str, Count]) -> str:
    """One table in Markdown."""
    rows = [
        "| sample | faults | first or in its group | in the first three | "
        "not to be seen: how many, so reported, largest group | "
        "of the rest: first of all | first or in its group | in the first three | "
        "size of the group: median, nine in ten, largest |",
        "|---|---:|---:|---:|---:|---:|---:|---:|---:|",
    ]
    rows += [_row(name, count) for name, count in sorted(counts.items())]
    rows.append(_row("all", total(list(counts.values()))))
    return "\n".join(rows)


HEADS = {
    "asked": "Ten readings where the tool asks for them",
    "round": "Ten readings of a round settled beforehand, DC only",
}


def _row(name: str, c: Count) -> str:
    cells = (
        name, str(c.trials), _share(c.first, c.trials), _share(c.third, c.trials),
        f"{c.hidden}, {c.first - c.seen_first}, {c.blind}",
        _share(c.seen_alone, c.seen), _share(c.seen_first, c.seen), _share(c.seen_third, c.seen),
        f"{c.group:.0f}, {c.large:.0f}, {c.largest}",
    )  # fmt: skip
    return f"| {' | '.join(cells)} |"


def _share(part: int, whole: int) -> str:
    return f"{100 * part / whole:.1f} %" if whole else "–"


def into_readme(counts: Mapping[str, Mapping[str, Count]]) -> bool:
    """Put the table between its marks in the README; False where there are no marks."""
    text = README.read_text(encoding="utf-8")
    if BEGIN not in text or END not in text:
        return False
    head, _, rest = text.partition(BEGIN)
    _, _, tail = rest.partition(END)
    README.write_text(f"{head}{BEGIN}\n{tables(counts)}\n{END}{tail}", encoding="utf-8")
    return True
