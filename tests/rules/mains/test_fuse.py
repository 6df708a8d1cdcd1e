"""The size of a mains fuse and what a shorted winding drives through it, at each limit."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from coldcheck.rules.mains.fuse import fitting_fuse

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
SET = """mains 120 V 60 Hz
transformer T1
    primary pri 120 V 30 ohm
    winding {winding}
line --[F1 {fuse} slow]-- T1.pri.1
T1.pri.2 -- neutral
earth -- chassis
chassis -- gnd
T1.w.1 -- gnd
"""


def too_large(review: Callable[[str], Review], winding: str, fuse: str) -> list[Finding]:
    looked = review(SET.format(winding=winding, fuse=fuse))
    return [f for f in looked.findings if f.rule == "mains.fuse-too-large"]


@pytest.mark.parametrize(
    ("fuse", "level"),
    [
        ("0.48 A", None),  # left alone up to 0.5 A, though 0.4 A is the largest that fits
        ("0.52 A", "advice"),
        ("0.77 A", "advice"),  # 1.93 times 0.4 A
        ("0.83 A", "caution"),  # 2.08 times
        ("3.1 A", "caution"),  # 7.75 times
        ("3.3 A", "warning"),  # 8.25 times
    ],
)
def test_how_far_too_large(fuse: str, level: str | None, review: Callable[[str], Review]) -> None:
    """20 VA at 120 V is 167 mA, twice that 0.33 A."""
    found = too_large(review, "w 10 V 2 A", fuse)
    assert [f.level for f in found] == ([] if level is None else [level])


@pytest.mark.parametrize(("half", "volt_amperes"), [(14.5, 87.0), (15.5, 46.5)])
def test_halves_of_a_winding_work_in_turn_above_30_volts(
    half: float, volt_amperes: float, review: Callable[[str], Review]
) -> None:
    (found,) = too_large(review, f"w {half} V ct {half} V 3 A", "10 A")
    assert found.evidence["primary"].value == pytest.approx(volt_amperes / 120)


def test_above_the_largest_standard_fuse_it_is_the_largest() -> None:
    assert (fitting_fuse(6.0), fitting_fuse(8.0)) == (10.0, 10.0)


@pytest.mark.parametrize(
    ("primary", "winding", "level"),
    [
        # 120 V over 8 ohm and as much again: 7.5 A, 1.5 times 5 A.
        ("8 ohm", "6.3 V 3 A", "warning"),
        # 4.3 ohm twice: 13.95 A, 2.79 times; 4.5 ohm twice: 13.33 A, 2.67 times.
        ("4.3 ohm", "6.3 V 3 A", "advice"),
        ("4.5 ohm", "6.3 V 3 A", "warning"),
        # 20 mohm at 6.3 V are 7.26 ohm seen from 120 V: 10.9 A with 3.75 ohm; 5 mohm: 21.5 A.
        ("3.75 ohm", "6.3 V 3 A 20 mohm", "warning"),
        ("3.75 ohm", "6.3 V 3 A 5 mohm", "advice"),
        ("", "6.3 V 3 A", "warning"),
    ],
)
def test_a_fuse_that_a_shorted_winding_opens_is_advice(
    primary: str, winding: str, level: str, review: Callable[[str], Review]
) -> None:
    text = (PAIRS / "mains.fuse-too-large" / "wrong.tube").read_text("utf-8")
    text = text.replace("120 V  8 ohm", f"120 V  {primary}").replace("6.3 V  3 A\n", f"{winding}\n")
    found = [f.level for f in review(text).findings if f.rule == "mains.fuse-too-large"]
    assert found == [level]
