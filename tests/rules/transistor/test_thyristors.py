"""Thyristors and triacs against what kills them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review


def told(review: Review, rule: str) -> list[Finding]:
    return [f for f in review.findings if f.rule == rule]


def test_too_many_volts(sample: Callable[[str, str], Review]) -> None:
    """250 V rms and no load: 353 V peak, a tenth more at high line, less the winding's drop."""
    (hit,) = told(sample("transistor.thyristor-over-voltage", "wrong"),
                  "transistor.thyristor-over-voltage")  # fmt: skip
    assert (hit.at, hit.level, hit.state) == (("SCR1",), "notice", "high line")
    assert hit.evidence["used"].value == pytest.approx(250 * 2**0.5 * 1.1, rel=0.04)
    assert hit.limit is not None
    assert hit.limit.value == 200


@pytest.mark.parametrize(("volts", "found"), [("344 V", True), ("380 V", False)])
def test_written_volts_count(volts: str, found: bool, review: Callable[[str], Review]) -> None:
    text = "B --+[E1 350 V]-- gnd\nB --[R1 100k]-- SCR1.a\nSCR1.k -- gnd\n"
    text += f"thyristor SCR1 {volts} 4 A\n"
    assert bool(told(review(text), "transistor.thyristor-over-voltage")) is found


CROWBAR = """B --+[E1 24 V 0.5 ohm]-- gnd
B --{fuse}-- SCR1.a
SCR1.k -- gnd
thyristor SCR1 400 V {amps}
SCR1.g --[R3 1k]-- gnd
"""


@pytest.mark.parametrize(
    ("fuse", "amps", "found"),
    [
        (" ", "4 A", True),
        ("[F1 2 A 32 V]", "4 A", False),
        ("[F1 16 A 32 V]", "4 A", False),
        ("[F1 18 A 32 V]", "4 A", True),
        (" ", "40 A", False),
    ],
)
def test_a_crowbar_and_its_fuse(
    fuse: str, amps: str, found: bool, review: Callable[[str], Review]
) -> None:
    """(24 - 0.9) V over 0.6 ohm are 38.5 A, over 0.65 with a fuse 35.5: 2.1 times 16.9 A."""
    text = CROWBAR.format(fuse=fuse, amps=amps).replace("-- --", "--")
    hits = told(review(text), "transistor.thyristor-overload")
    assert [f.state for f in hits] == (["fired SCR1"] if found else [])
    if found and fuse == " ":
        assert hits[0].evidence["used"].value == pytest.approx(23.1 / 0.6, rel=1e-3)


GATE = "B --+[E1 {volts} V]-- gnd\nB --[R1 {ohms}]-- SCR1.g\nSCR1.k -- gnd\n" \
       "thyristor SCR1 C106D\nC --+[E2 24 V]-- gnd\nC --[R2 100 ohm 10 W]-- SCR1.a\n"  # fmt: skip


@pytest.mark.parametrize(("ohms", "found"), [("54 ohm", True), ("56 ohm", False)])
def test_the_gate(ohms: str, found: bool, review: Callable[[str], Review]) -> None:
    """(12 - 0.7) V over 0.2 A are 56.5 ohm, 2 of them the gate's."""
    hits = told(review(GATE.format(volts=12, ohms=ohms)), "transistor.thyristor-gate-overload")
    assert bool(hits) is found


@pytest.mark.parametrize(("volts", "found"), [(6.5, True), (5.5, False)])
def test_a_gate_backwards(volts: float, found: bool, review: Callable[[str], Review]) -> None:
    text = (
        GATE.format(volts=volts, ohms="1k")
        .replace("+[E1", "[E1")
        .replace(" V]-- gnd\nB", " V]+-- gnd\nB")
    )
    hits = told(review(text), "transistor.thyristor-gate-overload")
    assert bool(hits) is found
    if found:
        assert hits[0].evidence["used"].value == pytest.approx(volts, rel=0.01)
