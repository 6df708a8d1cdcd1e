"""Screens at full drive: how sure it is, and whose business a screen without a resistor is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tests.rules.conftest import PAIRS

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.screen-overload"
WRONG = (PAIRS / RULE / "wrong.tube").read_text("utf-8")


@pytest.mark.parametrize(
    ("volts", "excess", "sure"),
    # The estimate is within 30 % of makers' figures: 1.43 times the limit is surely beyond it.
    [(300, 1.34, "likely"), (310, 1.46, "certain")],
)
def test_thirty_percent_to_either_side(
    volts: int,
    excess: float,
    sure: str,
    review: Callable[[str], Review],
    only: Callable[..., object],
) -> None:
    found = only(review(WRONG.replace("300 V", f"{volts} V")), RULE)
    assert found.excess == pytest.approx(excess, abs=0.01)
    assert found.certainty == sure


def test_a_screen_straight_on_the_supply_is_another_rules(review: Callable[[str], Review]) -> None:
    text = WRONG
    for resistor in ("R6", "R7"):
        assert text.count(f"[{resistor} 100 ohm 0.5 W]") == 1
        text = text.replace(f"--[{resistor} 100 ohm 0.5 W]--", "--")
    found = {f.rule: f.evidence.get("explains", "") for f in review(text).findings}
    assert RULE not in found
    assert RULE not in found["output.no-screen-resistor"]
