"""Detectors whose load returns below their own cathode."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.detector-held-off"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_the_control_on_gnd(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """The triode's own current through 1.8 kohm: about 0.5 mA (common practice behind 220k)."""
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("P1", "V2", "V2.diode1")
    assert (found.level, found.state, found.certainty) == ("notice", "warm", "likely")
    assert found.evidence["cathode"].value == pytest.approx(0.96, abs=0.15)
    assert found.excess == pytest.approx(found.evidence["cathode"].value / 0.5)
    assert found.remedy.startswith("Return P1 to V2.cathode")
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("V2.cathode --[R5 1k8]-- gnd", "V2.cathode -- gnd\ngnd --[R5 1k8]-- X", False),
        # a diode for gain control alone: nothing takes audio from it
        ("P1.wiper --[C7 10n 400 V]-- V2.grid", "P1.wiper --[R9 1M]-- AVC\nV2.grid", False),
        # fed by a capacitor, as a delayed one is
        ("V2.diode1 -- IF1.sec.1", "V2.diode1 --[C99 47p 500 V]-- IF1.sec.1", False),
        # a load with its foot on a resistor, which is on gnd all the same
        ("P1.bottom -- gnd", "P1.bottom --[R9 1k]-- gnd", True),
        # returned to where the bias is made
        ("P1.bottom -- gnd", "P1.bottom --[R9 1k]-- V2.cathode", False),
        # a bias from the supply brings the plate up as well
        ("P1.bottom -- gnd", "P1.bottom -- gnd\nB1 --[R9 10M]-- P1.top", False),
    ],
)
def test_where_the_load_returns(
    written: str, instead: str, fires: bool, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(RULE, "wrong").lines)
    assert written in text
    assert bool(told(review(text.replace(written, instead) + "\n"))) is fires
