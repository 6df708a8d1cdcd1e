"""Transformers for signals with a plate on their low winding."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "output.windings-exchanged"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_plate_on_the_winding_of_the_line(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """15 kohm over 600 ohm: 25 times."""
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("T1", "T1.low", "T1.high", "V1")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert found.evidence["times"].value == pytest.approx(25)
    assert found.excess == pytest.approx(1000 / 600)
    assert found.remedy == "Exchange T1.low and T1.high"
    assert told(sample(RULE, "right")) == []


def test_a_grid_on_the_winding_of_the_microphone(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """40 kohm over 150 ohm: 267 times."""
    found = only(sample(f"{RULE}/microphone", "wrong"), RULE)
    assert found.at == ("T1", "T1.low", "T1.high", "V1")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert found.evidence["times"].value == pytest.approx(40e3 / 150)
    assert found.remedy == "Exchange T1.low and T1.high"
    assert told(sample(f"{RULE}/microphone", "right")) == []


def test_what_a_plate_drives_is_stepped_down_on_purpose(
    sample: Callable[[str, str], Review], review: Callable[[str], Review]
) -> None:
    text = "\n".join(sample(f"{RULE}/microphone", "wrong").lines) + "\n"
    driven = text.replace("J1.tip -- T1.high.1", "V2.plate -- T1.high.1").replace(
        "tube V1 6AU6", "tube V1 6AU6\ntube V2 6C4"
    )
    assert told(review(driven + "V2.cathode -- gnd\n")) == []


@pytest.mark.parametrize(
    ("changes", "at"),
    [
        # a spring's driver: 8 ohm
        ({"impedance 600 45 ohm": "impedance 8 1 ohm"}, ("T1", "T1.low", "T1.high", "V1")),
        # fed beside the transformer
        ({"V1.plate -- T1.low.1\nT1.low.2 -- B1":
          "B1 --[R4 15k 2 W]-- V1.plate --[C3 1 uF 400 V]-- T1.low.1\nT1.low.2 -- gnd"},
         ("T1", "T1.low", "T1.high", "V1")),
        # two plates
        ({"tube V1 6C4": "tube V1 6C4\ntube V2 6C4", "V1.plate -- T1.low.1":
          "V1.plate -- V2.plate -- T1.low.1\nV2.grid -- V1.grid\nV2.cathode -- V1.cathode"},
         ("T1", "T1.low", "T1.high", "V1", "V2")),
        # the low winding is in a cathode: the supply it is on is no plate's load
        ({"V1.plate -- T1.low.1\nT1.low.2 -- B1": "V1.plate -- B1 -- T1.low.1",
          "V1.cathode --[R2 1k]-- gnd": "V1.cathode --[R2 1k]-- T1.low.2"}, None),
        # nothing is made for a plate
        ({"impedance 15k": "impedance 600"}, None),
        # another plate is on the high one: the low one takes something back
        ({"T1.high.2 -- gnd": "T1.high.2 -- V2.plate\nV2.cathode -- gnd",
          "tube V1 6C4": "tube V1 6C4\ntube V2 6C4"}, None),
        # by turns alone
        ({"impedance 15k 60 H": "5000 turns 60 H", "impedance 600": "1000 turns"}, None),
    ],
)  # fmt: skip
def test_where_a_plate_is(
    changes: dict[str, str], at: tuple[str, ...] | None, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(RULE, "wrong").lines) + "\n"
    for old, new in changes.items():
        assert old in text, old
        text = text.replace(old, new)
    assert told(review(text)) == ([] if at is None else [at])
