"""The charge left after switch-off, as the rule tells it; the physics is tested with the solver."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.rules.model import Review


def supply(rest: str) -> str:
    return (
        "mains 120 V 60 Hz\ntransformer T1\nprimary pri 120 V 8 ohm\n"
        "winding ht 230 V 60 mA 200 ohm\nT1.ht.2 -- gnd\nT1.ht.1 --[D1 1N4007]-> RES\n" + rest
    )


def test_without_any_drain_the_finding_is_a_danger(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    found = only(review(supply("RES --+[C1 47 uF 450 V]-- gnd\n")), "supply.no-bleeder")
    assert (found.level, found.state, found.at) == ("danger", "off", ("C1",))
    volts = found.evidence["voltage_v"]
    # Crest of 230 V at the high line, up to 6 % more without load (regulation written above).
    assert 230 * math.sqrt(2) * 1.1 * 0.98 < volts < 230 * math.sqrt(2) * 1.1 * 1.08
    assert found.evidence["energy_j"] == pytest.approx(0.5 * 47e-6 * volts**2, rel=1e-6)
    assert found.evidence["time_s"] == "never"
    # R = 30 s / (C ln(V / 60)), the next E12 value below; and its watts.
    exact = 30 / (47e-6 * math.log(volts / 60))
    assert 330e3 == found.evidence["bleeder_ohm"] < exact < 390e3
    assert found.evidence["bleeder_w"] == pytest.approx(volts**2 / 330e3, rel=1e-6)


def test_a_slow_bleeder_is_timed(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = supply("RES --+[C1 100 uF 450 V]-- gnd\nRES --[R1 1M 1 W]-- gnd\n")
    found = only(review(text), "supply.no-bleeder")
    by_hand = 100.0 * math.log(found.evidence["voltage_v"] / 60)
    assert found.evidence["time_s"] == pytest.approx(by_hand, rel=1e-3)
    assert found.excess == pytest.approx(by_hand / 60, rel=1e-3)


@pytest.mark.parametrize(
    "rest",
    [
        "RES --+[C1 47 uF 450 V]-- gnd\nRES --[R1 220k 2 W]-- gnd\n",
        # 45 uC limit of IEC 60335-1 cl. 8.1.4 (found): 0.1 uF at some 370 V holds 37 uC.
        "RES --+[C1 100 nF 630 V]-- gnd\n",
        # The series diode drains the first capacitor into the second's bleeder.
        "RES --+[C1 47 uF 450 V]-- gnd\nRES --[D2 1N4007]-> B1\n"
        "B1 --+[C2 47 uF 450 V]-- gnd\nB1 --[R1 100k 3 W]-- gnd\n",
    ],
)
def test_drained_or_small_charges_are_left_alone(
    rest: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    only(review(supply(rest)), "supply.no-bleeder", count=0)


def test_capacitors_joined_by_a_choke_are_one_finding(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    rest = (
        "RES --+[C1 20 uF 450 V]-- gnd\nRES --[L1 8 H 250 ohm]-- B1\nB1 --+[C2 40 uF 450 V]-- gnd\n"
    )
    found = only(review(supply(rest)), "supply.no-bleeder")
    assert found.at == ("C2", "C1")


def test_a_bench_source_that_may_drain_it_is_not_judged(review: Callable[[str], Review]) -> None:
    looked = review("B1 --+[E1 300 V]-- gnd\nB1 --[R1 1k 1 W]-- B2\nB2 --+[C1 47 uF 450 V]-- gnd\n")
    assert "supply.no-bleeder" not in {f.rule for f in looked.findings}
    (said,) = [n for n in looked.not_judged if n.rule == "supply.no-bleeder"]
    assert (said.at, "E1" in said.reason) == (("C1",), True)
