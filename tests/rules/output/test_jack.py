"""Jacks at the secondary, and what their contacts leave across it when the plug is pulled."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

STAGE = """output T2 5k : 8 ohm  250 ohm
tube V1 6V6GT
jack J1
jack J2
B1 --+[E1 250 V]-- gnd
B1 -- T2.p1
T2.p2 -- V1.plate
B1 --[R1 1k 1 W]-- V1.screen
V1.grid --[R2 470k]-- gnd
V1.cathode --[R3 330 ohm 3 W]-- gnd
T2.s2 -- J1.sleeve
J1.sleeve -- gnd
J1.tip --[LS1 speaker 8 ohm]-- J1.sleeve
"""
RIGHT_ON, TO_TIP = "T2.s1 -- J1.tip\n", "J1.switch -- T2.s1\n"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == "output.shorting-defeated"]


@pytest.mark.parametrize(
    ("wires", "found"),
    [
        (RIGHT_ON + TO_TIP, True),
        (RIGHT_ON + "J1.switch -- J1.sleeve\n", False),
        (RIGHT_ON, False),  # not wired at all: output.no-permanent-load
        # On a part alone, with no other name: 10 ohm are a load, 2.2 kohm are none.
        (RIGHT_ON + "J1.switch --[R9 10 ohm 5 W]-- J1.sleeve\n", False),
        (RIGHT_ON + "J1.switch --[R9 2k2]-- J1.sleeve\n", True),
        # Up to 400 ohm on 8 ohm (50 times), in series as in parallel, in whatever order drawn.
        (RIGHT_ON + TO_TIP + "T2.s1 --[R9 380 ohm]-- T2.s2\n", False),
        (RIGHT_ON + TO_TIP + "T2.s1 --[R9 420 ohm]-- T2.s2\n", True),
        (RIGHT_ON + TO_TIP + "T2.s1 --[R9 270 ohm]-- X --[R8 270 ohm]-- T2.s2\n", True),
        (
            RIGHT_ON + TO_TIP + "T2.s1 --[R9 270 ohm]-- T2.s2\nT2.s1 --[R8 4k7]-- T2.s2\n",
            False,
        ),
        (
            RIGHT_ON + TO_TIP + "T2.s1 --[R8 4k7]-- T2.s2\nT2.s1 --[R9 270 ohm]-- T2.s2\n",
            False,
        ),
        # A fuse, and a resistor of an ohm, part the jack from the secondary as little as a wire.
        ("T2.s1 --[F1 fuse 2 A]-- J1.tip\nJ1.switch -- J1.tip\n", True),
        ("T2.s1 --[R9 0.95 ohm]-- J1.tip\nJ1.switch -- J1.tip\n", True),
        # Behind 100 ohm it is a jack for phones, and none that is to short the secondary.
        ("T2.s1 --[R9 100 ohm]-- J1.tip\nJ1.switch -- J1.tip\n", False),
        # The contact of an input has nothing to do with it.
        (RIGHT_ON + "J2.switch -- J2.sleeve -- gnd\nJ2.tip --[R9 1M]-- V1.grid\n", False),
        # Tip and sleeve exchanged.
        ("T2.s1 -- J1.tip\nT2.s2 -- J1.sleeve\nJ1.switch -- J1.tip\n", True),
    ],
)
def test_what_the_contact_leaves(wires: str, found: bool, review: Callable[[str], Review]) -> None:
    assert told(review(STAGE + wires)) == [("J1", "T2")] * found


def test_the_pair(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    found = only(sample("output.shorting-defeated", "wrong"), "output.shorting-defeated")
    assert (found.at, found.level, found.state) == (("J1", "T2"), "notice", "unplugged")
    assert "fit 220 ohm 5 W" in found.remedy  # some 30 times 8 ohm
