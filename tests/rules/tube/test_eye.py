"""Tuning eyes whose target is behind their plate's resistor."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "tube.target-behind-resistor"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_target_on_the_plate(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """RCA's 6E5 at 250 V: 1 Mohm to the plate alone, 4 mA into the target (from memory)."""
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("V1.target", "V1", "R2")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert found.remedy == "Take V1.target to the supply, ahead of R2"
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("V1.target -- V1.plate", "V1.target --[R9 10k]-- B1", False),
        ("B1 --[R2 1M]-- V1.plate", "B1 -- V1.plate", False),
        ("B1 --[R2 1M]-- V1.plate", "B1 --[L1 1 mH 10 ohm]-- V1.plate", False),
        ("B1 --[R2 1M]-- V1.plate", "B1 --[R2 470k]-- V1.plate --[C9 10n 400 V]-- gnd", True),
    ],
)
def test_what_feeds_the_two(
    written: str, instead: str, fires: bool, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(RULE, "wrong").lines)
    assert written in text
    assert bool(told(review(text.replace(written, instead) + "\n"))) is fires


def test_a_sound_eye_leads_nowhere_on_purpose(
    sample: Callable[[str, str], Review], review: Callable[[str], Review]
) -> None:
    """Its plate steers the shadow inside the bulb, and nothing outside."""
    text = "\n".join(sample(RULE, "right").lines)
    found = review(f"{text}\nB1 --[R8 100k]-- OUT\n").findings
    assert not [f for f in found if f.rule == "signal.stage-leads-nowhere"]


PLATE = "tube.eye-plate-undropped"


def test_a_plate_on_the_supply(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """RCA's 6E5 at 250 V has 1 Mohm to its plate (from memory)."""
    found = only(sample(PLATE, "wrong"), PLATE)
    assert found.at == ("V1.plate", "V1")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert found.remedy == "Put 470 kohm to 1 Mohm between V1.target and V1.plate"
    assert not [f for f in sample(PLATE, "right").findings if f.rule == PLATE]


@pytest.mark.parametrize(
    ("plate", "fires"),
    [
        ("B1 -- V1.plate", True),
        ("V1.target -- V1.plate", True),
        ("V1.plate --[R2 470k]-- V1.target", False),
        ("V1.plate --[R2 470k]-- gnd", False),
    ],
)
def test_what_is_between_plate_and_target(
    plate: str, fires: bool, sample: Callable[[str, str], Review], review: Callable[[str], Review]
) -> None:
    text = "\n".join(sample(PLATE, "wrong").lines).replace("B1 -- V1.plate", plate)
    assert bool([f for f in review(text + "\n").findings if f.rule == PLATE]) is fires


@pytest.mark.parametrize(("ohms", "fires"), [("1M", True), ("220k", True), ("100k", False)])
def test_a_plate_on_the_supply_and_its_resistor_at_the_target(
    ohms: str, fires: bool, review: Callable[[str], Review]
) -> None:
    text = (
        "tube V1 6E5\nB1 --+[E1 250 V]-- gnd\nB1 -- V1.plate\nV1.cathode -- gnd\n"
        f"B1 --[R1 {ohms}]-- V1.target\nV1.grid --[R2 1M]-- gnd\n"
    )
    found = [f for f in review(text).findings if f.rule == "tube.target-behind-resistor"]
    assert [f.remedy for f in found] == (["Exchange V1.plate and V1.target"] if fires else [])
