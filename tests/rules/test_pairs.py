"""Every rule has a wrong drawing that breaks it and nothing else, and the same one mended."""

from __future__ import annotations

from difflib import SequenceMatcher
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from coldcheck.rules.registry import RULES

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.rules.model import Review

NAMES = [r.id for r in RULES]
PAIRS = Path(__file__).parents[2] / "samples" / "mistakes"
CASES = sorted(str(p.parent.relative_to(PAIRS)) for p in PAIRS.rglob("wrong.tube"))
"""``heater.no-reference``, or ``heater.no-reference/choke`` for a further case of a rule."""
READABLE = tuple(r.id for r in RULES if r.family == "drawing" and r.states != "while reading")


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
    looked, name = sample(case, "wrong"), rule_of(case)
    assert name in {f.rule for f in looked.findings}
    assert {f.rule for f in looked.at_or_above("notice")} <= {name}
    assert looked.readable is not (name.startswith("drawing.") and name not in READABLE)


@pytest.mark.parametrize("case", CASES)
def test_right_is_clean(case: str, sample: Callable[[str, str], Review]) -> None:
    looked = sample(case, "right")
    assert looked.readable
    assert looked.at_or_above("notice") == ()
    assert rule_of(case) not in {f.rule for f in looked.findings if f.accepted is None}
    assert looked.verdict() == "pass"


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("side", ["wrong", "right"])
def test_no_rule_fails_and_every_state_is_solved(
    case: str, side: str, sample: Callable[[str, str], Review]
) -> None:
    looked = sample(case, side)
    assert [n for n in looked.not_judged if "failed" in n.reason or "not solved" in n.reason] == []


@pytest.mark.parametrize("case", CASES)
def test_the_finding_stands_at_a_line_of_the_drawing_and_says_what_to_do(
    case: str, sample: Callable[[str, str], Review]
) -> None:
    looked = sample(case, "wrong")
    for finding in (f for f in looked.findings if f.rule == rule_of(case)):
        assert 1 <= finding.span.line <= len(lines(case, "wrong"))
        assert finding.message
        assert finding.remedy
        assert finding.source
        assert not finding.remedy[0].islower(), finding.remedy
        assert len(finding.fingerprint) == 16


@pytest.mark.parametrize("case", CASES)
def test_the_right_drawing_is_the_wrong_one_mended(case: str) -> None:
    wrong, right = lines(case, "wrong"), lines(case, "right")
    assert wrong[0].startswith("#"), "a comment says what the pair teaches"
    blocks = SequenceMatcher(None, wrong, right, autojunk=False).get_opcodes()
    changed = [line for tag, _, _, a, b in blocks if tag != "equal" for line in right[a:b]]
    assert all("# mended" in line for line in changed), changed
    assert sum("# mended" in line for line in right) == len(changed)
    removed = [line for tag, a, b, _, _ in blocks if tag != "equal" for line in wrong[a:b]]
    assert changed or removed
    assert "# mended" not in "\n".join(wrong)
