"""The rating of an output tube's cathode bypass, on both sides of twice its voltage."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

OUTPUT = """tube V1 6V6GT
B1 --+[E1 250 V]-- gnd
G --+[E2 25 V]-- gnd
V1.grid --[R1 330k]-- G
V1.cathode --[R2 820 ohm 5 W]-- gnd
V1.cathode --+[C1 25 uF {rated:.5g} V]-- gnd
B1 --[R3 470 ohm 2 W]-- V1.screen
B1 --[L1 10 H 100 ohm]-- V1.plate
"""


@pytest.mark.parametrize(("times", "found"), [(1.95, 1), (2.05, 0)])
def test_twice_the_cathodes_voltage(
    times: float, found: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    cathode = review(OUTPUT.format(rated=100)).solutions["warm"].wave("V1.cathode").dc
    assert 2 * cathode > 50
    looked = review(OUTPUT.format(rated=times * cathode))
    only(looked, "capacitor.cathode-bypass-underrated", count=found)
