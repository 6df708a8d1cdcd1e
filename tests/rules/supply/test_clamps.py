"""Diodes side by side that were to conduct one each way."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "supply.clamp-diodes-alike"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_meters_two_diodes(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("D1", "D2", "M1")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "likely")
    assert "D1 and D2 conduct the same way across M1" in found.message
    assert found.remedy.startswith("Turn D1 round")
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("P --[D2 1N4148]-> gnd", "gnd --[D2 1N4148]-> P", False),  # one each way
        ("P --[D2 1N4148]-> gnd", "P --[D2 1N4148]-> Q --[R2 1k]-- gnd", False),  # not side by side
        (
            "P --[D2 1N4148]-> gnd",
            "P --[D2 1N4148]-> gnd\ngnd --[D3 1N4148]-> P",
            False,
        ),  # a third, the other way
    ],
)
def test_which_pairs_count(
    written: str, instead: str, fires: bool, changed: Callable[[str, str, str, str], Review]
) -> None:
    assert bool(told(changed(RULE, "wrong", written, instead))) is fires


def test_rectifiers_in_parallel_are_left_alone(review: Callable[[str], Review]) -> None:
    text = (
        "mains 120 V 60 Hz\ntransformer T1\n    primary pri 120 V 5 ohm\n"
        "    winding ht 100 V 1 A 5 ohm\nT1.ht.2 -- gnd\nT1.ht.1 --[D1 1N4007]-> B\n"
        "T1.ht.1 --[D2 1N4007]-> B\nB --+[C1 47 uF 250 V]-- gnd\nB --[R1 1k 50 W]-- gnd\n"
    )
    assert told(review(text)) == []
