"""Record equalisers of any form: the response with one value a decade off, and mended."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from coldcheck.rules.signal.record_curve import AT_HZ, MOST_PARTS, _curve

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

RULE, FORMS = "signal.record-curve-missed", "signal.equaliser-decade-off"
LOAD, PAIRS = "signal.cartridge-load-off", Path("samples/mistakes")
SPLIT = Path("samples/mistakes") / RULE / "right.tube"
FEEDBACK = """tube V1 12AX7
B1 --+[E1 290 V]-- gnd
signal IN 5 mV 1 kHz
IN -- V1A.grid --[R1 47k]-- gnd
V1A.cathode --[R2 1k 0.5 W]-- gnd
B1 --[R3 220k 1 W]-- V1A.plate --[C2 100 nF 400 V film]-- V1B.grid --[R5 1M 0.5 W]-- gnd
V1B.cathode --[R6 1k5 0.5 W]-- gnd
V1B.cathode --+[C4 220 uF 16 V]-- gnd
B1 --[R7 100k 1 W]-- V1B.plate --[C5 470 nF 400 V film]-- OUT --[R10 470k 0.5 W]-- gnd
OUT --[R8 1M]-- M --[R9 82k]-- N --[C8 470 nF 400 V film]-- V1A.cathode
OUT --[C6 3.3 nF 400 V film]-- M --[C7 1 nF 400 V film]-- N
"""


def told(looked: Review, rule: str = RULE) -> list[Finding]:
    assert looked.readable
    return [f for f in looked.findings if f.rule == rule]


def drawn(text: str, *edits: tuple[str, str]) -> str:
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def test_the_curve_is_the_published_one() -> None:
    """1 kHz apart, 50 Hz is 16.95 dB up and 10 kHz 13.73 dB down (tables of the curve; memory)."""
    at = np.interp(np.log([50.0, 1e3, 10e3]), np.log(AT_HZ), _curve())
    assert at[0] - at[1] == pytest.approx(16.95, abs=0.3)
    assert at[2] - at[1] == pytest.approx(-13.73, abs=0.3)


@pytest.mark.parametrize(
    ("edits", "at"),
    [
        ([], None),
        ([("C3 1 nF", "C3 10 nF")], "C3"),
        ([("C3 1 nF", "C3 100 pF")], "C3"),
        ([("C6 22 nF", "C6 220 nF")], "C6"),
        ([("C6 22 nF", "C6 2.2 nF")], "C6"),
        ([("R9 15k", "R9 1k5")], "R9"),
        ([("R9 15k", "R9 150k")], "R9"),
        # Half as much again is no decade, and two at once are not looked for.
        ([("C6 22 nF", "C6 68 nF")], None),
        ([("C3 1 nF", "C3 10 nF"), ("R9 15k", "R9 150k")], None),
        # No equaliser at all, and one that is only a treble cut.
        ([("EQ --[C3 1 nF 160 V film]-- gnd   # mended\n", ""),
          ("M --[C6 22 nF 160 V film]-- gnd", "M --[C6 22 uF 160 V]-- gnd")], None),
        ([("M --[C6 22 nF 160 V film]-- gnd", "M --[C6 22 uF 160 V]-- gnd")], None),
    ],
)  # fmt: skip
def test_sections_in_two_stages(
    edits: list[tuple[str, str]], at: str | None, review: Callable[[str], Review]
) -> None:
    hits = told(review(drawn(SPLIT.read_text("utf-8"), *edits)))
    assert [(f.at, f.level, f.state) for f in hits] == ([((at,), "notice", "warm")] if at else [])
    for f in hits:
        assert f.evidence["mended_db"].value < 1.0 < 3.0 < f.evidence["off_by_db"].value
        assert f.limit.value == 1.0


@pytest.mark.parametrize(
    ("edits", "at"),
    [
        ([], None),
        ([("C7 1 nF", "C7 10 nF")], "C7"),
        ([("C6 3.3 nF", "C6 330 pF")], "C6"),
        ([("R9 82k", "R9 8k2")], "R9"),
        ([("R9 82k", "R9 820k")], "R9"),
    ],
)
def test_one_in_the_feedback(
    edits: list[tuple[str, str]], at: str | None, review: Callable[[str], Review]
) -> None:
    """Two pairs of R and C, which the other rule knows as well: what it names comes first."""
    looked = review(drawn(FEEDBACK, *edits))
    hits = [*told(looked), *told(looked, FORMS)]
    assert [f.at[0] for f in hits] == ([at] if at else [])


def test_without_a_signal_nothing_is_looked_at(review: Callable[[str], Review]) -> None:
    text = drawn(SPLIT.read_text("utf-8"), ("C3 1 nF", "C3 10 nF"))
    assert not told(review(drawn(text, ("signal IN 5 mV 1 kHz\n", ""))))


def test_a_drawing_of_very_many_parts_is_not_looked_at(review: Callable[[str], Review]) -> None:
    text = drawn(SPLIT.read_text("utf-8"), ("C3 1 nF", "C3 10 nF"))
    more = "".join(f"B1 --[R{k} 10M]-- gnd\n" for k in range(100, 100 + MOST_PARTS))
    assert not told(review(text + more))
    assert told(review(text + more.partition("B1 --[R150 ")[0]))


@pytest.mark.parametrize(
    ("ohms", "told"),
    [("4k7", 1), ("470 ohm", 1), ("470k", 1), ("47k", 0), ("27k", 0), ("100k", 0), ("15 ohm", 0)],
)
def test_the_load_of_a_magnetic_cartridge(
    ohms: str, told: int, review: Callable[[str], Review]
) -> None:
    """47 kohm is usual, 15 to 220 kohm is let through, and what no nought mends is not judged."""
    text = (PAIRS / "signal.cartridge-load-off" / "wrong.tube").read_text("utf-8")
    found = [f for f in review(text.replace("R1 4k7", f"R1 {ohms}")).findings if f.rule == LOAD]
    assert [f.at for f in found] == [("R1", "PU")] * told


def test_a_moving_coil_or_a_line_is_no_magnetic_cartridge(review: Callable[[str], Review]) -> None:
    text = (PAIRS / "signal.cartridge-load-off" / "wrong.tube").read_text("utf-8")
    for volts in ("0.4 mV", "200 mV"):
        found = review(text.replace("PU 4 mV", f"PU {volts}")).findings
        assert [f.rule for f in found if f.rule == LOAD] == []
