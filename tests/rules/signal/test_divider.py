"""Oscillators whose divider of capacitors is shorted at its tap."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.oscillator-tap-shunted"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_resistor_without_its_choke(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """270 pF have 2.9 kohm at 200 kHz."""
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("R2", "V1.cathode", "C2")
    assert (found.level, found.state, found.certainty) == ("notice", "warm", "likely")
    assert found.evidence["resistor"].value == pytest.approx(390)
    assert found.evidence["lower"].value == pytest.approx(270e-12)
    assert told(sample(RULE, "right")) == []


def test_a_key_without_its_choke(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(f"{RULE}/key", "wrong"), RULE)
    assert found.at == ("V1.cathode", "J1", "C2")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert found.evidence["lower"].value == pytest.approx(220e-12)
    assert told(sample(f"{RULE}/key", "right")) == []


@pytest.mark.parametrize(
    ("drawing", "written", "instead", "fires"),
    [
        # at 7 MHz the capacitor is small beside the resistor, and the stage oscillates
        ("wrong", "Y1 200 kHz", "Y1 7 MHz", False),
        # nothing says where the crystal is
        ("wrong", "Y1 200 kHz", "Y1 crystal", False),
        ("wrong", "R2 390", "R2 330", True),
        # no divider is drawn
        ("wrong", "V1.grid --[C1 56p 500 V]-- V1.cathode", "V1.grid --[C1 56p 500 V]-- gnd", False),
        # a coil sets the frequency, 600 kHz or so
        (
            "wrong",
            "V1.grid --[Y1 200 kHz]-- gnd",
            "V1.grid --[C9 100p 500 V]-- T --[L9 1.2 mH 10 ohm]-- gnd",
            False,
        ),
    ],
)
def test_where_it_is_told(
    drawing: str, written: str, instead: str, fires: bool,
    changed: Callable[[str, str, str, str], Review],
) -> None:  # fmt: skip
    assert bool(told(changed(RULE, drawing, written, instead))) is fires
