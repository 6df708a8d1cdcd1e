"""Capacitors that empty through a thyratron with nothing in the way."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "tube.discharge-unlimited"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_time_base(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    """RCA's 884 and 885: 300 mA peak (from memory)."""
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("V1", "C1")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert found.evidence["capacitance"].value == pytest.approx(22e-9)
    assert found.excess == pytest.approx(44)
    assert "type 885 is rated 300 mA peak" in found.message
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("written", "instead", "at"),
    [
        ("SAW -- V1.plate", "SAW --[L9 100 uH 2 ohm]-- V1.plate", []),
        (
            "SAW --[C1 22n 400 V]-- V1.cathode",
            "switch S1 spdt at 1\nS1.common -- SAW\nS1.1 --[C1 22n 400 V]-- V1.cathode\n"
            "S1.2 --[C9 2.2n 400 V]-- V1.cathode",
            [("V1", "C1", "C9")],
        ),
        # to gnd, from where C2 leads on to the cathode
        ("SAW --[C1 22n 400 V]-- V1.cathode", "SAW --[C1 22n 400 V]-- gnd", [("V1", "C1")]),
        ("SAW --[C1 22n 400 V]-- V1.cathode", "SAW --[C1 22n 400 V]-- B1", []),
        ("SAW --[C1 22n 400 V]-- V1.cathode", "SAW --[C1 22n 400 V]-- X --[R9 100]-- gnd", []),
    ],
)
def test_what_is_in_the_way(
    written: str, instead: str, at: list[object], sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(RULE, "wrong").lines)
    assert written in text
    assert told(review(text.replace(written, instead) + "\n")) == at
