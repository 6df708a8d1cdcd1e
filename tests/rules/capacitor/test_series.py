"""Electrolytics in series."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

SHARING = ("capacitor.series-unbalanced", "capacitor.balancing-too-high")


def pair(rating: str, more: str = "", volts: int = 450) -> str:
    return (
        f"B1 --+[E1 {volts} V]-- gnd\nB1 --+[C1 40 uF {rating}]-- MID\n"
        f"MID --+[C2 40 uF {rating}]-- gnd\n{more}"
    )


@pytest.mark.parametrize(
    ("rating", "found"),
    # Beside one that leaks far more, one gets all of 450 V; as a rule 270 V of it (derived).
    [("250 V", "likely"), ("275 V", "possible"), ("400 V", "possible"), ("450 V", None)],
)
@pytest.mark.parametrize("more", ["", "B1 --[R9 100k 5 W]-- gnd\n"])
def test_leakage_decides(
    rating: str, found: str | None, more: str, review: Callable[[str], Review]
) -> None:
    looked = review(pair(rating, more))  # a bleeder across the whole string balances nothing
    hits = [f for f in looked.findings if f.rule == "capacitor.series-unbalanced"]
    assert [f.certainty for f in hits] == ([found] if found else [])
    for f in hits:
        assert (f.level, f.at) == ("notice", ("C1", "C2"))
        assert f.evidence["whole"].value == pytest.approx(450, rel=1e-3)
        assert f.evidence["usual_share"].value == pytest.approx(270, rel=1e-3)


def test_three_in_series_are_one_string(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    cans = "--+[C1 40 uF 250 V]-- M1 --+[C2 40 uF 250 V]-- M2 --+[C3 40 uF 250 V]--"
    found = only(review(f"B1 --+[E1 600 V]-- gnd\nB1 {cans} gnd\n"), "capacitor.series-unbalanced")
    assert found.at == ("C1", "C2", "C3")
    assert found.evidence["usual_share"].value == pytest.approx(200, rel=1e-3)


@pytest.mark.parametrize("cans", [("C2", "C3", "C1"), ("C1", "C3", "C2")])
def test_a_string_is_told_from_the_end_whose_name_is_first(
    cans: tuple[str, str, str], review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    one, two, three = (f"--+[{name} 40 uF 250 V]--" for name in cans)
    looked = review(f"B1 --+[E1 600 V]-- gnd\nB1 {one} M1 {two} M2 {three} gnd\n")
    assert only(looked, "capacitor.series-unbalanced").at == ("C1", "C3", "C2")


@pytest.mark.parametrize(
    ("volts", "remedy"),
    # Shared out alike, three of 250 V stand 750 V and no more (arithmetic).
    [(735, "Put the same resistor across each"), (765, "Use capacitors of a higher working")],
)
def test_resistors_help_three_up_to_their_ratings_together(
    volts: int, remedy: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    cans = "--+[C1 40 uF 250 V]-- M1 --+[C2 40 uF 250 V]-- M2 --+[C3 40 uF 250 V]--"
    looked = review(f"B1 --+[E1 {volts} V]-- gnd\nB1 {cans} gnd\n")
    assert only(looked, "capacitor.series-unbalanced").remedy.startswith(remedy)


def test_leaving_the_resistors_out_is_never_milder(review: Callable[[str], Review]) -> None:
    """470 kohm draws a notice at 600 V; nothing at all across them must not draw less."""
    with_them = "B1 --[R1 470k 2 W]-- MID --[R2 470k 2 W]-- gnd\n"
    for more in ("", with_them):
        looked = review(pair("350 V", more, volts=600))
        found = [f.rule for f in looked.findings if f.rule in SHARING and f.level == "notice"]
        assert len(found) == 1


def test_resistors_across_them_balance_the_pair(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    more = "B1 --[R1 220k 1 W]-- MID --[R2 220k 1 W]-- gnd\n"
    only(review(pair("250 V", more)), "capacitor.series-unbalanced", count=0)


def test_without_a_working_voltage_it_is_not_judged(review: Callable[[str], Review]) -> None:
    looked = review(pair(""))
    said = [n for n in looked.not_judged if n.rule == "capacitor.series-unbalanced"]
    assert [n.at for n in said] == [("C1", "C2")]


def test_the_resistor_proposed(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    # (2 * 350 - 600) / 0.5 mA = 200 kohm (formula found): the E12 value below is 180 kohm.
    found = only(review(pair("350 V", volts=600)), "capacitor.series-unbalanced")
    assert "180 kohm" in found.remedy


@pytest.mark.parametrize(
    # Up to twice 208 kohm, 417 kohm, it is advice.
    ("ohms", "level"),
    [("180k", None), ("220k", "advice"), ("390k", "advice"), ("430k", "notice")],
)
def test_balancing_resistors_against_the_leakage(
    ohms: str, level: str | None, review: Callable[[str], Review]
) -> None:
    # (2 * 350 - 600) / 0.48 mA = 208 kohm with 12 uA for each of 40 uF (0.5 mA: 200 kohm).
    more = f"B1 --[R1 {ohms} 2 W]-- MID --[R2 {ohms} 2 W]-- gnd\n"
    looked = review(pair("350 V", more, volts=600))
    found = [f for f in looked.findings if f.rule == "capacitor.balancing-too-high"]
    assert [f.level for f in found] == ([level] if level else [])
    for f in found:
        assert f.at[1:] == ("C1", "C2")
        assert f.limit.value == pytest.approx(100 / 0.48e-3, rel=1e-3)
        value = float(ohms[:-1]) * 1e3
        # All of the leakage through one resistor: half the whole and half of I R.
        assert f.evidence["share"].value == pytest.approx(300 + 0.48e-3 * value / 2, rel=1e-3)
        assert "180 kohm" in f.remedy


def test_balancing_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("capacitor.balancing-too-high", "wrong"), "capacitor.balancing-too-high")
    assert (found.level, found.certainty) == ("notice", "possible")
    assert found.excess == pytest.approx(1e6 / (100 / 0.48e-3), rel=2e-3)


@pytest.mark.parametrize(
    ("written", "instead", "first"),
    [
        ("[R3 82k 2 W]", "[R3 82k 2 W]", "MID"),
        ("[R3 82k 2 W]", "[R3 100k 2 W]", "C1"),  # not alike: a divider
        ("-- MIDR --", "-- MIDR --[R9 1k]-- MIDS --", "C1"),
        ("MID --", "T9 --", "T9"),
    ],
)
def test_resistors_whose_middle_is_not_joined(
    written: str, instead: str, first: str, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    rule = "capacitor.series-unbalanced"
    text = "\n".join(sample(f"{rule}/middles-apart", "wrong").lines)
    (found,) = (f for f in review(text.replace(written, instead)).findings if f.rule == rule)
    assert found.at[0] == first
    joined = found.remedy.startswith("Join the middle of R2 and R3 to that of C1 and C2")
    assert joined is (first != "C1")
