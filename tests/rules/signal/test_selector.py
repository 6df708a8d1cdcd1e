"""Source switches turned round, and grids behind a tone control's capacitor."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

SELECTOR = "signal.selector-exchanged"
TONE = "signal.grid-behind-tone-control"


def test_a_switch_turned_round_names_common_and_contact(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(SELECTOR, "wrong"), SELECTOR)
    assert (found.at, found.level) == (("S1", "S1.common", "S1.1"), "notice")
    assert found.remedy == "Exchange what is on S1.common and S1.1"


@pytest.mark.parametrize(
    ("second", "told"),
    [
        # An input jack, whose contact shorts it when it is empty, is a source; another is not.
        ("jack J1\nJ1.tip -- S1.2\nJ1.switch -- J1.sleeve -- gnd", 1),
        ("jack J1\nJ1.tip -- S1.2\nJ1.sleeve -- gnd", 0),
        # One source led to one of two stages.
        ("S1.2 -- V1B.grid --[R9 1M]-- gnd", 0),
    ],
)
def test_what_is_on_the_other_contact(
    second: str, told: int, changed: Callable[[str, str, str, str], Review]
) -> None:
    review = changed(
        SELECTOR, "wrong", "signal TAPE 0.2 V 1 kHz", second.replace("V1B", "V2A") + SPARE
    )
    assert len([f for f in review.findings if f.rule == SELECTOR]) == told


SPARE = "\ntube V2 12AX7\nV2A.cathode --[R8 1k5]-- gnd\nV2B.grid -- gnd\nV2B.cathode -- gnd"


def test_a_signal_on_a_contact_that_is_open_leads_somewhere(
    sample: Callable[[str, str], Review],
) -> None:
    assert sample(SELECTOR, "right").findings == ()


def test_a_stopper_behind_the_tone_capacitor_is_named(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(TONE, "wrong"), TONE)
    assert (found.at, found.level) == (("R5", "C2", "P1", "V2"), "notice")
    assert found.evidence["capacitor"].value == pytest.approx(2.2e-9)
    assert found.remedy == "Take R5 to DRV, ahead of C2"


@pytest.mark.parametrize(
    ("written", "instead"),
    [
        # A grid of its own where the leak is.
        ("V1B.grid -- gnd", "V1B.grid -- DRV"),
        # A pot with its wiper to the grid divides: it is a volume control.
        ("P1.wiper -- P1.bottom -- gnd", "P1.bottom -- gnd\nP1.wiper -- NIL --[R9 1M]-- gnd"),
    ],
)
def test_other_controls_are_left_alone(
    written: str, instead: str, changed: Callable[[str, str, str, str], Review]
) -> None:
    assert not [f for f in changed(TONE, "wrong", written, instead).findings if f.rule == TONE]


COMMON = "signal.source-on-common"


def test_a_jack_on_the_common(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(COMMON, "wrong"), COMMON)
    assert (found.level, found.state) == ("notice", "drawing")
    assert found.at == ("J1", "J1.tip", "S1", "S1.common", "S1.2")
    assert found.remedy == "Take J1.tip to S1.2"
    assert COMMON not in {f.rule for f in sample(COMMON, "right").findings}


@pytest.mark.parametrize(
    ("written", "instead"),
    [
        # Nothing is free, or nothing else to choose; a jack that may be an output.
        ("DET -- S1.1", "DET -- S1.1\nS1.2 --[R9 1M]-- gnd"),
        ("DET -- S1.1", "DET --[R9 1M]-- gnd"),
        ("J1.switch -- gnd", "P1.top --[R9 1M]-- gnd"),
    ],
)
def test_other_jacks_are_left_alone(
    written: str, instead: str, changed: Callable[[str, str, str, str], Review]
) -> None:
    assert not [f for f in changed(COMMON, "wrong", written, instead).findings if f.rule == COMMON]
