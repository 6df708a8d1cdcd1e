"""Third grids, and shield grids of thyratrons, that hang in the air."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

THYRATRON = """tube V1 2D21
B1 --+[E1 150 V]-- gnd
B1 --[R1 2k2 20 W]-- V1.plate
V1.cathode -- gnd
V1.grid --[R2 100k]-- BIAS --[E2 6 V]+-- gnd
{shield}
"""


@pytest.mark.parametrize(
    ("shield", "fires"),
    [("", True), ("V1.grid2 -- gnd", False), ("V1.grid2 --[R3 1k]-- gnd", False)],
)
def test_the_shield_grid_of_a_thyratron(
    shield: str, fires: bool, review: Callable[[str], Review]
) -> None:
    looked = review(THYRATRON.format(shield=shield))
    found = [f.at for f in looked.findings if f.rule == "tube.suppressor-floating"]
    assert found == ([("V1", "V1.grid2")] if fires else [])
