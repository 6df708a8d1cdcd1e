"""What is on record of the study, and the table of README.md beside it."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

from tests.planted.study import Count, count, counts

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from tests.planted.study import Outcome

HERE = Path(__file__).parent
RECORD = HERE / "recorded.toml"
EXPLAINED = HERE / "explained.toml"
README = HERE / "README.md"
START, END = "<!-- planted -->", "<!-- end of planted -->"
TOTAL = "all"
SHARE, EXTRA = 98.0, 0.2
"""The targets: percent found, and extra findings a mutant."""

Key = tuple[str, str, str]
"""Sample, kind, place."""


def written(some: Sequence[Outcome]) -> str:
    """The record as TOML: counts, and every mutant that is not simply found."""
    lines = [
        "# Written by python -m tests.planted --record: the counts of the whole study, every",
        "# mutant that was missed and every extra finding. What is not listed was found.",
    ]
    samples = sorted({o.sample for o in some})
    lines += ["", "[samples]"]
    lines += [f"{name} = {sum(o.sample == name for o in some)}" for name in samples]
    for line in counts(some):
        lines += ["", "[[kind]]", f'kind = "{line.kind}"', *_figures(line)]
    for item in some:
        if not item.found:
            lines += ["", "[[missed]]", *_key(item), f"named = {str(item.named).lower()}"]
            lines += [f"expected = {str(item.expected).lower()}"]
    for item in some:
        if item.extra:
            rest = ", ".join(f'"{e}"' for e in item.extra)
            lines += ["", "[[extra]]", *_key(item), f"findings = [{rest}]"]
    return "\n".join(lines) + "\n"


def _figures(line: Count) -> list[str]:
    names = ("planted", "named", "found", "confirmed", "extra")
    return [f"{name} = {getattr(line, name)}" for name in names]


def _key(item: Outcome) -> list[str]:
    return [f'sample = "{item.sample}"', f'kind = "{item.kind}"', f'place = "{item.place}"']


class Recorded:
    """The record as it is on file."""

    def __init__(self, text: str | None = None) -> None:
        """From a text, or from the file."""
        data = tomllib.loads(RECORD.read_text(encoding="utf-8") if text is None else text)
        self.samples: dict[str, int] = data.get("samples", {})
        self.kinds = tuple(Count(**entry) for entry in data.get("kind", ()))
        self.missed = {_of(entry) for entry in data.get("missed", ())}
        self.extra = {_of(e): tuple(e["findings"]) for e in data.get("extra", ())}

    @property
    def total(self) -> Count:
        """All kinds together."""
        sums = (sum(getattr(k, n) for k in self.kinds) for n in Count.__slots__[1:])
        return Count(TOTAL, *sums)

    def differs(self, item: Outcome) -> str:
        """How an outcome differs from the record, in words; empty where it does not."""
        if item.found == (item.key in self.missed):
            return f"{': '.join(item.key)}: {'found' if item.found else 'missed'}, recorded not so"
        if item.extra != self.extra.get(item.key, ()):
            return f"{': '.join(item.key)}: extra {item.extra}, recorded {self.extra.get(item.key)}"
        return ""


def _of(entry: dict[str, str]) -> Key:
    return entry["sample"], entry["kind"], entry["place"]


def explained(text: str | None = None) -> dict[Key, str]:
    """Why each miss cannot be found, or need not be."""
    data = tomllib.loads(EXPLAINED.read_text(encoding="utf-8") if text is None else text)
    return {
        (sample, entry["kind"], place): entry["why"]
        for entry in data.get("missed", ())
        for sample, places in entry["places"].items()
        for place in places
    }


def complaints(known: Recorded, reasons: dict[Key, str]) -> Iterator[str]:
    """What keeps the record from meeting the targets."""
    total = known.total
    if total.share < SHARE:
        yield f"{total.share:.1f} % found, {SHARE:g} % wanted"
    if total.extra_each >= EXTRA:
        yield f"{total.extra_each:.2f} extra findings a mutant, below {EXTRA:g} wanted"
    for key in sorted(known.missed - set(reasons)):
        yield f"{': '.join(key)}: missed without an explanation"
    for key in sorted(set(reasons) - known.missed):
        yield f"{': '.join(key)}: explained, but not missed"
    for key in sorted(k for k, why in reasons.items() if len(why) < 20):
        yield f"{': '.join(key)}: that is no explanation"


def totals(some: Iterable[Outcome]) -> tuple[Count, ...]:
    """The lines of the table: one a kind, and the sums."""
    some = tuple(some)
    return (*counts(some), count(TOTAL, some))


# -- the README ----------------------------------------------------------------------------------


def readme_table(lines: Sequence[Count], samples: int) -> str:
    """The table as the README carries it; the last line is that of the sums."""
    head = "| mistake | planted | right rule | right place | only an `expect` | extra findings |\n"
    head += "|---|--:|--:|--:|--:|--:|\n"
    *kinds, total = lines
    body = "".join(_row(line.kind, line) for line in kinds)
    last = f"{total.planted} mutants of {samples} drawings: {total.share:.1f} % found in the right "
    last += f"place, {total.extra_each:.2f} extra findings a mutant."
    return f"{head}{body}{_row('**all**', total)}\n{last}\n"


def _row(name: str, line: Count) -> str:
    cells = (line.planted, line.named, line.found, line.confirmed, line.extra)
    return f"| {name} | " + " | ".join(str(c) for c in cells) + " |\n"


def with_table(text: str, table: str) -> str:
    """The README with the table between its marks; ValueError where there are none."""
    before, mark, rest = text.partition(START + "\n")
    _, end, after = rest.partition(END)
    if not (mark and end):
        raise ValueError(f"no {START} ... {END} in {README}")
    return f"{before}{mark}{table}{end}{after}"


def readme_part(text: str) -> str:
    """What stands between the marks."""
    return text.partition(START + "\n")[2].partition(END)[0]
