"""The table of all runs of all sets: what a person judged, the bad figures too."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

from tests.unseen.study import HERE, read_set

if TYPE_CHECKING:
    from pathlib import Path

HEAD = (
    "| set | run | wrong | found at the place | the cause first | level reached | extra a drawing "
    "| sound | with an alarm |\n|---|---|--:|--:|--:|--:|--:|--:|--:|\n"
)


def table() -> str:
    """Markdown, a row a judged run."""
    runs = sorted(HERE.glob("*/runs/*.judged.toml"))
    return HEAD + "".join(_row(path) for path in runs)


def _row(path: Path) -> str:
    folder = path.parents[1].name
    judged = tomllib.loads(path.read_text("utf-8"))["drawing"]
    sound = {d.file for d in read_set(folder) if d.sound}
    wrong = [row for name, row in judged.items() if name not in sound]
    alarms = sum(1 for name, row in judged.items() if name in sound and row["extra"])
    shares = (_share([row[key] for row in wrong]) for key in ("found", "first", "level"))
    extra = sum(row["extra"] for row in wrong) / max(len(wrong), 1)
    name = path.name.removesuffix(".judged.toml")
    cells = (folder, name, len(wrong), *shares, f"{extra:.2f}", len(sound), alarms)
    return f"| {' | '.join(map(str, cells))} |\n"


def _share(values: list[bool]) -> str:
    return f"{100 * sum(values) / max(len(values), 1):.0f} %"
