"""Coils of relays against what they are made for; meters against the ends of their scales."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

DRAWN, OVERLOAD, SCALE = (
    "supply.relay-not-as-drawn", "supply.relay-overload", "supply.meter-over-scale",
)  # fmt: skip


def found(looked: Review, rule: str) -> list[Finding]:
    return [f for f in looked.findings if f.rule == rule]


def coil(volts: float, more: str = "") -> str:
    return (
        f"relay K1 spst 12 V 250 ohm {more}\nC --+[E1 {volts} V]-- gnd\nC -- K1.coil.1\n"
        "K1.coil.2 -- gnd\nB1 --+[E2 100 V]-- gnd\nB1 -- K1.common\nK1.no --[R1 10k 5 W]-- gnd\n"
    )


@pytest.mark.parametrize(
    ("volts", "more", "rules"),
    [
        # IEC 61810-1, class 1 (from memory): 80 to 110 % of 12 V is 9.6 to 13.2 V.
        (12.0, "", []), (9.7, "", []), (9.5, "", [DRAWN]), (0.3, "", [DRAWN]),
        (13.1, "", []), (13.4, "", [OVERLOAD]),
        (9.5, "released", []), (9.7, "released", [DRAWN]), (0.3, "released", []),
    ],
)  # fmt: skip
def test_what_a_coil_gets(
    volts: float, more: str, rules: list[str], review: Callable[[str], Review]
) -> None:
    looked = review(coil(volts, more))
    assert [f.rule for f in looked.findings if f.rule in (DRAWN, OVERLOAD)] == rules
    for told in looked.findings:
        if told.rule in rules:
            assert (told.at, told.level, told.state) == (("K1",), "notice", "warm")
            figures = [told.evidence.get("coil"), told.evidence.get("used")]
            (got,) = [f.value for f in figures if f is not None]  # type: ignore[union-attr]
            assert got == pytest.approx(volts, rel=1e-2)


@pytest.mark.parametrize(("lead", "told"), [("nc", True), ("no", False)])
def test_a_coil_behind_the_contact_that_opens_at_work(
    lead: str, told: bool, review: Callable[[str], Review]
) -> None:
    """K1 has pulled in at work: what is on its resting contact gets nothing then."""
    text = (
        "relay K1 spdt 12 V 250 ohm\nrelay K2 spst 12 V 250 ohm\nC --+[E1 12 V]-- gnd\n"
        "C -- K1.coil.1\nK1.coil.2 -- gnd\nC -- K1.common\n"
        f"K1.{lead} -- K2.coil.1\nK2.coil.2 -- gnd\n"
        "C -- K2.common\nK2.no --[R1 1k 1 W]-- gnd\n"
    )
    here = found(review(text), DRAWN)
    assert [f.at for f in here] == ([("K2", "K1", "K1.common-nc")] if told else [])
    if told:
        assert here[0].remedy.startswith("K1 leaves K1.common-nc open at work")


@pytest.mark.parametrize(("lead", "told"), [("no", True), ("nc", False)])
def test_a_released_coil_on_the_contact_that_is_closed_at_work(
    lead: str, told: bool, review: Callable[[str], Review]
) -> None:
    text = (
        "relay K1 spdt 12 V 250 ohm\nrelay K2 spst 12 V 250 ohm released\nC --+[E1 12 V]-- gnd\n"
        "C -- K1.coil.1\nK1.coil.2 -- gnd\nC -- K1.common\n"
        f"K1.{lead} -- K2.coil.1\nK2.coil.2 -- gnd\n"
        "C -- K2.common\nK2.no --[R1 1k 1 W]-- gnd\n"
    )
    here = found(review(text), DRAWN)
    assert [f.at for f in here] == ([("K2", "K1", "K1.common-no")] if told else [])
    if told:
        assert "from the contact of K1 that is open then" in here[0].remedy


def test_a_coil_that_is_not_wired_is_not_judged(review: Callable[[str], Review]) -> None:
    text = "relay K1 spst 12 V 250 ohm\nB1 --+[E2 100 V]-- gnd\nB1 -- K1.common\n"
    looked = review(text + "K1.no --[R1 10k 5 W]-- gnd\n")
    (unsure,) = [n for n in looked.not_judged if n.rule == DRAWN]
    assert "pulled in throughout" in unsure.reason


def test_the_contacts_of_a_relay_have_ratings(review: Callable[[str], Review]) -> None:
    looked = review(coil(12.0, "contacts 250 Vac 3 A"))
    (told,) = found(looked, "supply.switch-over-rating")
    assert told.at == ("K1",)  # 250 V of AC is worth some 30 V of DC, and it breaks 100 V
    assert not found(review(coil(12.0, "contacts 500 V 1 A")), "supply.switch-over-rating")


def metered(meter: str, volts: float = 100.0) -> str:
    return f"B1 --+[E1 {volts} V]-- gnd\nB1 --[{meter}]-- X --[R1 1k 20 W]-- gnd\n"


@pytest.mark.parametrize(
    ("meter", "shown"),
    [
        # 100 V over 1 kohm and the meter; 0.1 V at the end of a scale of 90 mA is 1.1 ohm.
        ("M1 ammeter 110 mA", None),
        ("M1 milliammeter 90 mA", 100 / (1000 + 0.1 / 0.09)),
        ("M1 meter 90 mA 1k", None),
        ("M1 meter 40 mA 1k", 0.05),
        # A voltmeter of 1000 ohm a volt: 60 kohm beside 1 kohm has 100 V times 60 / 61.
        ("M1 voltmeter 100 V", None),
        ("M1 voltmeter 60 V", 100 * 60 / 61),
    ],
)
def test_where_the_pointer_stands(
    meter: str, shown: float | None, review: Callable[[str], Review]
) -> None:
    told = found(review(metered(meter)), SCALE)
    assert [f.evidence["used"].value for f in told] == (  # type: ignore[union-attr]
        [] if shown is None else [pytest.approx(shown, rel=1e-3)]
    )
    assert all((f.at, f.level) == (("M1",), "notice") for f in told)


def test_a_meter_on_ac_shows_the_rms(review: Callable[[str], Review]) -> None:
    text = (
        "mains 120 V 60 Hz\ntransformer T1\n primary pri 120 V 1 ohm\n winding w 10 V\n"
        "T1.w.2 -- gnd\nT1.w.1 --[M1 voltmeter {} V]-- gnd\n"
    )
    assert not found(review(text.format(11)), SCALE)
    (told,) = found(review(text.format(9)), SCALE)
    assert told.evidence["used"].value == pytest.approx(10.0, rel=0.05)  # type: ignore[union-attr]


BEHIND = "supply.relay-behind-itself"
PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"


def test_a_coil_behind_its_own_contact(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    looked = only(sample(BEHIND, "wrong"), BEHIND)
    assert (looked.at, looked.state) == (("K1", "K1.common-no", "K1.coil.1"), "drawing")
    assert (looked.level, looked.certainty) == ("notice", "certain")
    assert looked.remedy.startswith("Join K1.coil.1 to LA, ahead of the contact")
    assert found(sample(BEHIND, "right"), BEHIND) == []


def holding(more: str = "", coil: str = "PB -- K1.coil.1\n", kind: str = "spst") -> str:
    """A relay on a battery whose coil and load are behind its make contact."""
    return (
        f"relay K1 {kind} 12 V 250 ohm\nB1 --+[E1 12 V]-- gnd\nB1 -- K1.common\n"
        f"K1.no -- PB --[R1 1k 2 W]-- gnd\n{coil}K1.coil.2 -- gnd\n{more}"
    )


@pytest.mark.parametrize(
    ("text", "fires"),
    [
        (holding(), True),
        (holding(kind="spdt"), True),
        (holding(coil="PB --[R2 10 ohm 1 W]-- K1.coil.1\n"), True),
        (holding("PB --[D1 1N4007]-> gnd\n"), True),
        (holding().replace("250 ohm", "250 ohm released"), True),
        # A push button, whichever way it is drawn; a second relay; a resistor that starts softly.
        (holding("B1 --[S1 switch]-- PB\n"), False),
        (holding("B1 --[S1 switch open]-- PB\n"), False),
        (holding("relay K2 spst 12 V 250 ohm\nB1 -- K2.common\nK2.no -- PB\nB1 -- K2.coil.1\n"
                 "K2.coil.2 -- gnd\n"), False),
        (holding("B1 --[R2 100 ohm 5 W]-- PB\n"), False),
        # A supply of its own; a jack; the break contact, of a buzzer.
        (holding("PB --[R2 10 ohm 1 W]-- X --+[E2 12 V]-- gnd\n"), False),
        (holding("jack J1\nJ1.tip -- PB\nJ1.sleeve -- B1\n"), False),
        (holding(kind="spdt").replace("K1.no --", "K1.nc --"), False),
        # A coil with nothing on one lead has no way with the contact closed either.
        (holding(coil=""), False),
    ],
)  # fmt: skip
def test_ways_to_a_coil(text: str, fires: bool, review: Callable[[str], Review]) -> None:
    assert bool(found(review(text), BEHIND)) is fires


BROUGHT = (PAIRS / BEHIND / "wrong.tube").read_text("utf-8")


@pytest.mark.parametrize(
    ("old", "new", "fires"),
    [
        # From a winding of the very transformer that the contact brings, or of another one.
        ("K1.coil.2 -- neutral", "K1.coil.2 -- T1.aux.2", True),
        ("K1.coil.2 -- neutral", "K1.coil.2 -- T2.aux.2", False),
        ("PB -- K1.coil.1", "PB --[S2 switch]-- LA\nPB -- K1.coil.1", False),
    ],
)
def test_ways_by_a_transformer(
    old: str, new: str, fires: bool, review: Callable[[str], Review]
) -> None:
    text = BROUGHT.replace("relay K1 spst 120 Vac", "relay K1 spst 12 Vac")
    for name in ("T1", "T2"):
        if f"{name}.aux" in new:
            text = text.replace("PB -- K1.coil.1", f"{name}.aux.1 -- K1.coil.1")
    text = text.replace("150 ohm\n", "150 ohm\n    winding aux  12 V  100 mA  4 ohm\n")
    text = (
        text.replace(
            "relay K1",
            "transformer T2\n    primary pri  120 V  40 ohm\n    winding aux  12 V  0.1 A  4 ohm\n"
            "relay K1",
        )
        + "LA -- T2.pri.1\nT2.pri.2 -- neutral\n"
    )
    assert old in text
    assert bool(found(review(text.replace(old, new)), BEHIND)) is fires


NEVER = "supply.relay-never-pulls"


def test_a_tube_that_never_draws_enough(
    sample: Callable[[str, str], Review], only: Callable[..., Finding]
) -> None:
    found = only(sample(NEVER, "wrong"), NEVER)
    assert (found.at, found.state, found.level) == (("K1", "R3"), "lit LDR1", "notice")
    assert found.evidence["coil"].value == pytest.approx(3.76, rel=0.02)
    assert found.remedy == "Let more through K1.coil: a smaller R3"
    assert not sample(NEVER, "right").findings


SWITCHED = """B1 --+[E1 24 V]-- gnd
relay K1 spdt 24 V 600 ohm {drawn}
K1.coil.2 -- gnd
B1 --[R1 {rest}]-- K1.coil.1
B1 --[S1 switch open]-- X --[R2 {work}]-- K1.coil.1
"""


@pytest.mark.parametrize(
    ("drawn", "rest", "work", "fires"),
    [
        # 600 ohm behind 160 ohm gets 0.79 of its volts, behind 140 ohm 0.81.
        ("released", "1M", "160 ohm", True),
        ("released", "1M", "140 ohm", False),
        # Behind 6 kohm it gets 0.091, behind 5 kohm 0.107.
        ("released", "1M", "6k", False),
        ("released", "1M", "5k", True),
        # 600 ohm behind 3 kohm at rest has 0.167; with 2.2 or 3.3 kohm beside it 0.32 or 0.28,
        # which is 1.9 times and 1.7 times; 1.8 kohm make it 0.35, 2.1 times.
        ("released", "3k", "2.2k", False),
        ("released", "3k", "1.8k", True),
    ],
)
def test_what_works_a_relay_is_held_to_its_volts(
    drawn: str, rest: str, work: str, fires: bool, review: Callable[[str], Review]
) -> None:
    looked = review(SWITCHED.format(drawn=drawn, rest=rest, work=work))
    assert looked.readable
    assert any(f.rule == NEVER for f in looked.findings) is fires
