"""Every rule has a wrong drawing that breaks it and nothing else, and the same one mended."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from coldcheck.judge.finding import Unjudged
from coldcheck.verdict.check import right_faults, text_faults, wrong_faults
from coldcheck.verdict.registry import RULES, rule_by_id

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

NAMES = [r.id for r in RULES]
PAIRS = Path(__file__).parents[2] / "samples" / "mistakes"
CASES = sorted(str(p.parent.relative_to(PAIRS)) for p in PAIRS.rglob("wrong.tube"))
"""``heater.no-reference``, or ``heater.no-reference/choke`` for a further case of a rule."""


def rule_of(case: str) -> str:
    return case.partition("/")[0]


def lines(case: str, side: str) -> list[str]:
    return (PAIRS / case / f"{side}.tube").read_bytes().decode("latin-1").splitlines()


def test_the_folder_has_a_pair_for_each_rule_and_no_other() -> None:
    assert {p.name for p in PAIRS.iterdir() if p.is_dir()} == set(NAMES)
    assert set(NAMES) <= set(CASES)
    for case in CASES:
        files = {p.name for p in (PAIRS / case).iterdir() if p.is_file()}
        assert files == {"wrong.tube", "right.tube"}, case


@pytest.mark.parametrize("case", CASES)
def test_wrong_breaks_its_rule_and_nothing_else(
    case: str, sample: Callable[[str, str], Review]
) -> None:
    looked = sample(case, "wrong")
    assert list(wrong_faults(rule_by_id(rule_of(case)), looked)) == []
    marks = [f.fingerprint for f in looked.findings if f.rule == rule_of(case)]
    assert marks
    assert all(len(mark) == 16 for mark in marks)


@pytest.mark.parametrize("case", CASES)
def test_right_is_clean(case: str, sample: Callable[[str, str], Review]) -> None:
    looked = sample(case, "right")
    assert list(right_faults(rule_by_id(rule_of(case)), looked)) == []
    open_for_ever = {n.kind for n in looked.not_judged} & {Unjudged.NO_LAW}
    assert looked.verdict() == ("undecided" if open_for_ever else "let through")


@pytest.mark.parametrize("case", CASES)
def test_the_right_drawing_is_the_wrong_one_mended(case: str) -> None:
    assert list(text_faults(lines(case, "wrong"), lines(case, "right"))) == []
