"""Electrolytics that a detector's diodes charge the wrong way round."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "capacitor.reversed-on-detector"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_across_two_diodes(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """D1 gives its current to UP, D2 draws its own from DOWN: UP is the positive side."""
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("C6", "D1", "D2")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert found.remedy == "Turn C6 round: its + to the side of the diode's cathode"
    assert told(sample(RULE, "right")) == []


RATIO = """tube V1 6AL5
transformer RD
    winding pri 10 uH 1 ohm
    winding sec 10 uH ct 1 ohm
signal IN 1 V 10 MHz
IN -- RD.pri.1
RD.pri.2 -- gnd
{diodes}
RD.sec.ct --[R3 47k]-- gnd
KA --[R1 10k]-- gnd
KB --[R2 10k]-- gnd
{capacitor}
"""
RATIO_DIODES = "RD.sec.1 -- V1A.plate\nV1A.cathode -- KA\nRD.sec.2 -- V1B.cathode\nV1B.plate -- KB"
DISCRIMINATOR = "RD.sec.1 -- V1A.plate\nV1A.cathode -- KA\nRD.sec.2 -- V1B.plate\nV1B.cathode -- KB"


@pytest.mark.parametrize(
    ("diodes", "capacitor", "at"),
    [
        (RATIO_DIODES, "KB --+[C1 4.7 uF 50 V]-- KA", [("C1", "V1A", "V1B")]),
        (RATIO_DIODES, "KA --+[C1 4.7 uF 50 V]-- KB", []),
        (RATIO_DIODES, "gnd --+[C1 4.7 uF 50 V]-- KA", [("C1", "V1A")]),
        (RATIO_DIODES, "gnd --+[C1 4.7 uF 50 V]-- KB", []),
        (RATIO_DIODES, "KB --+[C1 4.7 uF 50 V]-- gnd", [("C1", "V1B")]),
        (RATIO_DIODES, "KB --[C1 4.7 uF 50 V]-- KA", []),  # no + drawn
        (DISCRIMINATOR, "KB --+[C1 4.7 uF 50 V]-- KA", []),  # either way, by turns
        (
            RATIO_DIODES,
            "KB --+[C1 4.7 uF 50 V]-- KA\nKB --[R4 10k]-- B1 --+[E1 100 V]-- gnd",
            [],
        ),  # a supply holds it, and capacitor.reversed knows how far
    ],
)
def test_which_way_diodes_charge(
    diodes: str, capacitor: str, at: list[object], review: Callable[[str], Review]
) -> None:
    """Positive where a cathode is, negative where a plate is (arithmetic)."""
    assert told(review(RATIO.format(diodes=diodes, capacitor=capacitor))) == at
