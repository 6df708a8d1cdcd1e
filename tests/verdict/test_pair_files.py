"""The pairs as the package reads them."""

from __future__ import annotations

from coldcheck.verdict.pairs import folder, pairs, pairs_of
from coldcheck.verdict.registry import RULES


def test_every_rule_has_a_pair_of_its_own_first() -> None:
    for rule in RULES:
        assert pairs_of(rule.id)[0].case == "", rule.id
    assert {p.rule for p in pairs()} == {r.id for r in RULES}


def test_the_comment_at_the_top_is_the_lesson_and_not_part_of_the_drawing() -> None:
    pair = pairs_of("heater.cathode-stress")[0]
    assert pair.lesson.startswith("A cathode follower whose grid sits")
    assert pair.wrong.startswith('drawing "High Stool')
    assert pair.right.startswith('drawing "High Stool')


def test_names_are_folders() -> None:
    assert all((folder() / p.name / "wrong.tube").is_file() for p in pairs())


def test_an_unknown_rule_has_none() -> None:
    assert pairs_of("heater.nothing") == ()
