"""Divided voltages that nothing uses."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

UNUSED = "supply.divider-unused"
DIVIDER = """B1 --+[E1 250 V]-- gnd
B1 --[R1 {upper} 1 W]-- LIFT --[R2 47k]-- gnd
LIFT --+[C1 10 uF 100 V]-- gnd
"""


def test_heaters_that_were_to_be_lifted(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """250 V over 220 and 47 kohm are 44.0 V."""
    found = only(sample(UNUSED, "wrong"), UNUSED)
    assert (found.at, found.state, found.level) == (("LIFT", "R1", "R2", "C1"), "drawing", "notice")
    assert found.message == "LIFT, 44 V warm, is made by R1, R2 and C1, and nothing hangs on it"
    assert not [f for f in sample(UNUSED, "right").findings if f.rule == UNUSED]


@pytest.mark.parametrize(
    ("upper", "more", "fires"),
    [
        ("220k", "", True),
        ("48k", "", True),
        ("46k", "", False),  # a feed with its load
        ("220k", "tube V1 6C4\nLIFT --[R3 1M]-- V1.grid", False),
        ("220k", "LIFT -- HEAT", False),
        ("220k", "LIFT --[C9 10 nF 400 V]-- OUT", False),
    ],
)
def test_what_hangs_on_it_uses_it(
    upper: str, more: str, fires: bool, review: Callable[[str], Review]
) -> None:
    looked = review(DIVIDER.format(upper=upper) + more + "\n")
    assert any(f.rule == UNUSED for f in looked.findings) is fires
