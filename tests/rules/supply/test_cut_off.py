"""Contacts that take the supply away at work: a relay's wrong throw, a switch drawn open."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.judge.finding import Unjudged

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

CUT = "supply.cut-off-at-work"
STAGE = (
    "IN --[R3 1k]-- V1A.grid --[R4 470k]-- gnd\nV1A.cathode --[R5 2k2]-- gnd\n"
    "HT --[R6 47k 1 W]-- V1A.plate --[C3 100n 400 V]-- OUT --[R7 470k]-- gnd\n"
)


def found(looked: Review, rule: str = CUT) -> list[Finding]:
    return [f for f in looked.findings if f.rule == rule]


def stage(feed: str, more: str = "") -> str:
    return (
        f"tube V1 12AU7\n{more}signal IN 100 mV 1 kHz\nB1 --+[E1 200 V]-- gnd\n{feed}\n{STAGE}"
        "V1B.plate -- V1B.grid -- V1B.cathode -- gnd\n"
    )


def relay(feed: str, words: str = "") -> str:
    coil = "C --+[E2 12 V]-- gnd\nC -- K1.coil.1\nK1.coil.2 -- gnd\n"
    if "released" in words:
        coil = "K1.coil.1 -- gnd\nK1.coil.2 -- gnd\n"
    return stage(feed, f"relay K1 spdt 12 V 250 ohm {words}\n{coil}")


def test_the_resting_contact_of_a_delay_relay(sample: Callable[[str, str], Review]) -> None:
    looked = sample(CUT, "wrong")
    (told,) = found(looked)
    assert told.at == ("K1", "K1.nc", "K1.common-nc", "B1", "V1A")
    assert (told.level, told.state, told.span.line) == ("notice", "drawing", 10)
    assert told.message == (
        "K1 at work, pulled in, leaves K1.nc open, and nothing else brings B1 (with V1A.plate) a "
        "supply: it is there only while the relay rests, the first 45 s after switch-on"
    )
    assert told.remedy.startswith("Wire to K1.no what is on K1.nc now")
    assert "tube.no-plate-supply at V1A" in str(told.evidence["explains"])
    assert not found(looked, "drawing.incomplete")


def test_a_primary_over_the_resting_contact(sample: Callable[[str, str], Review]) -> None:
    (told,) = found(sample(f"{CUT}/primary", "wrong"))
    assert told.at == ("K1", "K1.nc", "K1.common-nc", "T2")
    assert "nothing else brings T2 the mains" in told.message


@pytest.mark.parametrize(
    ("feed", "words", "lead"),
    [
        ("B1 -- K1.common\nK1.nc -- HT", "", "K1.nc"),
        ("B1 -- K1.common\nK1.no -- HT", "", None),
        ("B1 -- K1.common\nK1.no -- HT", "released", "K1.no"),
        ("B1 -- K1.common\nK1.nc -- HT", "released", None),
        # Another way to the same point: the contact only bridges a resistor.
        ("B1 -- K1.common\nK1.nc -- HT\nB1 --[R9 1k 2 W]-- HT", "", None),
    ],
)
def test_which_contact_is_open_at_work(
    feed: str, words: str, lead: str | None, review: Callable[[str], Review]
) -> None:
    told = found(review(relay(feed, words)))
    assert [f.at[:2] for f in told] == ([] if lead is None else [("K1", lead)])


def test_no_partner_is_named_that_is_taken(review: Callable[[str], Review]) -> None:
    feed = "B1 -- K1.common\nK1.nc -- HT\nK1.no --[R9 10k 10 W]-- gnd"
    (told,) = found(review(relay(feed)))
    assert (
        told.remedy == "Take the supply of HT over a contact that is closed when K1 has pulled in"
    )


def test_a_switch_drawn_open(review: Callable[[str], Review]) -> None:
    """A set may be drawn in standby: advice, and nothing of plates without a supply."""
    looked = review(stage("B1 --[S1 switch open]-- HT"))
    (told,) = found(looked)
    assert told.level == "advice"
    assert [(n.at, n.kind) for n in looked.not_judged if n.rule == CUT] == [
        (("V1A",), Unjudged.NOT_FED)
    ]
    assert not found(looked, "tube.no-plate-supply")
    assert not found(looked, "drawing.incomplete")
    assert told.at == ("S1", "HT", "V1A")
    assert "with S1 thrown it is there" in told.message
    assert told.remedy.startswith("Draw S1 as it is at work")
    assert not found(review(stage("B1 --[S1 switch]-- HT")))


def test_a_supply_that_nothing_brings_is_not_drawn(review: Callable[[str], Review]) -> None:
    looked = review(relay("K1.common -- X\nK1.nc -- HT").replace("B1 --+[E1 200 V]-- gnd\n", ""))
    assert not found(looked)
