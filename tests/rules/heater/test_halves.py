"""Heaters in two halves of which one is not wired."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "heater.half-not-wired"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_twelve_volts_on_half_a_heater(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("V1", "V1:5", "V1:9")
    assert (found.level, found.state, found.certainty) == ("notice", "warm", "certain")
    assert "made for 6.3 V, has 12.6 V across it" in found.message
    assert found.remedy.startswith("Take what is on V1:9 to V1:5 and leave V1:9 open")
    assert found.evidence["half_rms"].value == pytest.approx(12.6, rel=1e-3)
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("V1:9 -- gnd", "V1:9 -- gnd\nV1:5 -- H1", False),  # side by side
        ("V1:9 -- gnd", "V1:5 -- gnd\nV1:9 --[R9 1k]-- gnd", False),  # all three
        ("H1 -- V1:4", "H1 -- V1:5", True),  # the other half
    ],
)
def test_which_ends_are_wired(
    written: str, instead: str, fires: bool, changed: Callable[[str, str, str, str], Review]
) -> None:
    assert bool(told(changed(RULE, "wrong", written, instead))) is fires


def test_the_remedy_goes_by_the_voltage(
    changed: Callable[[str, str, str, str], Review], only: Callable[..., object]
) -> None:
    """On 6.3 V one half is right, and the other belongs beside it; on 9 V both ways are told."""
    six = only(changed(RULE, "wrong", "12.6 V 1 A", "6.3 V 1 A"), RULE)
    assert six.remedy.startswith("Join V1:5 to V1:4")
    nine = only(changed(RULE, "wrong", "12.6 V 1 A", "9 V 1 A"), RULE)
    assert "; or join V1:5 to V1:4" in nine.remedy


@pytest.mark.parametrize(("second", "told"), [("", 1), ("V1:1 -- V1:7\n", 0)])
def test_half_a_filament_is_drawn_and_not_taken_for_hot(
    second: str, told: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """A DL92 lit between pin 1 and the middle: it once counted as not drawn at all."""
    text = "tube V1 DL92\nA --+[E1 1.4 V]-- gnd\nA -- V1:1\nV1:5 -- gnd\n" + second
    looked = review(
        text + "B1 --+[E2 67.5 V]-- gnd\nB1 -- V1.screen\nB1 --[R1 5k]-- V1.plate\n"
        "gnd --+[E3 7 V]-- C9 --[R2 1M]-- V1.grid\n"
    )
    found = only(looked, "heater.half-not-wired", count=told)
    assert not told or found.at == ("V1", "V1:7", "V1:5")
    assert "heater.wrong-voltage" not in {f.rule for f in looked.findings}
