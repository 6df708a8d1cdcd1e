"""Capacitors across an input."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.input-shunted"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_thousand_times_too_much(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("C1", "IN")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "likely")
    assert "C1 (47 nF) lies across the input at IN" in found.message
    assert found.remedy.startswith("Look at the original again: 47 pF would suit")
    assert found.evidence["corner"].value == pytest.approx(
        1 / (2 * 3.14159 * 1e6 * 47e-9), rel=1e-3
    )
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("C1 47n", "C1 1n", False),  # against radio
        ("R1 1M", "R1 600", False),  # a line of low resistance
        (
            "J1.tip --[C1 47n 100 V]-- gnd",
            "V1A.grid --[C1 47n 100 V]-- gnd",
            False,
        ),  # behind a resistor
        (
            "J1.tip --[C1 47n 100 V]-- gnd",
            "J1.tip --[S1 switch]--[C1 47n 100 V]-- gnd",
            False,
        ),  # behind a contact
        ("20 mV 1 kHz", "20 mV 455 kHz", False),  # no audio
    ],
)
def test_which_capacitors_count(
    written: str, instead: str, fires: bool, changed: Callable[[str, str, str, str], Review]
) -> None:
    assert bool(told(changed(RULE, "wrong", written, instead))) is fires
