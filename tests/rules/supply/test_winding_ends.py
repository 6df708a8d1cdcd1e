"""Ends and taps of a supply winding on the wrong point."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "supply.winding-on-wrong-pin"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_an_end_on_an_empty_pin(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("T1.ht.2", "V1", "V1:6")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert "T1.ht.2 is on V1:6, which is no plate of V1 (EZ80)" in found.message
    assert found.remedy.startswith("Take T1.ht.2 from V1:6 to V1.plate2 (pin 7)")
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("T1.ht.2 -- V1:6", "T1.ht.2 -- V1.cathode", True),  # the cathode
        ("T1.ht.2 -- V1:6", "T1.ht.2 --[F2 fuse 0.2 A slow]-- V1:6", True),  # past a fuse
        ("T1.ht.2 -- V1:6", "T1.ht.1 -- V1:7", False),  # half of the winding left over
    ],
)
def test_what_the_other_end_is_on(
    written: str, instead: str, fires: bool, changed: Callable[[str, str, str, str], Review]
) -> None:
    assert bool(told(changed(RULE, "wrong", written, instead))) is fires


TAP = "supply.tap-on-middle"


def tapped(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == TAP]


def test_a_tap_between_two_cans(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    wrong, right = sample(TAP, "wrong"), sample(TAP, "right")
    found = only(wrong, TAP)
    assert found.at == ("T1.ht.ct", "MID", "C1", "C2")
    assert found.level == "warning"  # what it explains: the lower can is charged backwards
    assert found.remedy.startswith("Take T1.ht.ct off the middle and to gnd")
    assert tapped(right) == []
    low, high = (r.solutions["warm"].waves[r.circuit.net("MID")].dc for r in (wrong, right))
    assert low < 0 < high


@pytest.mark.parametrize(
    ("written", "instead", "fires"),
    [
        ("T1.ht.2 --[D2 1N4007]-> RES", "gnd --[D2 1N4007]-> T1.ht.1", False),  # a doubler
        ("MID --+[C2 47 uF 350 V]-- gnd", "MID --[C2 47 uF 350 V film]-- gnd", False),
        ("T1.ht.1 --[D1 1N4007]-> RES", "T1.ht.1 --[F2 0.2 A slow]-- A --[D1 1N4007]-> RES", True),
        (
            "RES --[R2 82k 2 W]-- MID",
            "RES --[R2 82k 2 W]-- MID\ngnd --[D3 1N4007]-> T1.ht.1\ngnd --[D4 1N4007]-> T1.ht.2",
            False,  # a bridge
        ),
    ],
)
def test_what_leads_up_from_the_lower_end(
    written: str, instead: str, fires: bool, changed: Callable[[str, str, str, str], Review]
) -> None:
    assert bool(tapped(changed(TAP, "wrong", written, instead))) is fires
