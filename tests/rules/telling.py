"""What each wrong drawing of ``samples/mistakes`` is told, as it was last read and agreed to.

``python -m tests.rules.telling [FAMILY ...]`` writes ``told/FAMILY.txt`` anew; the difference is
what there is to read.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from tests.rules.conftest import PAIRS, TODAY, without_slips

from coldcheck.judge.figure import Figure
from coldcheck.verdict.engine import review_file

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

TOLD = Path(__file__).parent / "told"
CASES = sorted(str(p.parent.relative_to(PAIRS)) for p in PAIRS.rglob("wrong.tube"))
NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?:e[+-]?\d+)?")
NEAR = 0.02
"""A figure may differ by this share: the solver's last digits are not what a rule says."""


def family_of(case: str) -> str:
    return case.partition(".")[0]


def told(review: Review, rule: str) -> list[str]:
    """The findings of a rule, and what it did not judge, line by line."""
    found = [line for f in review.findings if f.rule == rule for line in _lines(f)]
    silent = [n for n in review.not_judged if n.rule == rule]
    return [*found, *(f"? {', '.join(n.at)}: {n.reason}" for n in silent)]


def _lines(finding: Finding) -> Iterator[str]:
    place = f"{finding.span.line}.{finding.span.column}"
    yield f"{place} {', '.join(finding.at)}: {finding.level}, {finding.state}, {finding.certainty}"
    yield finding.message
    yield finding.remedy
    known = finding.evidence.items()
    shown = (f"{n} {v.text(3) if isinstance(v, Figure) else v}" for n, v in known)
    limit = (f"limit {finding.limit.text(3)}",) if finding.limit is not None else ()
    yield "; ".join((*shown, *limit, f"excess {finding.excess:.3g}"))
    yield from (f"> {step}" for step in finding.path)


def agreed(family: str) -> dict[str, list[str]]:
    """Case -> its lines, of a family's file."""
    blocks = (TOLD / f"{family}.txt").read_text("utf-8").split("\n\n")[1:]
    lines = (block.splitlines() for block in blocks)
    return {case: [line.removeprefix("    ") for line in rest] for case, *rest in lines}


def same(one: str, other: str) -> bool:
    """Whether two lines have the same words, and the same figures nearly."""
    figures = zip(NUMBER.findall(one), NUMBER.findall(other), strict=False)
    words = NUMBER.sub("#", one) == NUMBER.sub("#", other)
    return words and all(abs(float(a) - float(b)) <= NEAR * abs(float(b)) for a, b in figures)


def _write(family: str) -> None:
    cases = [c for c in CASES if family_of(c) == family]
    lines = ["# Written by python -m tests.rules.telling, and read."]
    for case in cases:
        review = without_slips(review_file, PAIRS / case / "wrong.tube", TODAY)
        lines += ["", case, *(f"    {line}" for line in told(review, case.partition("/")[0]))]
    (TOLD / f"{family}.txt").write_text("\n".join(lines) + "\n", "utf-8")


if __name__ == "__main__":
    for name in sys.argv[1:] or sorted({family_of(c) for c in CASES}):
        _write(name)
