"""Both sides of a comparison as pictures: the marks are those of the pair's own change."""

from __future__ import annotations

import pytest

from coldcheck.compare.changes import compare
from coldcheck.compare.pictured import Side, pictured
from coldcheck.drawing import parse_drawing
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.pairs import pairs_of

NOTHING: frozenset[str] = frozenset()


def sides_of(old: str, new: str, rule: str = "") -> tuple[Side, Side]:
    reviews = [review_drawing(parse_drawing(text, "a.tube")) for text in (old, new)]
    found = pictured(compare(*reviews), lambda finding: finding.rule == rule)
    assert found is not None
    return found


def of_pair(rule: str) -> tuple[Side, Side]:
    (pair, *_) = pairs_of(rule)
    return sides_of(pair.wrong, pair.right, rule)


def test_the_grid_leak_that_was_missing() -> None:
    wrong, right = of_pair("grid.no-return")
    assert (wrong.changed.parts, wrong.changed.nets) == (NOTHING, {"V1A.grid"})
    assert (right.changed.parts, right.changed.nets) == ({"R3"}, NOTHING)
    assert [(n, f.rule) for n, f in wrong.calls] == [(1, "grid.no-return")]
    assert right.calls == ()


def test_the_bleeder_on_the_wrong_side_of_the_switch() -> None:
    wrong, right = of_pair("supply.no-bleeder")
    assert wrong.changed.leads == right.changed.leads == {("R2", "a")}


@pytest.mark.parametrize("rule", ["grid.bypass-leaks-on-line", "capacitor.over-voltage"])
def test_what_only_differs_in_its_words_is_framed(rule: str) -> None:
    wrong, right = of_pair(rule)
    assert len(wrong.changed.parts) == 1
    assert wrong.changed == right.changed
    assert not wrong.changed.leads


def test_a_tube_renamed_is_no_change_and_another_type_is() -> None:
    text = (
        'drawing "x"\ntube V1 12AX7\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 100k]-- V1A.plate\n'
        "V1A.cathode --[R2 1k5]-- gnd\nV1A.grid --[R3 1M]-- gnd\n"
    )
    renamed = sides_of(text, text.replace("V1", "V7"))
    assert not renamed[1].changed.parts | renamed[1].changed.leads | renamed[1].changed.nets
    retyped = sides_of(text, text.replace("12AX7", "12AT7"))
    assert {"V1A", "V1B"} <= retyped[0].changed.parts


def test_the_state_and_its_volts_stand_in_both() -> None:
    wrong, right = of_pair("grid.no-return")
    assert wrong.picture.state == right.picture.state == "volts to gnd, warm"
