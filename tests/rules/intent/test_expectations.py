"""Expectations against predictions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

DIVIDER = "B1 --+[E1 300 V]-- gnd\nB1 --[R1 10k 10 W]-- B2 --[R2 20k 10 W]-- gnd\n"  # B2: 200 V


@pytest.mark.parametrize(
    ("expected", "met"),
    [
        ("= 200 V within 1 %", True),
        ("= 210 V within 5 %", True),
        ("= 212 V within 5 %", False),
        ("= 190 V within 5 %", False),
        ("above 199 V", True),
        ("above 201 V", False),
        ("below 201 V", True),
        ("below 199 V", False),
        ("between 150 V and 250 V", True),
        ("between 210 V and 250 V", False),
        ("between 100 V and 190 V", False),
    ],
)
def test_bounds(expected: str, met: bool, review: Callable[[str], Review]) -> None:
    looked = review(DIVIDER + f"expect B2 {expected}\n")
    found = [f for f in looked.findings if f.rule == "intent.not-met"]
    assert bool(found) is not met
    for f in found:
        assert (f.level, f.state, f.at, f.span.line) == ("notice", "warm", ("B2",), 3)
        assert f.evidence["predicted_dc"].value == pytest.approx(200, rel=1e-5)
        assert f.excess > 1
        assert expected in f.message


def test_a_named_state(review: Callable[[str], Review], only: Callable[..., object]) -> None:
    text = DIVIDER + (
        "tube V1 6C4\nB2 --[R3 10k]-- V1.plate\nV1.grid --[R4 1M]-- gnd\n"
        "V1.cathode --[R5 1k]-- gnd\nexpect V1.plate = 200 V within 1 % in cold\n"
        "expect V1.plate = 200 V within 1 %\n"
    )
    found = only(review(text), "intent.not-met")
    assert (found.state, found.span.line) == ("warm", 8)


def test_a_state_that_does_not_exist_is_not_judged(review: Callable[[str], Review]) -> None:
    looked = review(DIVIDER + "expect B2 = 200 V within 1 % in standby S9\n")
    (said,) = [n for n in looked.not_judged if n.rule == "intent.not-met"]
    assert "standby S9" in said.reason
    assert "warm" in said.reason


def test_a_floating_point_is_not_judged(review: Callable[[str], Review]) -> None:
    looked = review(
        DIVIDER + "B2 --[C1 100 nF 400 V]-- X --[C2 100 nF 400 V]-- gnd\n"
        "expect X = 5 V within 1 V\n"
    )
    (said,) = [n for n in looked.not_judged if n.rule == "intent.not-met"]
    assert said.at == ("X",)


def test_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("intent.not-met", "wrong"), "intent.not-met")
    assert found.evidence["predicted_dc"].value == pytest.approx(290 * 47 / 267, rel=1e-4)
    assert (found.evidence["lowest"].value, found.evidence["highest"].value) == pytest.approx(
        (190, 210)
    )
