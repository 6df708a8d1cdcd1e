"""The buffer capacitor of a vibrator, and its battery."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

PACK = (
    Path(__file__).parents[3] / "samples/mistakes/supply.no-buffer-capacitor/wrong.tube"
).read_text("utf-8")


def told(review: Review, rule: str) -> list[Finding]:
    return [f for f in review.findings if f.rule == rule]


@pytest.mark.parametrize(
    ("buffer", "found"),
    [
        ("", True),
        ("T1.ht.1 --[C2 6.8n 2000 V]-- T1.ht.2", False),
        ("T1.ht.1 --[R2 4k7]--[C2 6.8n 2000 V]-- T1.ht.2", False),
        ("T1.ht.1 --[R2 15k]--[C2 6.8n 2000 V]-- T1.ht.2", True),
        ("T1.ht.1 --[C2 10n 2000 V]-- gnd", False),
        ("T1.pri.1 --[C2 1 uF 100 V]-- T1.pri.2", False),
        ("RES --[C2 10n 2000 V]-- gnd", True),
    ],
)
def test_the_buffer(buffer: str, found: bool, review: Callable[[str], Review]) -> None:
    hits = told(review(f"{PACK}{buffer}\n"), "supply.no-buffer-capacitor")
    assert [(f.at, f.level) for f in hits] == ([(("VB1", "T1"), "notice")] if found else [])


@pytest.mark.parametrize(
    ("battery", "found"), [("8.3", False), ("8.5", True), ("4.3", False), ("4.2", True)]
)
def test_its_battery(battery: str, found: bool, review: Callable[[str], Review]) -> None:
    """6 V by 1.4 either way: 4.29 to 8.4 V."""
    hits = told(review(PACK.replace("[E1 6 V", f"[E1 {battery} V")), "supply.vibrator-voltage")
    assert bool(hits) is found
    if found:
        assert hits[0].evidence["battery"].value == pytest.approx(float(battery), rel=1e-3)


def test_the_rms_of_a_chopped_primary_is_not_judged(review: Callable[[str], Review]) -> None:
    assert not told(review(PACK), "supply.primary-voltage")
