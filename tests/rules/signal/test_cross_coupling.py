"""Halves of multivibrators that feed themselves, and stages that may have such a capacitor."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

ITSELF = "signal.cross-coupled-to-itself"
PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"
OWN = (PAIRS / ITSELF / "wrong.tube").read_text("utf-8")
UNHEARD = (PAIRS / ITSELF / "unheard" / "wrong.tube").read_text("utf-8")


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == ITSELF]


@pytest.mark.parametrize(
    ("case", "at", "remedy"),
    [
        ("", ("C2", "V1A", "V1B"), "Take C2 from V1B.plate in place of V1A.plate"),
        ("/unheard", ("C2", "V1B", "V1A"), "Take C2 to V1A.grid in place of V1B.grid"),
    ],
)
def test_a_capacitor_back_to_its_own_grid(
    case: str,
    at: tuple[str, ...],
    remedy: str,
    sample: Callable[[str, str], Review],
    only: Callable[..., object],
) -> None:
    found = only(sample(ITSELF + case, "wrong"), ITSELF)
    assert (found.at, found.state, found.level) == (at, "drawing", "notice")
    assert found.remedy == remedy
    assert told(sample(ITSELF + case, "right")) == []


def test_both_dividers_on_one_grid(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(f"{ITSELF}/one-grid", "wrong"), ITSELF)
    assert found.at == ("R3", "V1A", "V1B")
    assert found.remedy == "Take R3 to V1B.grid in place of V1A.grid"
    assert told(sample(f"{ITSELF}/one-grid", "right")) == []


def test_the_other_half_without_bias_follows_from_it(sample: Callable[[str, str], Review]) -> None:
    (found,) = [f for f in sample(ITSELF, "wrong").findings if f.rule == ITSELF]
    assert "grid.leak-makes-no-bias" in str(found.evidence["explains"])


@pytest.mark.parametrize(
    ("text", "old", "new"),
    [
        (OWN, "GA --[R5 10k]-- V1A.grid", "GA -- V1A.grid"),
        (OWN, "V1B.grid --[R3 220k]-- gnd", "V1B.grid --[R3 220k]-- B1"),
        (
            OWN,
            "tube V1 12AU7",
            "switch S1 spst\ntube V1 12AU7\nGA -- S1.common\nS1.1 -- GX --[R8 1M]-- gnd",
        ),
        (UNHEARD, "C1 3n3 400 V film]-- V1B.grid", "C1 3n3 400 V]-- GB --[R7 10k]-- V1B.grid"),
        # A trigger at the plate is no signal at the grid.
        (OWN, "C3 10 nF", "C4 100p 500 V]-- V2A.plate\nV1B.plate --[C3 10 nF"),
    ],
)
def test_still_found(text: str, old: str, new: str, review: Callable[[str], Review]) -> None:
    assert old in text
    other = "tube V2 12AU7\nV2A.grid -- gnd\nV2A.cathode -- gnd\nB1 --[R9 47k 2 W]-- V2A.plate\n"
    changed = text.replace(old, new) + (other if "V2A" in new else "")
    assert len(told(review(changed))) == 1


@pytest.mark.parametrize(
    ("text", "old", "new"),
    [
        # A signal, a third stage or a lead in the open at the grid; a diode that gates it.
        (OWN, "GA --[R5", "signal IN 1 V\nIN --[R8 100k]-- GA --[R5"),
        (OWN, "GA --[R5", "GA --[C8 1 nF 400 V]-- V2A.plate\nGA --[R5"),
        (OWN, "GA --[R5", "IN --[R8 100k]-- GA --[R5"),
        (OWN, "GA --[R5", "GA --[D1 1N4148]-> gnd\nGA --[R5"),
        # A phase-shift network, of three capacitors or with one of them to gnd.
        (OWN, "GA --[R4 220k]", "GC --[R8 220k]-- gnd\nGC --[C8 3n3 400 V]-- GA --[R4 220k]"),
        (OWN, "GA --[R5", "GA --[C8 1 nF 400 V]-- gnd\nGA --[R5"),
        # Feedback that passes DC as well; a coil or a crystal.
        (OWN, "GA --[R5", "V1A.plate --[R8 1M]-- GA --[R5"),
        (OWN, "R1 47k 2 W", "L1 10 mH 50 ohm"),
        (OWN, "R4 220k", "L1 10 mH 50 ohm"),
        (OWN, "GA --[R5", "GA --[X1 crystal 1 MHz]-- gnd\nGA --[R5"),
        # Halves that their cathodes couple.
        (OWN, "V1A.cathode -- gnd\nV1B.cathode --", "V1A.cathode -- V1B.cathode --[R8 1k]--"),
        # No second half: it drives nothing, or a stage of another type.
        (OWN, "V1B.grid --[R3", "GB --[R8 220k]-- gnd\nV1B.grid --[R3 22k]-- gnd\nGB --[R9"),
        (OWN, "V1A.plate --[C1 3n3 400 V film]-- V1B", "V1A.plate --[C1 3n3 400 V]-- V2A"),
        # The first half hears something, or has its grid on gnd.
        (UNHEARD, "GA --[R5", "signal IN 1 V\nIN --[R8 100k]-- GA --[R5"),
        (UNHEARD, "GA --[R5 10k]-- V1A.grid", "V1A.grid -- gnd"),
        # A second capacitor of the pair is in place: the one beside it is a correction.
        (UNHEARD, "GA --[R5", "V1B.plate --[C8 3n3 400 V]-- GA --[R5"),
    ],
)  # fmt: skip
def test_left_alone(text: str, old: str, new: str, review: Callable[[str], Review]) -> None:
    assert old in text
    other = (
        "tube V2 12AX7\nV2A.cathode -- gnd\nB1 --[R9 100k 2 W]-- V2A.plate\n"
        "V2A.grid --[R10 1M]-- gnd\n"
    )
    changed = text.replace(old, new) + (other if "V2A" in new else "")
    assert told(review(changed)) == []


def test_a_range_of_a_switch(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """The position in which the switch is drawn is right."""
    found = only(sample(f"{ITSELF}/range", "wrong"), ITSELF)
    assert found.at == ("C2", "V1A", "V1B")
    assert found.message.startswith("with S1 thrown, C2 leads")
    assert found.remedy == "Take C2 to V1B.grid in place of V1A.grid"
    assert told(sample(f"{ITSELF}/range", "right")) == []
