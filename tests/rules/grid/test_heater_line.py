"""Grid leaks on heater lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

STAGE = """mains 120 V 60 Hz
transformer T1
 primary pri 120 V 5 ohm
 winding warm 6.3 V ct 2 A 0.1 ohm
tube V1 {type} heater T1.warm
B1 --+[E1 250 V]-- gnd
B1 --[R8 220k 1 W]-- LIFT --[R9 15k]-- gnd
LIFT -- T1.warm.ct
V1A.cathode --[R2 1k5]-- gnd
B1 --[R3 100k]-- V1A.plate
{leak}
"""


@pytest.mark.parametrize(
    ("leak", "found"),
    [
        ("V1A.grid --[R6 470k]-- gnd", False),
        ("V1A.grid --[R6 470k]-- LIFT", True),
        ("V1A.grid --[R6 470k]-- T1.warm.1", True),
        ("V1A.grid --[R5 10k]-- X --[R6 470k]-- LIFT", True),
        ("V1A.grid --[R6 19k]-- LIFT", False),
        ("V1A.grid --[R6 21k]-- LIFT", True),
    ],
)
def test_where_the_leak_ends(leak: str, found: bool, review: Callable[[str], Review]) -> None:
    looked = review(STAGE.format(type="12AX7", leak=leak))
    assert looked.readable
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    hits = [f for f in looked.findings if f.rule == "grid.leak-on-heater-line"]
    assert [f.at for f in hits] == ([("V1A", "R6")] if found else [])
    assert all((f.level, f.certainty) == ("notice", "certain") for f in hits)
