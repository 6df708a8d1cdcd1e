"""Screens of resistance-loaded pentodes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.rules.tube.screen import screen_undropped

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

TEXT = """tube V1 EF86
B1 --+[E1 {supply} V]-- gnd
B1 --[R1 {load} 1 W]-- V1.plate
V1.cathode --[R2 {bias}]-- gnd
V1.suppressor -- V1.cathode
V1.grid --[R3 1M]-- gnd
{screen}
"""
BYPASS = "V1.screen --[C1 100 nF 400 V]-- gnd"


@pytest.mark.parametrize(
    ("load", "bias", "screen", "found"),
    [
        ("220k", "1k5", "B1 -- V1.screen", True),
        ("220k", "1k5", f"B1 --[R4 10k]-- V1.screen\n{BYPASS}", True),
        ("220k", "1k5", f"B1 --[R4 27k]-- V1.screen\n{BYPASS}", False),  # more than a tenth
        ("220k", "2k2", f"B1 --[R4 1M]-- V1.screen\n{BYPASS}", False),  # as published
        ("47k", "2k2", "B1 -- V1.screen", False),  # the bias holds the current down
        ("220k", "1k5", "V1.plate -- V1.screen", False),  # a triode
    ],
)
def test_the_plate_has_run_down(
    load: str, bias: str, screen: str, found: bool, review: Callable[[str], Review]
) -> None:
    looked = review(TEXT.format(supply=180, load=load, bias=bias, screen=screen))
    assert looked.readable
    assert [n for n in looked.not_judged if n.kind.broken] == []
    findings = [f for f in looked.findings if f.rule == "tube.screen-undropped"]
    assert [f.level for f in findings] == (["notice"] if found else [])
    for finding in findings:
        # Ohm: what the plate is short of the supply is in its load.
        reading = looked.solutions["warm"].readings["V1"]
        drop = reading.plate_ma * 220 + reading.cathode_v
        assert finding.evidence["plate"].value == pytest.approx(180 - drop, abs=0.05)
        assert finding.limit.value == pytest.approx(27.0)


@pytest.mark.parametrize(
    ("load", "screen", "count"),
    [
        ("9k5", "B1 -- V1.screen", 0),  # below 10 kohm a plate has another kind of load
        ("10k5", "B1 -- V1.screen", 1),
        ("20k", "B1 --[R4 1k9 5 W]-- V1.screen", 1),
        ("20k", "B1 --[R4 2k1 5 W]-- V1.screen", 0),  # more than a tenth of the load
    ],
)
def test_the_least_load_and_the_largest_share_of_it(
    load: str, screen: str, count: int, review: Callable[[str], Review]
) -> None:
    """An EL84 that draws 48 mA from 250 V rests on the bottom behind either."""
    text = TEXT.format(supply=250, load=load, bias="150", screen=screen).replace("EF86", "EL84")
    looked = review(text.replace("V1.suppressor -- V1.cathode\n", ""))
    # The engine tells it with an overloaded screen.
    found = list(screen_undropped.judge(Case(looked.circuit, looked.solutions)))
    assert len(found) == count


def test_the_row_of_the_missing_dropper(
    sample: Callable[..., Review], only: Callable[..., object]
) -> None:
    """EF86: 200 V on the screen (found); 250 V less the bias stands on it."""
    found = only(sample("tube.screen-voltage/no-dropper", "wrong"), "tube.screen-voltage")
    assert found.limit.value == 200
    assert 240 < found.evidence["screen_to_cathode"].value < 250


LOOSE = "tube.screen-unbypassed"
PAIR = Path(__file__).parents[3] / "samples" / "mistakes" / LOOSE / "wrong.tube"
FED = "B1 --[R4 1M 0.5 W]-- V1.screen"


def test_a_screen_without_its_capacitor(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(LOOSE, "wrong"), LOOSE)
    assert (found.at, found.level) == (("V1.screen", "V1", "R4"), "notice")
    assert found.evidence["screen resistor"].value == pytest.approx(1e6)
    assert found.remedy.startswith("Put 470 nF")
    assert [f for f in sample(LOOSE, "right").findings if f.rule == LOOSE] == []


@pytest.mark.parametrize(
    ("old", "new", "fires"),
    [
        (FED, f"{FED}\nV1.screen --[R9 470k]-- gnd", True),  # a divider moves as well
        (FED, f"{FED}\nV1.screen --[C9 47n 400 V]-- V1.cathode", False),
        (FED, "B1 --[R4 23k 0.5 W]-- V1.screen", True),
        (FED, "B1 --[R4 21k 0.5 W]-- V1.screen", False),
        # Fed from a point that holds still at radio frequencies.
        (FED, "B1 --[R9 1k]-- B2 --[C9 1.05n 400 V]-- gnd\nB2 --[R4 1M 0.5 W]-- V1.screen", True),
        (FED, "B1 --[R9 1k]-- B2 --[C9 0.95n 400 V]-- gnd\nB2 --[R4 1M 0.5 W]-- V1.screen", False),
        (FED, "V1.plate --[R4 100k 0.5 W]-- V1.screen", False),  # joined as a triode
        ("IN -- V1.grid", "V1.grid -- gnd", False),
    ],
)
def test_which_screens_are_free_to_move(
    old: str, new: str, fires: bool, review: Callable[[str], Review]
) -> None:
    text = PAIR.read_text("utf-8")
    assert old in text
    found = [f for f in review(text.replace(old, new)).findings if f.rule == LOOSE]
    assert bool(found) is fires
