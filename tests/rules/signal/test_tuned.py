"""Cans whose coils, or that of the next one, resonate far from one another."""

from __future__ import annotations

from math import pi, sqrt
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.can-detuned"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_capacitor_a_decade_too_small(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """Thomson's formula: 850 uH and 150 pF are 445.7 kHz, and 30 pF (15 and the trimmer) 996.7.

    At least apart: 50 pF (20 of strays) of one against 150 pF of the other, sqrt(3) times.
    """
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("C4", "C5", "TC1", "IF1.pri", "IF1.sec")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert found.evidence["resonance"].value == pytest.approx(445.7e3, rel=1e-3)
    assert found.evidence["neighbour"].value == pytest.approx(996.7e3, rel=1e-3)
    assert found.excess == pytest.approx(sqrt(3) / 1.3)
    assert found.remedy == "Use about 30 pF across IF1.pri or about 150 pF across IF1.sec"
    assert told(sample(RULE, "right")) == []


def test_a_can_of_another_receiver(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """60 uH and 150 pF are 1678 kHz; at least, with 20 pF of strays, 1576 kHz."""
    found = only(sample(f"{RULE}/next-can", "wrong"), RULE)
    assert found.at == ("C4", "C7", "IF1.sec", "IF2.pri")
    assert found.evidence["neighbour"].value == pytest.approx(
        1 / (2 * pi * sqrt(60e-6 * 150e-12)), rel=1e-6
    )
    assert found.excess * 1.3 == pytest.approx(sqrt(850 * 150 / (60 * 170)))
    assert told(sample(f"{RULE}/next-can", "right")) == []


TWO = """tube V1 6BA6
transformer IF1 coupling {coupling}
    winding pri {pri}
    winding sec {sec}
B1 --+[E1 200 V]-- gnd
V1.grid --[R1 100k]-- gnd
V1.cathode --[R2 100 ohm]-- gnd
V1.suppressor -- gnd
B1 -- V1.screen
B1 -- IF1.pri.1 --[C1 150p 500 V]-- IF1.pri.2 -- V1.plate
IF1.sec.1 --[{across}]-- {foot}
IF1.sec.2 -- {cold}
{more}
"""
USUAL = {
    "coupling": "2 %", "pri": "850 uH 10 ohm", "sec": "850 uH 10 ohm", "across": "C2 1n 500 V",
    "foot": "IF1.sec.2", "cold": "gnd", "more": "",
}  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "fires"),
    [
        ({}, True),
        ({"across": "C2 240p 500 V"}, False),  # 1.26 times
        ({"coupling": "60 %"}, False),  # two resonances together, whatever each has alone
        ({"across": "VC1 1n variable"}, False),  # a hand sets it
        ({"across": "C2 10p 500 V", "more": "IF1.sec.1 --[C3 100p 500 V]-- gnd"}, False),
        ({"across": "C2 10p 500 V", "more": "IF1.sec.1 --[D1]-> A --[C3 100p 500 V]-- gnd"}, True),
        ({"foot": "X", "more": "X --[R9 1M]-- gnd"}, False),  # not across the coil
        ({"pri": "100 turns 850 uH 10 ohm", "sec": "100 turns 10 ohm"}, False),  # not written
        ({"sec": "125 uH 3 ohm"}, False),  # a larger capacitor across a smaller coil
        ({"cold": "AVC", "more": "AVC --[R9 1M]-- gnd\nAVC --[C3 100p 500 V]-- gnd"}, True),
    ],
)
def test_what_a_coil_is_tuned_by(
    changed: dict[str, str], fires: bool, review: Callable[[str], Review]
) -> None:
    """Capacitors from an end to elsewhere may add to what is across it; a hand may turn others."""
    assert bool(told(review(TWO.format(**{**USUAL, **changed})))) is fires


@pytest.mark.parametrize(
    ("written", "instead"),
    [
        # a pentode that mixes as well: an oscillator's voltage comes to its grid
        ("V2.suppressor -- gnd", "V2.suppressor -- gnd\nV2.grid --[C9 5p 500 V]-- V1.plate"),
        # a second can in series, for another band
        ("IF2.pri.1 -- V2.plate", "IF2.pri.1 -- V2.plate"),
    ],
)
def test_stages_that_change_the_frequency(
    written: str, instead: str, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(f"{RULE}/next-can", "wrong").lines)
    if "C9" not in instead:
        written = "B1 -- IF2.pri.1 --[C7"
        instead = "transformer IF3 coupling 2 %\n    winding pri 1 uH 1 ohm\nB1 -- IF3.pri.1\n"
        instead += "IF3.pri.2 -- FAR\nFAR -- IF2.pri.1 --[C7"
    assert written in text
    assert told(review(text.replace(written, instead) + "\n")) == []


def test_the_odd_one_of_three_is_named(
    sample: Callable[[str, str], Review], review: Callable[[str], Review],
    only: Callable[..., object],
) -> None:  # fmt: skip
    """With two cans the coil that keeps no company is the one to mend: ten times 15 pF."""
    text = "\n".join(sample(f"{RULE}/next-can", "right").lines)
    looked = review(text.replace("[C8 150p", "[C8 1.5n") + "\n")
    found = only(looked, RULE)
    assert found.at == ("C8", "IF2.sec", "IF2.pri")
    assert found.remedy == "Use about 150 pF across IF2.sec"
