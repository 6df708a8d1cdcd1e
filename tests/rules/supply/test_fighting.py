"""DC sources in contradiction, by Kirchhoff's voltage law."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "supply.sources-opposed"


@pytest.mark.parametrize(
    ("text", "at", "left", "state"),
    [
        ("A --+[E1 300 V]-- gnd\nA --[S1 switch]-- gnd\n", ("E1", "S1"), 300, "drawing"),
        ("A --+[E1 300 V]-- gnd\nA --[S1 switch open]-- gnd\n", ("E1", "S1"), 300, "S1 thrown"),
        ("A --+[E1 300 V]-- gnd\nA --[D1 1N4007]-> gnd\n", ("E1", "D1"), 300, "drawing"),
        ("A --+[E1 300 V]-- gnd\nA --+[E2 200 V]-- gnd\n", ("E1", "E2"), 100, "drawing"),
        ("A --+[E1 300 V]-- gnd\ngnd --+[E2 300 V]-- A\n", ("E1", "E2"), 600, "drawing"),
        (
            "A --+[E1 300 V]-- gnd\nB --+[E2 200 V]-- gnd\nA --[F1 1 A]-- B\n",
            ("E1", "E2"),
            100,
            "drawing",
        ),
        # 100 V and 150 V in series beside 300 V: 50 V are left.
        (
            "A --+[E1 100 V]-- gnd\nB --+[E2 150 V]-- A\nB --+[E3 300 V]-- gnd\n",
            ("E1", "E2", "E3"),
            50,
            "drawing",
        ),
        (
            "transformer T1\nprimary pri 120 V 8 ohm\nwinding warm 6.3 V 3 A\n"
            "T1.warm.1 --+[E1 6 V]-- T1.warm.2\n",
            ("E1", "T1.warm"),
            6,
            "drawing",
        ),
    ],
)
def test_what_is_left_over(
    text: str, at: tuple[str, ...], left: float, state: str, review: Callable[[str], Review]
) -> None:
    found = [f for f in review(text).findings if f.rule == RULE]
    (one,) = found
    assert (set(one.at), one.state, one.level) == (set(at), state, "notice")
    assert one.evidence["left_over"].value == pytest.approx(left)


@pytest.mark.parametrize(
    "text",
    [
        "A --+[E1 300 V]-- gnd\nA --+[E2 300 V]-- gnd\n",
        "A --+[E1 100 V]-- gnd\nB --+[E2 200 V]-- A\nB --+[E3 300 V]-- gnd\n",
        "A --+[E1 300 V]-- gnd\nA --[R1 1 ohm]-- B\nB --+[E2 200 V]-- gnd\n",
        "A --+[E1 300 V]-- gnd\nA <-[D1 1N4007]-- gnd\n",
        "A --+[E1 300 V]-- gnd\nA --+[E2 ?]-- gnd\n",
    ],
)
def test_sources_that_agree_or_have_something_between_them(
    text: str, review: Callable[[str], Review]
) -> None:
    assert RULE not in {f.rule for f in review(text).findings}
