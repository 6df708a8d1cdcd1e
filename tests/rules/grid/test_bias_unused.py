"""Bias supplies that no grid hangs on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "grid.bias-unused"

BIAS_SUPPLY = """transformer T1
    primary pri  230 V  20 ohm
    winding neg   30 V  50 mA  30 ohm
mains 230 V 50 Hz
line -- T1.pri.1
T1.pri.2 -- neutral
T1.neg.2 -- gnd
T1.neg.1 <-[D1 1N4007]-- NEG
NEG --[C1 47 uF 63 V]+-- gnd
NEG --[R9 10k]-- gnd
B1 --+[E1 250 V]-- gnd
output T2 5k : 8 ohm 200 ohm gapped 60 mA
tube V1 EL84
B1 --[R1 5k 10 W]-- V1.plate
B1 --[R2 1k 1 W]-- V1.screen
V1.cathode -- gnd
V1.grid --[R3 330k]-- {}
"""


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_leak_beside_the_back_bias(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """A 1C5GT at 90 V wants 7.5 V (its sheet, two recalls); half the filament's volts are 0.75."""
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("R2", "V1", "BM")
    assert (found.level, found.state, found.certainty) == ("notice", "warm", "likely")
    assert found.evidence["bias"].value == pytest.approx(0.764, rel=0.02)
    assert found.evidence["published"].value == pytest.approx(7.04, rel=0.02)
    assert found.evidence["line"].value == pytest.approx(-11.9, rel=0.05)
    assert found.remedy == "Take R2 to BM instead of gnd"
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("end", "expected"),
    [("gnd", [("R3", "V1", "NEG")]), ("NEG", [])],
)
def test_a_bias_supply(
    end: str, expected: list[tuple[str, ...]], review: Callable[[str], Review]
) -> None:
    assert told(review(BIAS_SUPPLY.format(end))) == expected


def test_a_line_that_another_tube_hangs_on_is_used(review: Callable[[str], Review]) -> None:
    """A tail to a negative supply: the tube on gnd has no bias, and no line is spare."""
    tail = "tube V2 12AX7\nV2A.cathode --[R8 47k]-- NEG\nV2A.grid -- gnd\nB1 -- V2A.plate\n"
    assert told(review(BIAS_SUPPLY.format("gnd") + tail)) == []


def test_a_cathode_resistor_is_bias_enough(review: Callable[[str], Review]) -> None:
    text = BIAS_SUPPLY.format("gnd").replace("V1.cathode -- gnd", "V1.cathode --[R4 150]-- gnd")
    assert told(review(text)) == []


@pytest.mark.parametrize("end", ["gnd", "A1", "C9"])
def test_a_bias_battery_with_nothing_on_its_minus(
    end: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """A 45 on dry batteries; its sheet has some 30 V of bias at 180 V."""
    looked = review(
        "B1 --+[E1 180 V battery]-- gnd\ngnd --+[E2 33 V battery]-- C9\n"
        "A1 --+[E3 2.5 V 5 A battery]-- gnd\ntube V1 45\nA1 -- V1.f1\ngnd -- V1.f2\n"
        "signal IN 15 V 1 kHz\nIN --[C1 100n 400 V]-- V1.grid\n"
        f"V1.grid --[R1 220k]-- {end}\noutput T2 4k : 8 ohm 200 ohm 20 H gapped 50 mA\n"
        "V1.plate -- T2.p1\nT2.p2 -- B1\nT2.s1 --[LS1 8 ohm 3 W]-- T2.s2\nT2.s2 -- gnd\n"
    )
    if end == "C9":
        assert told(looked) == []
        return
    found = only(looked, RULE)
    assert found.at == ("R1", "V1", "C9")
    assert found.remedy == f"Take R1 to C9 instead of {end}"
    rest = {f.rule for f in looked.findings if f.level != "advice"} - {"grid.leak-too-high"}
    assert rest == {RULE}
