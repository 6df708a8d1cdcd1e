"""The two loads of a split-load phase splitter, held against one another."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.split-load-unequal"


def told(looked: Review) -> list[tuple[str, tuple[str, ...]]]:
    return [(f.level, f.at) for f in looked.findings if f.rule == RULE]


def test_the_pair(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    """56 kohm over 1.5 + 5.6 kohm: 7.887 times."""
    found = only(sample(RULE, "wrong"), RULE)
    assert (found.at, found.state) == (("R4", "R2", "V1A"), "drawing")
    assert found.evidence["at the cathode"].value == pytest.approx(7.1e3)
    assert found.evidence["ratio"].value == pytest.approx(56 / 7.1)
    assert "R4 as large as R2, 56 kohm" in found.remedy


STAGE = """tube V1 6SN7GT
tube V2 6SN7GT
B1 --+[E1 300 V]-- gnd
signal IN 1 V 1 kHz
IN --[C1 100 nF 400 V film]-- V1A.grid --[R1 1M]-- {leak}
B1 --[R2 {upper} 2 W]-- V1A.plate --[C2 100 nF 400 V film]-- V2A.grid --[R5 330k]-- gnd
V1A.cathode --[R3 {bias}]-- LEG --[R4 {lower} 2 W]-- gnd
{taken} --[C3 100 nF 400 V film]-- V2B.grid --[R6 330k]-- gnd
V2A.cathode --[R7 1k5]-- gnd
V2B.cathode --[R8 1k5]-- gnd
B1 --[R9 47k]-- V2A.plate
B1 --[R10 47k]-- V2B.plate
"""


@pytest.mark.parametrize(
    ("upper", "bias", "lower", "taken", "found"),
    [
        ("56k", "1k5", "56k", "LEG", False),
        ("56k", "1k5", "47k", "V1A.cathode", False),  # 1.155 times
        ("56k", "1k5", "42k", "LEG", False),  # 1.287
        ("56k", "1k5", "41k", "LEG", True),  # 1.318
        ("41k", "1k5", "56k", "V1A.cathode", True),  # 1.402, the other way round
        ("5k6", "1k5", "56k", "LEG", True),
        ("100k", "1k5", "1k", "B1", False),  # only its plate gives a signal: a common stage
    ],
)
def test_either_load_may_be_the_small_one(
    upper: str, bias: str, lower: str, taken: str, found: bool, review: Callable[[str], Review]
) -> None:
    text = STAGE.format(leak="LEG", upper=upper, bias=bias, lower=lower, taken=taken)
    assert bool(told(review(text))) is found


@pytest.mark.parametrize(
    ("upper", "lower", "remedy"),
    [
        ("56k", "5k6", "Make them alike: R4 as large as R2, 56 kohm or so"),
        ("5k6", "56k", "Make them alike: R2 as large as R4, 56 kohm or so"),
    ],
)
def test_a_load_without_a_bias_resistor(
    upper: str, lower: str, remedy: str, review: Callable[[str], Review]
) -> None:
    text = STAGE.format(leak="gnd", upper=upper, bias="1k5", lower=lower, taken="V1A.cathode")
    looked = review(text.replace("--[R3 1k5]-- LEG --", "--"))
    (found,) = [f for f in looked.findings if f.rule == RULE]
    assert (found.at, found.remedy) == (("R4", "R2", "V1A"), remedy)
    assert found.evidence["ratio"].value == pytest.approx(10)


def test_a_long_tailed_pair_is_none(sample: Callable[[str, str], Review]) -> None:
    for side in ("wrong", "right"):
        assert told(sample("signal.second-grid-loose/tail", side)) == []
