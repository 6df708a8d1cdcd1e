"""Lamps on the mains whose switch is in the neutral."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "mains.lamp-switched-in-neutral"
LAMP = "mains 230 V 50 Hz\nline --[F1 fuse 1 A slow 250 V]-- L\nearth -- chassis -- gnd\n"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_relay_in_the_neutral_of_a_lamp(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("K1", "DS1", "neutral")
    assert (found.level, found.state, found.certainty) == ("warning", "drawing", "certain")
    assert found.remedy.startswith("Wire K1 between the line's fuse and DS1")
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("wires", "expected"),
    [
        ("L --[DS1 lamp 230 V 40 W]-- A --[S1 switch]-- neutral", [("S1", "DS1", "neutral")]),
        ("L --[S1 switch]-- A --[DS1 lamp 230 V 40 W]-- neutral", []),
        ("switch S1 dpst\nL -- S1.a.common\nS1.a.1 --[DS1 lamp 230 V 40 W]-- S1.b.common\n"
         "S1.b.1 -- neutral", []),
        ("L --[S2 switch]-- A --[DS1 lamp 230 V 40 W]-- B --[S1 switch]-- neutral",
         [("S1", "DS1", "neutral")]),
        ("L --[DS1 lamp 150 V 40 W]-- A --[S1 switch]-- neutral", []),
        ("L --[DS1 lamp 170 V 40 W]-- A --[S1 switch]-- neutral", [("S1", "DS1", "neutral")]),
    ],
    ids=["neutral", "line", "both leads", "a switch ahead", "for less", "for nearly so much"],
)  # fmt: skip
def test_which_lead_the_switch_breaks(
    wires: str, expected: list[tuple[str, ...]], review: Callable[[str], Review]
) -> None:
    """A lamp for less than 0.7 of the mains is no lamp for the mains: 161 V of 230."""
    assert told(review(LAMP + wires + "\n")) == expected
