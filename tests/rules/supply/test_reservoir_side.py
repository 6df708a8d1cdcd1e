"""Chokes in the negative lead with every capacitor on one side of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "supply.reservoir-past-choke"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_field_with_both_capacitors_behind_it(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """The supply is 0.9 of the rms voltage less the drops (choke input), not some 1.2 times it."""
    wrong, right = sample(RULE, "wrong"), sample(RULE, "right")
    found = only(wrong, RULE)
    assert found.at == ("C1", "L1")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "likely")
    assert "C1 and C2 are in parallel behind L1" in found.message
    assert told(right) == []
    low, high = (r.solutions["warm"].waves[r.circuit.net("B1")].dc for r in (wrong, right))
    assert low < 0.9 * 250 < high


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("B1 --+[C1 4 uF 500 V]-- gnd", "", False),  # a choke input
        ("B1 --+[C1 4 uF 500 V]-- gnd", "B1 --[C1 100n 630 V film]-- gnd", False),
        ("B1 --+[C1 4 uF 500 V]-- gnd", "B1 --[R9 100 5 W]-- B2 --+[C1 4 uF 500 V]-- gnd", False),
        ("choke 10 H 600 ohm", "choke 0.1 H 600 ohm", False),
        ("T1.ht.1 -- V1.plate1", "T1.ht.1 -- V1.plate1\nB1 --+[C9 4 uF 500 V]-- TAP", False),
        ("T1.ht.1 -- V1.plate1", "T1.ht.1 -- V1.plate1\nTAP --[C9 100n 630 V film]-- gnd", True),
    ],
)
def test_which_capacitors_count(
    written: str, instead: str, fires: bool, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(RULE, "wrong").lines)
    assert written in text
    assert bool(told(review(text.replace(written, instead) + "\n"))) is fires


AHEAD = "supply.filter-ahead-of-choke"


def ahead(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == AHEAD]


def test_a_choke_input_turned_into_a_capacitor_input(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """The supply is near the peak of 250 V rms, and near 0.9 of them as it was meant."""
    wrong, right = sample(AHEAD, "wrong"), sample(AHEAD, "right")
    found = only(wrong, AHEAD)
    assert found.at == ("C1", "L1", "B1")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "likely")
    assert found.remedy == "Take C1 from RAW to B1, behind L1"
    assert ahead(right) == []
    high, low = (r.solutions["warm"].waves[r.circuit.net("B1")].dc for r in (wrong, right))
    assert found.evidence["behind"].value == pytest.approx(high)
    assert low < 0.9 * 250 < 1.05 * 250 < high


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("B1 --[R2 ", "B1 --+[C2 40 uF 600 V]-- gnd\nB1 --[R2 ", False),  # one behind it as well
        ("B1 --[R2 ", "B1 --[S1 switch 500 V 3 A]-- Z --+[C2 40 uF 600 V]-- gnd\nB1 --[R2 ", False),
        ("B1 --[R2 ", "B1 --[R9 1k 5 W]-- Z --+[C2 40 uF 600 V]-- gnd\nB1 --[R2 ", True),
        ("[L1 10 H", "[L1 0.3 H", False),
        ("RAW --+[C1 40 uF 600 V]", "RAW --[C1 100n 600 V film]", False),
        ("RAW --+[C1", "RAW --+[C3 40 uF 600 V]-- gnd\nRAW --+[C1", True),  # both ahead of it
    ],
)
def test_where_the_capacitors_are(
    written: str, instead: str, fires: bool, changed: Callable[[str, str, str, str], Review]
) -> None:
    assert bool(ahead(changed(AHEAD, "wrong", written, instead))) is fires


def test_two_chokes_with_nothing_between_them(
    changed: Callable[[str, str, str, str], Review],
) -> None:
    """C-L-L-C with the joint bare is told; a resistor that leads on to the next can is not."""
    load = "B1 --[R1 4k7 100 W 1000 V]-- gnd\nB1 --[R2 4k7 100 W 1000 V]-- gnd"
    behind = "Z --+[C2 40 uF 600 V]-- gnd\nZ --[R1 4k7 100 W 1000 V]-- gnd"
    second = f"B1 --[L2 10 H 80 ohm 150 mA]-- {behind}"
    assert ahead(changed(AHEAD, "wrong", load, second)) == [("C1", "L1", "B1")]
    assert not ahead(changed(AHEAD, "wrong", load, f"B1 --[R9 100 ohm 5 W]-- {behind}"))
