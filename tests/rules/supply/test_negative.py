"""Resistors in the negative lead: clamps, and the side the reservoir is on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

HEAD = """mains 120 V 60 Hz
transformer T1
primary pri 120 V 5 ohm
winding ht 230 V ct 230 V 80 mA 160 ohm
RES --+[C1 47 uF 500 V]-- gnd
RES --[R1 15k 20 W]-- gnd
"""
DIODES = "T1.ht.1 --[D1 1N4007]-> RES\nT1.ht.2 --[D2 1N4007]-> RES\n"
TAPPED = DIODES + "T1.ht.ct -- NEG\n"
BRIDGE = DIODES + "NEG --[D3 1N4007]-> T1.ht.1\nNEG --[D4 1N4007]-> T1.ht.2\n"
TUBE = (
    "winding fil 5 V 2 A\ntube V1 5Y3GT heater T1.fil\nT1.ht.1 -- V1.plate1\n"
    "T1.ht.2 -- V1.plate2\nV1:8 -- RES\nT1.ht.ct -- NEG\n"
)
HALF = "T1.ht.1 --[D1 1N4007]-> RES\nT1.ht.2 -- NEG\n"


def rest(wires: str) -> str:
    """The drawing; a further winding line has to stand with the transformer."""
    if not wires.startswith("winding"):
        return HEAD + wires
    line, _, more = wires.partition("\n")
    head, _, tail = HEAD.partition("RES --+")
    return f"{head}{line}\nRES --+{tail}{more}"


@pytest.mark.parametrize("wires", [TAPPED, BRIDGE, TUBE, HALF])
def test_a_shunt_in_any_return_is_found(
    wires: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    looked = review(rest(wires + "NEG --[R9 10 ohm 1 W]-- gnd\n"))
    found = only(looked, "supply.unclamped-return")
    assert (found.level, found.at) == ("warning", ("R9",))
    # The load's current, some 20 mA, in 10 ohm.
    load = looked.solutions["warm"].current("R1").dc
    assert found.evidence["drop"].value == pytest.approx(10 * load, rel=0.02)
    assert "a rectifier diode across R9" in found.remedy


@pytest.mark.parametrize(
    "clamp",
    [
        "gnd --[D8 1N4007]-> NEG\n",
        "gnd --[D8 1N4007]-> X --[D9 1N4007]-> NEG\n",
        "NEG --[Z1 zener 12 V 5 W]-> gnd\n",
    ],
)
def test_a_clamp_settles_it(
    clamp: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = rest(TAPPED + "NEG --[R9 10 ohm 1 W]-- gnd\n" + clamp)
    only(review(text), "supply.unclamped-return", count=0)


def test_a_bias_by_design_is_advice_with_a_zener(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    found = only(review(rest(TAPPED + "NEG --[R9 1k 1 W]-- gnd\n")), "supply.unclamped-return")
    assert found.level == "advice"
    assert 15 < found.evidence["drop"].value < 25
    assert "zener" in found.remedy


@pytest.mark.parametrize(
    "wires", [DIODES + "T1.ht.ct -- gnd\n", DIODES + "T1.ht.ct --[F2 0.25 A]-- gnd\n"]
)
def test_a_return_without_a_resistor_is_no_matter(
    wires: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    only(review(rest(wires)), "supply.unclamped-return", count=0)


def test_reservoir_on_the_wrong_side(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    looked = sample("capacitor.wrong-side-of-back-bias", "wrong")
    found = only(looked, "capacitor.wrong-side-of-back-bias")
    assert (found.level, found.at) == ("notice", ("C1", "R1"))
    wave = looked.solutions["warm"].between("gnd", "NEG")
    assert found.evidence["ripple_rms"].value == pytest.approx(wave.ac_rms)
    assert found.evidence["ripple_rms"].value > 0.3 * found.evidence["bias"].value
    right = sample("capacitor.wrong-side-of-back-bias", "right").solutions["warm"]
    mended = right.between("gnd", "NEG")
    # With the gulps kept out, what is left is the ripple of the choke's current.
    assert mended.ac_rms < 0.1 * mended.dc


def test_without_a_grid_on_it_ripple_does_not_matter(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = rest(TAPPED + "NEG --[R9 390 ohm 1 W]-- gnd\n")
    only(review(text), "capacitor.wrong-side-of-back-bias", count=0)


@pytest.mark.parametrize(
    ("aim", "drop", "level", "remedy"),
    [
        (0.2, 0.2, "warning", "Put a rectifier diode across R9"),
        (1.2, 1.19, "warning", "Put 3 rectifier diodes in series across R9"),
        (5.05, 4.78, "warning", "rectifier diodes in series across R9"),
        (5.6, 5.28, "advice", "Put a zener of some"),
    ],
)
def test_what_drops_five_volts_is_meant(
    aim: float,
    drop: float,
    level: str,
    remedy: str,
    review: Callable[[str], Review],
    only: Callable[..., object],
) -> None:
    wires = TAPPED + "NEG --[R9 {:.5g} ohm 5 W]-- gnd\n"
    load = review(rest(wires.format(10))).solutions["warm"].current("R1").dc
    found = only(review(rest(wires.format(aim / load))), "supply.unclamped-return")
    assert found.evidence["drop"].value == pytest.approx(drop, rel=0.02)
    assert found.level == level
    assert remedy in found.remedy


@pytest.mark.parametrize("across", ["M1 milliammeter 300 mA 0.5 ohm", "L9 2 H 60 ohm"])
def test_what_lies_across_the_resistor_holds_the_minus(
    across: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """With the resistor open the meter or choke still joins the minus to gnd."""
    text = rest(TAPPED + f"NEG --[R9 47 ohm 5 W]-- gnd\nNEG --[{across}]-- gnd\n")
    only(review(text), "supply.unclamped-return", count=0)
