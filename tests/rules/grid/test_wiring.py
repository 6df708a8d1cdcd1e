"""Stoppers, grid-leak bias with a way round it, and direct current in a volume control."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review


def found(review: Review, rule: str) -> list[Finding]:
    return [f for f in review.findings if f.rule == rule]


STAGE = """tube V1 {tube}
B1 --+[E1 150 V]-- gnd
B1 --[R1 10k 2 W]-- V1.plate
V1.cathode --[R2 270]-- gnd
signal IN 0.1 V 1 kHz
{grid}
"""


@pytest.mark.parametrize(
    ("tube", "grid", "advised"),
    [
        # EL84 11.3 mA/V (found), EL34 11 mA/V, 6J5 2.6 mA/V, 6V6GT 4.1 mA/V.
        ("EL84", "IN --[R3 470k]-- gnd\nIN -- V1.grid", True),
        ("EL84", "IN --[R3 470k]-- gnd\nIN --[R4 1k]-- V1.grid", False),
        ("EL84", "IN --[R3 470k]-- gnd\nIN --[R4 105]-- V1.grid", False),
        ("EL84", "IN --[R3 470k]-- gnd\nIN --[R4 95]-- V1.grid", True),
        ("EL84", "IN --[R4 1k]-- V1.grid\nV1.grid --[R3 470k]-- gnd", False),
        ("EL84", "V1.grid -- gnd", False),
        ("EL84", "IN --[C1 100n 400 V]-- V1.grid", True),
        ("6J5", "IN --[R3 470k]-- gnd\nIN -- V1.grid", False),
        ("6V6GT", "IN --[R3 470k]-- gnd\nIN -- V1.grid", False),
    ],
)
def test_only_a_stopper_and_a_leak_are_on_the_grid(
    tube: str, grid: str, advised: bool, review: Callable[[str], Review]
) -> None:
    findings = found(review(STAGE.format(tube=tube, grid=grid)), "grid.no-stopper")
    assert [(f.level, f.at) for f in findings] == ([("advice", ("V1",))] if advised else [])


LEAK = """tube V1 12AX7
B1 --+[E1 250 V]-- gnd
B1 --[R1 220k 0.5 W]-- V1A.plate
V1A.cathode {cathode}-- gnd
signal IN 0.1 V 1 kHz
{wires}
V1A.grid --[R2 {leak}]-- gnd
"""


@pytest.mark.parametrize(
    ("cathode", "leak", "wires", "seen"),
    [
        ("", "10M", "IN --[C1 10 nF 100 V]-- V1A.grid", None),
        ("", "10M", "IN -- V1A.grid", 0.0),
        ("", "10M", "IN --[R3 47k]-- V1A.grid", 47e3),
        ("", "10M", "IN --[C1 10 nF 100 V]-- X\nX --[R3 1M]-- gnd\nX -- V1A.grid", 0.90909e6),
        ("", "2M1", "IN -- V1A.grid", None),  # an ordinary leak
        ("", "2M3", "IN -- V1A.grid", 0.0),
        ("--[R4 1k5]", "10M", "IN -- V1A.grid", None),  # bias by the cathode
    ],
)
def test_a_way_round_the_leak(
    cathode: str, leak: str, wires: str, seen: float | None, review: Callable[[str], Review]
) -> None:
    looked = review(LEAK.format(cathode=cathode, leak=leak, wires=wires))
    findings = found(looked, "grid.leak-bias-shunted")
    assert [f.evidence["grid"].value for f in findings] == (
        [] if seen is None else [pytest.approx(seen, rel=1e-4, abs=1.0)]
    )
    assert {(f.level, f.at) for f in findings} <= {("notice", ("V1A", "R2"))}


def test_a_control_on_the_plate(sample: Callable[[str, str], Review]) -> None:
    looked = sample("grid.control-passes-dc", "wrong")
    (one,) = found(looked, "grid.control-passes-dc")
    assert (one.level, one.at, one.state) == ("notice", ("P1", "V1A"), "warm")
    # The plate's voltage over the track.
    plate = looked.solutions["warm"].wave("V1A.plate").dc
    assert (one.evidence["track"].value * 1000) == pytest.approx(plate / 500, rel=1e-3)


def test_the_load_of_a_detector_is_left_alone(review: Callable[[str], Review]) -> None:
    text = (
        "tube V1 12AX7\npot P1 500k\nB1 --+[E1 250 V]-- gnd\nDET --+[E2 3 V]-- gnd\n"
        "DET -- P1.top\nP1.bottom -- gnd\nP1.wiper --[C1 10 nF 100 V]-- V1A.grid\n"
        "V1A.grid --[R1 1M]-- gnd\nV1A.cathode --[R2 1k5]-- gnd\nB1 --[R3 100k]-- V1A.plate\n"
    )
    assert found(review(text), "grid.control-passes-dc") == []


FOLLOWER = """tube V1 12AU7
B1 --+[E1 250 V]-- gnd
V1A.grid --[R1 1M]-- gnd
B1 -- V1A.plate
V1A.cathode --[R2 22k 2 W]-- gnd
{between}
pot P1 100k at 50 %
P1.bottom -- gnd
P1.wiper --[C2 100 nF]-- V1B.grid --[R3 1M]-- gnd
V1B.cathode --[R4 1k]-- gnd
B1 --[R5 47k 1 W]-- V1B.plate
"""


def test_a_followers_direct_current_in_a_control(review: Callable[[str], Review]) -> None:
    def found(between: str) -> list[tuple[str, ...]]:
        looked = review(FOLLOWER.format(between=between))
        assert not [n for n in looked.not_judged if "failed" in n.reason]
        return [f.at for f in looked.findings if f.rule == "grid.control-passes-dc"]

    assert found("V1A.cathode --[R6 10k]-- P1.top") == [("P1", "V1A")]
    assert found("V1A.cathode --[C1 1 uF]-- P1.top") == []
