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
