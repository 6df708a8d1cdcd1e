"""Tanks behind a doubler that are tuned to what goes into it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.doubler-tank-off"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_a_tank_tuned_to_what_goes_in(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """3.3 mH with 3 nF: 50.6 kHz."""
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("C8", "T2.pri", "V2")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert found.evidence["resonance"].value == pytest.approx(50.58e3, rel=1e-3)
    assert found.evidence["doubled"].value == pytest.approx(101.2e3, rel=1e-3)
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("drawing", "written", "instead", "fires"),
    [
        ("wrong", "C8 3n", "C8 200p", True),
        # smoothed: a rectifier, and no doubler
        ("wrong", "TWO --[R4 33k]-- gnd", "TWO --[R4 33k]-- gnd\nTWO --[C9 10n]-- gnd", False),
        # the diodes point at one another: a detector of another kind
        (
            "wrong",
            "T1.sec.2 --[D2 germanium 60 V 50 mA]-> TWO",
            "T1.sec.2 <-[D2 germanium 60 V 50 mA]-- TWO",
            False,
        ),
        # the other way round as a pair: as good
        (
            "wrong",
            "T1.sec.1 --[D1 germanium 60 V 50 mA]-> TWO\n"
            "T1.sec.2 --[D2 germanium 60 V 50 mA]-> TWO",
            "T1.sec.1 <-[D1 germanium 60 V 50 mA]-- TWO\n"
            "T1.sec.2 <-[D2 germanium 60 V 50 mA]-- TWO",
            True,
        ),
    ],
)
def test_where_it_is_told(
    drawing: str, written: str, instead: str, fires: bool,
    changed: Callable[[str, str, str, str], Review],
) -> None:  # fmt: skip
    assert bool(told(changed(RULE, drawing, written, instead))) is fires
