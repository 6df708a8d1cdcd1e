"""Two channels that share a resistor no capacitor holds still."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.anatomy.channels import inputs, outputs
from coldcheck.circuit.build import build_circuit
from coldcheck.drawing import parse_drawing

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.channels-share-resistor"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_two_channels_on_one_cathode_resistor(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """Each tube loads the other's cathode with (rp + R) / (mu + 1); R3 over R3 and that crosses.

    A 6SN7 at 3 mA: mu 20, rp some 12 kohm (data sheet, average characteristics; from memory), a
    load of 47 kohm beside 470 kohm.
    """
    found = only(sample(RULE, "wrong"), RULE)
    cathode = (12e3 + 1 / (1 / 47e3 + 1 / 470e3)) / 21
    assert found.at == ("R3", "V1A", "V1B")
    assert (found.level, found.state, found.certainty) == ("notice", "warm", "likely")
    assert found.evidence["crossing"].value == pytest.approx(470 / (470 + cathode), rel=0.07)
    assert "only 15.8 dB below" in found.message
    assert found.remedy == "Give V1A and V1B a cathode resistor each (1 kohm each)"
    assert told(sample(RULE, "right")) == []


STAGES = """tube V1 6SN7GT
B1 --+[E1 250 V]-- gnd
IN_L -- V1A.grid --[R1 470k]-- gnd
V1B.grid --[R2 470k]-- gnd
V1A.cathode -- V1B.cathode --[R3 470 ohm]-- gnd
B1 --[R4 47k 1 W]-- V1A.plate --[C1 470 nF 400 V film]-- OUT_L
B1 --[R6 47k 1 W]-- V1B.plate --[C2 470 nF 400 V film]-- {out} --[R7 470k]-- gnd
signal IN_L 0.5 V 1 kHz
{more}
"""


@pytest.mark.parametrize(
    ("out", "more", "fires"),
    [
        ("OUT_R", "signal IN_R 0.5 V 1 kHz\nIN_R -- V1B.grid", True),
        ("OUT_R", "jack J1\nJ1.sleeve -- gnd\nJ1.tip -- V1B.grid", True),
        ("OUT_L", "signal IN_R 0.5 V 1 kHz\nIN_R -- V1B.grid", False),  # mixed on purpose
        ("OUT_R", "IN_L -- V1B.grid", False),  # one input, two outputs
        ("OUT_R", "V1B.grid --[C3 100 nF 400 V]-- gnd", False),  # the other half of a pair
        (
            "OUT_R",
            "signal IN_R 0.5 V 1 kHz\nIN_R -- V1B.grid\nV1A.cathode --+[C4 100 uF 25 V]-- gnd",
            False,
        ),
    ],
)
def test_only_channels_with_ends_of_their_own_and_no_bypass(
    out: str, more: str, fires: bool, review: Callable[[str], Review]
) -> None:
    """Mixers, splitters and bypassed cathodes share a resistor on purpose."""
    looked = review(STAGES.format(out=out, more=more))
    assert told(looked) == ([("R3", "V1A", "V1B")] if fires else [])


def test_stages_at_radio_frequency_share_a_screen_resistor(
    review: Callable[[str], Review],
) -> None:
    """Two stages of a receiver: 47 nF hold their screens still where it counts."""
    looked = review(
        "tube V1 6SK7\ntube V2 6SK7\nB1 --+[E1 250 V]-- gnd\nsignal IN_L 1 mV 1 kHz\n"
        "signal IN_R 1 mV 1 kHz\nIN_L -- V1.grid --[R1 470k]-- gnd\n"
        "IN_R -- V2.grid --[R2 470k]-- gnd\nB1 --[R3 22k 1 W]-- V1.screen -- V2.screen\n"
        "V1.screen --[C1 47 nF 400 V]-- gnd\nV1.cathode --[R4 330 ohm]-- gnd\n"
        "V2.cathode --[R5 330 ohm]-- gnd\nV1.suppressor -- V1.cathode\n"
        "V2.suppressor -- V2.cathode\nB1 --[L1 1 mH 20 ohm]-- V1.plate --[C2 1 nF 400 V]-- OUT_L\n"
        "B1 --[R6 22k 1 W]-- V2.plate --[C3 10 nF 400 V]-- OUT_R\n"
    )
    assert told(looked) == []


def test_channels_are_followed_through_the_stages_behind() -> None:
    """Two stages a channel: the first hears its own input and ends at its own output."""
    circuit = build_circuit(
        parse_drawing(
            STAGES.format(out="MID", more="signal IN_R 1 V 1 kHz\nIN_R -- V1B.grid")
            + "tube V2 6SN7GT\nMID -- V2A.grid\nV2A.cathode --[R8 1k]-- gnd\n"
            "B1 --[R9 47k]-- V2A.plate --[C5 470 nF 400 V]-- OUT_R --[R10 470k]-- gnd\n"
        )
    )
    sections = {s.name: s for s in circuit.sections()}
    assert outputs(circuit, sections["V1B"]) == {"OUT_R"}
    assert outputs(circuit, sections["V1A"]) == {"OUT_L"}
    assert inputs(circuit, sections["V2A"]) == {"IN_R"}


def test_one_channel_hung_on_the_other(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """V1A's cathode sees R3 beside R8 and V1B's (rp + R) / (mu + 1), as above with 1 kohm more.

    Of what V1A's cathode does V1B's has the share of its own 2.6 kohm in 3.6.
    """
    found = only(sample(f"{RULE}/hung", "wrong"), RULE)
    cathode = (12e3 + 1 / (1 / 47e3 + 1 / 470e3)) / 21
    # From V1B: it drives its cathode through cathode into R8 + (R3 beside V1A's cathode).
    beside = 1 / (1 / 1e3 + 1 / cathode)
    share = beside / (beside + 1e3 + cathode) * (1e3 + beside + cathode) / cathode
    assert found.at == ("R8", "R3", "V1A", "V1B")
    assert found.evidence["crossing"].value == pytest.approx(share, rel=0.35)
    assert found.remedy == "Take R8 to gnd in place of the cathode of V1A"
    assert told(sample(f"{RULE}/hung", "right")) == []
