"""Gas regulators side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.judge.finding import Blame

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "supply.regulators-paralleled"
TWO = """B1 --+[E1 300 V]-- gnd
tube V1 0A3
tube V2 0A3
B1 --[R1 6k8 15 W]-- REG
{wires}
"""


def test_two_tubes_side_by_side(sample: Callable[[str, str], Review]) -> None:
    (found,) = sample(RULE, "wrong").findings
    assert (found.rule, found.at, found.level) == (RULE, ("V1", "V2"), "notice")
    assert found.blame is Blame.SLIP
    assert found.remedy.startswith("Put them in series, V1.cathode to V2.plate")
    assert not sample(RULE, "right").findings


@pytest.mark.parametrize(
    ("wires", "fires"),
    [
        ("REG -- V1.plate\nREG -- V2.plate\nV1.cathode -- gnd\nV2.cathode -- gnd", True),
        ("REG -- V1.plate\nREG --[R2 1k]-- V2.plate\nV1.cathode -- gnd\nV2.cathode -- gnd", False),
        ("REG -- V1.plate\nV1.cathode -- V2.plate\nV2.cathode -- gnd", False),
    ],
)
def test_a_resistor_or_a_place_of_its_own(
    wires: str, fires: bool, review: Callable[[str], Review]
) -> None:
    looked = review(TWO.format(wires=wires))
    assert any(f.rule == RULE for f in looked.findings) is fires
