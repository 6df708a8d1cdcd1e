"""Frequency changers whose oscillator is tuned below the signal."""

from __future__ import annotations

from math import pi, sqrt
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

RULE = "signal.oscillator-below-signal"


def told(looked: Review) -> list[Finding]:
    return [f for f in looked.findings if f.rule == RULE]


def test_the_oscillator_coils_of_two_bands_exchanged(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """Gang out: 15.67 pF and 20 of strays at the signal; 15.67 and 180 in series, and 20, beside.

    Thomson's formula with 190 uH and 450 uH.
    """
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("L4.tank", "L1.sec", "S1", "V1B")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    out = 470 / 30
    series = out * 180 / (out + 180)
    signal = 1 / (2 * pi * sqrt(190e-6 * (out + 20) * 1e-12))
    oscillator = 1 / (2 * pi * sqrt(450e-6 * (series + 20) * 1e-12))
    assert found.evidence["signal"].value == pytest.approx(signal, rel=1e-4)
    assert found.evidence["oscillator"].value == pytest.approx(oscillator, rel=1e-4)
    assert found.excess == pytest.approx(signal / oscillator, rel=1e-4)
    assert found.message.startswith("as drawn, L4.tank (450 uH) tunes the oscillator")
    assert found.remedy == "Exchange L4.tank and L3.tank on the switch"
    assert told(sample(RULE, "right")) == []


def test_a_position_that_is_not_drawn(
    sample: Callable[[str, str], Review], review: Callable[[str], Review]
) -> None:
    text = "\n".join(sample(RULE, "wrong").lines).replace("0.3 A at 1", "0.3 A at 2") + "\n"
    (found,) = told(review(text))
    assert found.at == ("L4.tank", "L1.sec", "S1", "V1B")
    assert found.message.startswith("with S1 thrown, L4.tank")
    rotary = text.replace("dpdt 250 V 0.3 A at 2", "2p3t 250 V 0.3 A at 3")
    (found,) = told(review(rotary))
    assert found.at == ("L4.tank", "L1.sec", "S1", "V1B")
    assert found.message.startswith("with S1 at 1, L4.tank")


def test_the_coil_of_another_band_on_short_waves(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """Alike capacitors: the square root of 1.2 over 9.1 at both ends of the dial."""
    found = only(sample(f"{RULE}/short", "wrong"), RULE)
    assert found.at == ("L2.tank", "L1.sec", "V1")
    assert found.evidence["share"].value == pytest.approx(sqrt(1.2 / 9.1), rel=1e-6)
    assert found.limit.value == pytest.approx(0.8)
    assert found.remedy == "Use an oscillator coil below 1.2 uH"
    assert told(sample(f"{RULE}/short", "right")) == []


BAND = """transformer L1
    winding sec {signal} 4 ohm
transformer L2
    winding tank 100 turns {tank} 3 ohm
    winding tick 35 turns 1 ohm
tube V1 6A8
B1 --+[E1 250 V]-- gnd
L1.sec.1 -- V1.grid4
L1.sec.1 --[VC1A 365p {gang}]-- gnd
L1.sec.1 --[TC1 30p trimmer]-- gnd
L1.sec.2 -- {cold}
V1.cathode --[R1 300 ohm]-- gnd
L2.tank.1 --[C3 {grid}]-- V1.grid --[R2 47k]-- V1.cathode
L2.tank.1 --[TC2 30p trimmer]-- gnd
L2.tank.1 --[C4 430p padder]-- OSC --[VC1B 365p {gang}]-- gnd
L2.tank.2 -- gnd
V1.grid2 -- L2.tick.2
L2.tick.1 -- B1
B1 --[R4 47k]-- V1.screen
V1.plate -- B1
{more}
"""
USUAL = {
    "signal": "230 uH", "tank": "500 uH", "gang": "variable ganged", "cold": "gnd",
    "grid": "50p", "more": "",
}  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "fires"),
    [
        ({}, True),
        ({"tank": "130 uH"}, False),
        ({"tank": "260 uH"}, False),  # the trimmers may make it up
        ({"signal": "1.1 uH", "tank": "1 uH"}, False),  # short waves, nearly alike
        ({"signal": "1.1 uH", "tank": "130 uH"}, True),  # another band's
        ({"cold": "AVC", "more": "AVC --[C1 47n 200 V]-- gnd\nAVC --[R9 1M]-- gnd"}, True),
        ({"cold": "AVC", "more": "AVC --[R9 1M]-- gnd"}, False),  # nothing closes the circuit
        ({"grid": "47n"}, True),  # whatever is wrong with the grid's capacitor
        ({"gang": "variable"}, False),  # two knobs
        ({"tank": "", "signal": "230 uH"}, False),  # not written
        # two coils at once
        ({"more": "L1.sec.1 --[L9 2 mH 9 ohm]-- gnd"}, False),
        ({"more": "L1.sec.1 --[C9 2p]-- A\nA --[L9 230 uH 9 ohm]-- gnd"}, False),
    ],
)
def test_what_tunes_a_frequency_changer(
    changed: dict[str, str], fires: bool, review: Callable[[str], Review]
) -> None:
    assert bool(told(review(BAND.format(**{**USUAL, **changed})))) is fires


def test_a_coil_on_a_wire_counts_as_well(review: Callable[[str], Review]) -> None:
    text = BAND.format(**USUAL).replace("transformer L1\n    winding sec 230 uH 4 ohm\n", "")
    text = text.replace("L1.sec.2 -- gnd", "L1.sec.1 --[L1 230 uH 4 ohm]-- gnd")
    text = text.replace("L1.sec.1", "SIG")
    (found,) = told(review(text))
    assert found.at == ("L2.tank", "L1", "V1")
    assert found.remedy == "Use an oscillator coil below 230 uH"
