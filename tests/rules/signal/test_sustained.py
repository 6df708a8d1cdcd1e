"""Stages that drive each other in a ring: what is told, and where it is meant."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.stages-sustain-each-other"
WRONG = Path(__file__).parents[3] / "samples" / "mistakes" / RULE / "wrong.tube"

AT_R2 = "V1A.cathode -- V1B.cathode --[R2 820]-- gnd"


def fired(looked: Review) -> bool:
    assert looked.readable
    assert [n for n in looked.not_judged if n.kind.broken] == []
    return RULE in {f.rule for f in looked.findings}


def test_the_ring_by_hand(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    """How fast it grows, from the gain round the ring (arithmetic of grounded-grid and follower).

    Each half at 0.8 mA: mu 100, rp some 75 kohm, 91 kohm of load for the first. From its cathode to
    its plate 101 * 91 / (75 + 91) = 55; from there the second half's cathode follows into 820 ohm
    beside the first's own (75k + 91k) / 101 = 1.64 kohm: 0.55 / (0.55 + 1.64 + some) = 0.25, so 14
    round the ring. Through 22 nF and 1.04 Mohm, 23 ms, it grows e times in (14 - 1) * 23 ms.
    """
    found = only(sample(RULE, "wrong"), RULE)
    assert (found.level, found.at[0], found.state) == ("notice", "R2", "warm")
    assert set(found.at) == {"R2", "V1A", "V1B", "C1"}
    assert found.evidence["grows_e_fold_in"].value == pytest.approx(0.3, rel=0.2)
    assert "R2" in found.remedy


@pytest.mark.parametrize(
    ("change", "tells"),
    [
        # With C across R2, which sees 0.41k with both cathodes, it grows while 14 times the 23 ms
        # of the coupling is more than they and C 0.41k together: below some 0.7 mF.
        ((AT_R2, f"{AT_R2}\nV1A.cathode --+[C3 470 uF 25 V]-- gnd"), True),
        ((AT_R2, f"{AT_R2}\nV1A.cathode --+[C3 1000 uF 25 V]-- gnd"), False),
        # With nothing from outside it may be meant: a multivibrator coupled at its cathodes.
        (("signal IN 20 mV\n", ""), False),
        # A long-tailed pair: the second grid is at rest.
        (("V1B.grid --[R4 1M]-- gnd", "OUTA --[R4 1M]-- gnd\nV1B.grid -- gnd"), False),
    ],
)  # fmt: skip
def test_where_it_tells(
    review: Callable[[str], Review], change: tuple[str, str], *, tells: bool
) -> None:
    text = WRONG.read_text("utf-8")
    assert change[0] in text
    assert fired(review(text.replace(*change))) is tells


def test_a_way_back_to_the_wrong_grid(review: Callable[[str], Review]) -> None:
    """From the second plate to the first grid are two reversals: what comes back adds.

    Of the second plate's signal 91 kohm of 1.09 Mohm are left there, and the two halves make some
    25 * 25 of it.
    """
    own = "V1A.cathode --[R7 1k5]-- gnd\nV1B.cathode --[R2 1k5]-- gnd"
    back = "V1B.plate --[C4 100 nF 400 V film]-- FB --[R8 1M]-- V1A.grid"
    text = WRONG.read_text("utf-8").replace(AT_R2, f"{own}\n{back}")
    looked = review(text.replace("IN -- V1A.grid", "IN --[R9 100k]-- V1A.grid"))
    (found,) = (f for f in looked.findings if f.rule == RULE)
    assert set(found.at) == {"V1A", "V1B", "C1", "C4", "R8"}
    assert "Take off" in found.remedy
