"""The reference page of the rules is the one the rules' documentation gives today."""

from __future__ import annotations

from pathlib import Path

from coldcheck.report.pages import reference
from coldcheck.verdict.registry import RULES

MISTAKES = Path(__file__).parents[3] / "samples" / "mistakes"


def test_the_page_in_the_repository_is_current() -> None:
    written = (MISTAKES / "README.md").read_text(encoding="utf-8")
    assert written == reference.page(), "run python -m coldcheck.report.pages.reference"


def test_every_rule_and_every_link_is_on_it() -> None:
    text = reference.page()
    for rule in RULES:
        assert f"### {rule.id}\n" in text
        assert f"({rule.id}/wrong.tube)" in text
    for target in (t.split(")")[0] for t in text.split("](")[1:]):
        assert (MISTAKES / target).is_file(), target
