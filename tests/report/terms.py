"""The words that may not come back, and where they still stand.

``python -m tests.report.terms`` writes ``terms_standing.txt`` anew where it has become shorter.
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]
STANDING = Path(__file__).with_name("terms_standing.txt")
_AMOUNT = r"(?:\{\}|\d[\d.]*)"

BANNED = {
    "stands 500 V (is rated)": rf"\b(?:stands?|withstands?) {_AMOUNT}",
    "stands at (is at)": r"\bstand(?:s|ing)? at\b",
    "straight lines (small-signal estimate)": r"\bstraight lines?\b",
    "heater line (heater bus)": r"\bheater lines?\b",
    "bias line (bias supply)": r"\bbias lines?\b",
    "no way round (no return path)": r"\bno way (?:round|back)\b",
    "a core (per core)": rf"(?:{_AMOUNT}|\b(?:V|A|mA|W|ohm|once)) a (?:core|tube|division)\b",
    "V1A plate (V1A.plate)": r"\bV\d+[AB]? (?:plate|grid|screen|cathode)\b",
    "told (reported)": r"\btold\b",
    "steep tube (high-transconductance)": r"\bsteep(?:er|est)? tubes?\b",
    "RCD (RCD (GFCI))": r"\bRCDs?\b(?! \(GFCI)",
    "green-yellow wire (protective-earth wire)": r"\bgreen-yellow\b(?!; US)|\bgreen-and-yellow\b",
    "heater-k (heater to cathode)": r"\bheater-k\b",
}
"""What is looked for, named with the word to write instead."""

WHERE = {name: re.compile(pattern, re.IGNORECASE) for name, pattern in BANNED.items()}


def found(text: str) -> Iterator[str]:
    """The names of banned words in a text, once for each place."""
    for name, pattern in WHERE.items():
        yield from (name for _ in pattern.finditer(text))


def literals(source: str) -> Iterator[str]:
    """The strings of a module, a ``{}`` for what is filled in; no docstrings."""
    tree = ast.parse(source)
    skipped: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            skipped.add(id(node.value))
        if isinstance(node, ast.JoinedStr):
            skipped |= {id(part) for part in node.values}
            yield "".join(_part(part) for part in node.values)
        elif isinstance(node, ast.Constant) and id(node) not in skipped:
            yield from [node.value] if isinstance(node.value, str) else []


def _part(part: ast.expr) -> str:
    return str(part.value) if isinstance(part, ast.Constant) else "{}"


@cache
def offenders() -> Counter[tuple[str, str]]:
    """(module, banned word) -> how often, over the whole program."""
    counted: Counter[tuple[str, str]] = Counter()
    for path in sorted((ROOT / "lint" / "coldcheck").rglob("*.py")):
        name = path.relative_to(ROOT).as_posix()
        for text in literals(path.read_text("utf-8")):
            counted.update((name, word) for word in found(text))
    return counted


def standing() -> Counter[tuple[str, str]]:
    """What the list allows."""
    rows = (line.split("\t") for line in STANDING.read_text("utf-8").splitlines() if line)
    return Counter({(module, word): int(times) for module, word, times in rows})


def write() -> None:
    """Write the list; never a longer one."""
    now = offenders()
    if STANDING.exists() and (more := now - standing()):
        raise SystemExit(f"these are new, and are to be worded otherwise: {dict(more)}")
    rows = (f"{module}\t{word}\t{times}\n" for (module, word), times in sorted(now.items()))
    STANDING.write_text("".join(rows), "utf-8")


if __name__ == "__main__":
    write()
