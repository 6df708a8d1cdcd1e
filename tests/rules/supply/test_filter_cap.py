"""Filter capacitors across what they should follow."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "supply.filter-bridged"
LINE = """B0 --+[E1 250 V]-- gnd
B0 --[R1 2k2 2 W]-- B1
B0 --+[C1 22 uF 400 V]-- gnd
B0 --+[C2 22 uF 400 V]-- B1
B1 --[R2 47k 2 W]-- gnd
B0 --[R4 100k 2 W]-- gnd
{more}
"""


@pytest.mark.parametrize(
    ("more", "fires"),
    [
        ("", True),
        # A cathode, which the capacitor bypasses to the point that holds it.
        ("tube V1 12AU7\nV1A.cathode -- B1\nV1A.grid -- B1\nB0 -- V1A.plate", False),
        # What steers a follower.
        ("transistor Q1 IRF820 heatsink 5 K/W\nQ1.gate -- B1\nB0 -- Q1.drain\nQ1.source -- OUT\n"
         "OUT --[R3 10k 10 W]-- gnd", False),
    ],
)  # fmt: skip
def test_a_capacitor_at_what_it_holds_is_in_its_place(
    more: str, fires: bool, review: Callable[[str], Review]
) -> None:
    looked = review(LINE.format(more=more))
    assert looked.readable
    assert any(f.rule == RULE for f in looked.findings) is fires
