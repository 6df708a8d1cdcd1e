"""Every threshold decides: moved to both sides of a figure, its rule says something else.

The figure comes from the evidence of the rule's own wrong and right drawings or from their parts;
where the pairs do not bring a threshold to one, ``boundaries.toml`` has a drawing that does.
A threshold that nothing exercises fails here.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from tests.rules.moving import (
    PAIRS,
    Boundary,
    boundaries,
    decides,
    figures,
    moved,
    said,
    sides,
    thresholds,
)

from coldcheck.bench.faults import judging
from coldcheck.sources.register import register
from coldcheck.verdict.registry import RULES, rule_by_id

ALL = thresholds()
OWN = [n for n in ALL if n not in boundaries()]
VALUES = tomllib.loads((Path(__file__).parent / "values.toml").read_text("utf-8"))


def readable(rule: str) -> list[str]:
    """The texts of a rule's pairs, wrong ones first."""
    found = sorted((PAIRS / rule).rglob("*.tube"), key=lambda p: (p.name != "wrong.tube", str(p)))
    names = [str(p.relative_to(PAIRS)).removesuffix(".tube") for p in found]
    return [Boundary(rule, name).text for name in names]


@pytest.mark.parametrize("name", OWN)
def test_it_decides_at_a_figure_of_its_pair(name: str) -> None:
    threshold, rules = ALL[name]
    tried = ((r, t) for r in rules for t in readable(r.id))
    assert any(decides(r, t, threshold, f) for r, t in tried for f in figures(r, t, threshold))


@pytest.mark.parametrize("name", sorted(boundaries()))
def test_it_decides_in_the_drawing_of_the_table(name: str) -> None:
    threshold, rules = ALL[name]
    boundary = boundaries()[name]
    assert boundary.rule in {r.id for r in rules}
    assert boundary.at is not None
    assert decides(rule_by_id(boundary.rule), boundary.text, threshold, boundary.at)


@pytest.mark.parametrize("name", sorted(sides()), ids=lambda n: f"{sides()[n].boundary.rule}: {n}")
def test_as_it_stands_it_parts_two_drawings_a_tenth_apart(name: str) -> None:
    """A part is given a twentieth less and more than what the limit as it stands allows."""
    one = sides()[name]
    rule = rule_by_id(one.boundary.rule)
    below, above = one.texts
    assert said(rule, below) != said(rule, above)


def test_a_threshold_that_is_not_read_is_found_out() -> None:
    touch = ALL["touch voltage, DC"][0]
    stopper = rule_by_id("grid.no-stopper")
    (text, *_) = readable(stopper.id)
    assert not any(decides(stopper, text, touch, f) for f in (30.0, 60.0, 120.0))


def test_moving_one_puts_it_back() -> None:
    touch, (rule, *_) = ALL["touch voltage, DC"]
    (text, *_) = readable(rule.id)
    before = said(rule, text)
    with moved(touch, 1e6):
        pass
    assert said(rule, text) == before


def test_the_values_stand_as_they_were_entered_a_second_time() -> None:
    """Nobody changes a limit by a slip: each stands here again, with its unit."""
    known = {t.name: t for t, _ in ALL.values()} | {t.name: t for t in judging.THRESHOLDS}
    assert {n: [t.value, t.unit] for n, t in known.items()} == VALUES


def test_every_rule_names_where_it_comes_from() -> None:
    assert [r.id for r in RULES if not r.source] == []
    cited = {t.source.source for t, _ in ALL.values()}
    assert cited <= set(register())


def test_no_rule_lists_a_threshold_twice() -> None:
    for rule in RULES:
        names = [t.name for t in rule.thresholds]
        assert len(names) == len(set(names)), rule.id
