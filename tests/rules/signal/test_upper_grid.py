"""The upper grid of a cascode: held by a capacitor, or by nothing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
RULE = "signal.upper-grid-loose"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_divider_without_its_capacitor(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert (found.at, found.level) == (("V1B.grid", "V1B", "R3", "R4"), "notice")
    assert found.evidence["least resistor"].value == pytest.approx(180e3)
    assert found.excess == pytest.approx(180 / 47)
    assert found.remedy.startswith("Put 100 nF")
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("old", "new", "fires"),
    [
        ("GU --[R5 470 ohm]-- V1B.grid", "GU -- V1B.grid", True),
        ("V1A.plate -- V1B.cathode", "V1A.plate --[L1 0.3 uH]-- V1B.cathode", True),
        ("GU --[R4 180k 0.5 W]-- gnd", "GU --[R4 46k 0.5 W]-- gnd", False),
        ("IN -- V1A.grid", "V1A.grid -- gnd", False),  # nothing drives it: no cascode
        ("B1 --[R6 47k 1 W]-- V1B.plate", "B1 -- V1B.plate", False),  # a follower on a tail
        (
            "V1A.plate -- V1B.cathode",
            "V1A.plate -- V1B.cathode\nV1B.cathode --[C9 100n 400 V]-- OUT2 --[R9 1M]-- gnd",
            False,
        ),
    ],
)
def test_what_is_a_cascode(
    old: str, new: str, fires: bool, review: Callable[[str], Review]
) -> None:
    text = (PAIRS / RULE / "wrong.tube").read_text("utf-8")
    assert old in text
    assert bool(told(review(text.replace(old, new)))) is fires
