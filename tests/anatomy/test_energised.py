"""Loops with a source in them, found by the wiring alone."""

from __future__ import annotations

import pytest
from tests.anatomy.oscillating import circuit

from coldcheck.anatomy.energised import energised

SET = """mains 120 V 60 Hz
transformer T1
    primary pri   120 V  4 ohm
    winding ht    120 V  60 mA  150 ohm
line --[S1 switch]-- T1.pri.1
T1.pri.2 -- neutral
T1.ht.1 --[R1 1k]-- A --[R2 1k]-- T1.ht.2
A --[R3 1k]-- B
X --[R4 1k]-- Y --[R5 1k]-- X
T1.ht.2 -- gnd
"""


@pytest.mark.parametrize(
    ("text", "opened", "lit"),
    [
        # R3 hangs on one end, R4 and R5 are a loop without a source.
        (SET, (), {"R1", "R2"}),
        # Two parts in parallel stay two, and a loop is closed by a source beside one part.
        (SET + "X --+[E1 9 V]-- Y\n", (), {"R1", "R2", "R4", "R5"}),
        # What a transformer gives ends where nothing comes to its primary.
        (SET, ("S1",), set()),
        (SET.replace("T1.pri.2 -- neutral", "T1.pri.2 -- earth"), (), {"R1", "R2"}),
        (SET.replace("T1.pri.2 -- neutral\n", ""), (), set()),
    ],
)
def test_what_lies_in_a_loop_with_a_source(
    text: str, opened: tuple[str, ...], lit: set[str]
) -> None:
    found = energised(circuit(text), opened)
    assert {name for name in found if name.startswith("R")} == lit
