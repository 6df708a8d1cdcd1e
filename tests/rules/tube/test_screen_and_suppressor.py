"""Screen and suppressor taken for one another."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "tube.screen-and-suppressor-exchanged"
STAGE = """B1 --+[E1 250 V]-- gnd
tube V1 EF86
V1.grid --[R1 1M]-- gnd
V1.cathode --[R2 2k2]-- gnd
B1 --[R4 220k 0.5 W]-- V1.plate
V1.screen {screen}
V1.suppressor {suppressor}
"""


def test_pins_one_and_eight(sample: Callable[[str, str], Review]) -> None:
    (found,) = sample(RULE, "wrong").findings
    assert (found.rule, found.level) == (RULE, "notice")
    assert found.at == ("V1", "V1.screen", "V1.suppressor")
    assert found.remedy == "Exchange V1.screen and V1.suppressor"
    assert not sample(RULE, "right").findings


@pytest.mark.parametrize(
    ("screen", "suppressor", "fires"),
    [
        ("-- V1.cathode", "--[R3 1M]-- B1", True),
        ("-- gnd", "--[R3 1M]-- B1", True),
        ("-- V1.plate", "-- V1.cathode", False),
        ("-- V1.cathode", "-- gnd", False),
        ("--[R3 1M]-- B1", "-- V1.cathode", False),
    ],
)
def test_what_each_is_wired_to(
    screen: str, suppressor: str, fires: bool, review: Callable[[str], Review]
) -> None:
    looked = review(STAGE.format(screen=screen, suppressor=suppressor))
    assert any(f.rule == RULE for f in looked.findings) is fires
