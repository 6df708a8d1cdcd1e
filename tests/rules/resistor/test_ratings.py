"""Resistor rules against hand arithmetic."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review


def bench(volts: float, part: str) -> str:
    return f"B1 --+[E1 {volts:g} V]-- gnd\nB1 --[{part}]-- gnd\n"


def test_power_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("resistor.over-power", "wrong"), "resistor.over-power")
    assert (found.level, found.at, found.state) == ("notice", ("R1",), "warm")
    assert found.evidence["power"].value == pytest.approx(250**2 / 4700, rel=1e-4)
    assert found.limit.value == 10.0
    assert found.excess == pytest.approx(250**2 / 47000, rel=1e-4)
    assert "25 W" in found.remedy  # 13.3 W is 60 % of 22 W
    assert found.span.line == 5


@pytest.mark.parametrize(
    ("rating", "level"),
    [("2 W", "notice"), ("4 W", "advice"), ("4.5 W", "advice"), ("5 W", None), ("10 W", None)],
)
def test_sixty_percent_is_where_the_advice_begins(
    rating: str, level: str | None, review: Callable[[str], Review]
) -> None:
    looked = review(bench(250, f"R1 22k {rating} wirewound"))  # 2.84 W
    found = [f for f in looked.findings if f.rule == "resistor.over-power"]
    assert [f.level for f in found] == ([level] if level else [])


def test_ac_heats_by_its_rms(review: Callable[[str], Review], only: Callable[..., object]) -> None:
    text = (
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V 0.1 ohm\nwinding w 100 V 10 ohm\n"
        "T1.w.2 -- gnd\nT1.w.1 --[R1 990 ohm 5 W]-- gnd\n"
    )
    found = only(review(text), "resistor.over-power")
    # 100 V over 10 + 990 ohm (the primary's share is 0.07 ohm), 10 % high: 0.11 A.
    assert found.evidence["power"].value == pytest.approx(0.11**2 * 990, rel=2e-3)
    assert found.state == "high line"
    assert found.also_in == ("warm", "low line")


@pytest.mark.parametrize(("ohms", "said"), [("220k", 1), ("330k", 0)])
def test_without_a_rating_more_than_a_quarter_watt_is_not_judged(
    ohms: str, said: int, review: Callable[[str], Review]
) -> None:
    looked = review(bench(240, f"R1 {ohms}"))  # 0.262 W and 0.175 W
    assert not looked.findings
    assert len([n for n in looked.not_judged if n.rule == "resistor.over-power"]) == said


@pytest.mark.parametrize(
    ("fields", "limit"),
    [
        # Carbon film: 250 V for 1/4 W, 350 V for 1/2 W, 500 V for 1 W and 2 W (found).
        ("0.25 W", 250.0),
        ("0.5 W", 350.0),
        ("1 W", 500.0),
        ("2 W", 500.0),
        ("0.25 W 200 V", 200.0),
        ("0.5 W 700 V", None),
        ("5 W", None),
    ],
)
def test_what_a_body_stands(
    fields: str, limit: float | None, review: Callable[[str], Review]
) -> None:
    looked = review(bench(520, f"R1 4M7 {fields}"))
    found = [f for f in looked.findings if f.rule == "resistor.over-voltage"]
    assert [f.limit.value for f in found] == ([limit] if limit else [])
    assert all(f.evidence["peak"].value == pytest.approx(520, rel=1e-3) for f in found)


@pytest.mark.parametrize(
    ("watts", "limit", "sure"),
    [
        # Metal film (sheets, from memory): 250 V for 0.4 W, 350 V for 0.6 W.
        (0.4, 250, True),
        (0.6, 350, True),
        # A little less than a size is not that size.
        (0.12, None, True),
        (0.125, 200, True),
        (0.24, 200, True),
        (0.48, 250, True),
        (0.95, 350, True),
        (1, 500, True),
        (2.8, 500, True),
        (3, 500, False),  # from here on sheets differ
        (4.8, 500, False),
        (5, 750, False),
        (6.6, 750, False),
        (7, 1000, False),
        (15, 1000, False),
        (16, None, False),
    ],
)
def test_what_a_power_between_two_sizes_stands(
    watts: float, limit: float | None, sure: bool, review: Callable[[str], Review]
) -> None:
    looked = review(bench(1500, f"R1 47M {watts} W"))
    found = [f for f in looked.findings if f.rule == "resistor.over-voltage"]
    assert [f.limit.value for f in found] == ([limit] if limit else [])
    assert all(f.certainty == ("certain" if sure else "possible") for f in found)
    silent = [n.at for n in looked.not_judged if n.rule == "resistor.over-voltage"]
    assert silent == ([] if limit else [("R1",)])


@pytest.mark.parametrize(("volts", "said"), [(240, False), (260, True)])
def test_without_a_power_more_than_250_volts_are_not_judged(
    volts: float, said: bool, review: Callable[[str], Review]
) -> None:
    looked = review(bench(volts, "R1 4M7"))
    assert bool([n for n in looked.not_judged if n.rule == "resistor.over-voltage"]) is said


def test_voltage_pair(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("resistor.over-voltage", "wrong"), "resistor.over-voltage")
    assert (found.level, found.at, found.span.line) == ("notice", ("R1",), 5)
    assert found.excess == pytest.approx(420 / 350, rel=1e-4)
    assert "2 in series of 330 kohm" in found.remedy


def test_the_cold_state_counts_for_the_voltage(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    # The plate of a cold tube follows the supply; hot, the tube pulls it down.
    text = (
        "B1 --+[E1 350 V]-- gnd\nB1 --[R1 100k 2 W]-- V1.plate\nV1.grid --[R2 1M]-- gnd\n"
        "V1.cathode --[R3 1k]-- gnd\nV1.plate --[R4 330k 0.25 W]-- gnd\ntube V1 6C4\n"
    )
    found = only(review(text), "resistor.over-voltage")
    assert found.at == ("R4",)
    assert found.evidence["peak"].value == pytest.approx(350 * 330 / 430, rel=1e-3)
    # With V1 pulled it is the same voltage, but a pulled tube counts only where all else is right.
    assert (found.state, found.also_in) == ("cold", ())


@pytest.mark.parametrize(
    ("volts", "size", "limit"),
    [
        # Data sheets (found) up to 2 W; bigger bodies from memory.
        (510, "2 W", 500),
        (510, "3 W", 500),
        (740, "5 W", None),
        (760, "5 W", 750),
        (990, "10 W", None),
        (1010, "15 W", 1000),
        (1010, "25 W", None),  # not judged without a written voltage
        (1010, "25 W 900 V", 900),
    ],
)
def test_bodies_up_to_fifteen_watts(
    volts: int, size: str, limit: float | None, review: Callable[[str], Review]
) -> None:
    looked = review(bench(volts, f"R1 1M {size}"))
    found = [
        f for f in looked.findings if f.rule == "resistor.over-voltage" and f.level == "notice"
    ]
    assert [f.limit.value for f in found] == ([limit] if limit else [])
    assert all("memory" in f.source for f in found if "W" in size and limit in (750, 1000))


def test_the_pieces_proposed_share_voltage_and_power(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    found = only(review(bench(450, "R1 1M 0.5 W")), "resistor.over-voltage")
    # 450 V across 1M in 1/2 W: two of 470k (E12 next to 500k) take 225 V and 0.108 W each.
    assert "2 in series of 470 kohm" in found.remedy
    assert "108 mW" in found.remedy


def test_overload_and_voltage_of_one_resistor_are_told_once(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    found = only(review(bench(450, "R1 220k 0.5 W")), "resistor.over-power")
    # 450 V squared over 220k is 0.92 W; the body stands 350 V.
    assert found.evidence["power"].value == pytest.approx(450**2 / 220e3, rel=1e-3)
    assert "resistor.over-voltage at R1" in found.evidence["explains"]


def test_plate_load_case(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("resistor.over-voltage/plate-load", "wrong"), "resistor.over-voltage")
    # Row 112: more than 250 V across a quarter-watt body.
    assert (found.at, found.limit.value) == (("R1",), 250.0)
    assert 250 < found.evidence["peak"].value < 420


def test_dropping_resistor_case(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    found = only(sample("resistor.over-power/dropping", "wrong"), "resistor.over-power")
    # 325 V over 15.6 kohm is 20.8 mA: 1.56 W in 3.6 kohm.
    assert found.evidence["power"].value == pytest.approx((325 / 15.6e3) ** 2 * 3.6e3, rel=1e-4)


@pytest.mark.parametrize(("which", "level"), [("right", "advice"), ("wrong", "notice")])
def test_what_feeds_an_oscillator_is_hotter_at_rest_than_at_work(
    which: str, level: str, sample: Callable[..., Review], review: Callable[[str], Review]
) -> None:
    """The stage is solved at rest, with no bias; running it has some and draws less."""
    text = "\n".join(sample("signal.oscillator-in-phase/tickler", which).lines)
    looked = review(text.replace("[R2 10k 2 W]", "[R2 10k 0.5 W]") + "\n")
    found = [f.level for f in looked.findings if f.rule == "resistor.over-power"]
    assert found == [level]
