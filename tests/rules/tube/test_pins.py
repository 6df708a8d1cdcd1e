"""Internal connections, shields, and the bases that get confused."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

INTERNAL, SHIELD = "tube.internal-pin", "tube.shield-not-quiet"


def told(looked: Review, rule: str) -> list:
    assert not [n for n in looked.not_judged if n.kind.broken]
    return [f for f in looked.findings if f.rule == rule]


@pytest.mark.parametrize(
    ("wire", "pins"),
    [
        ("V1:6 --[R1 1k]-- gnd", ("V1:6",)),
        ("V1:1 -- gnd", ("V1:1",)),
        ("V1:1 -- V1:8", ("V1:1", "V1:8")),
        ("V1:2 --[R1 1k]-- gnd", None),
        ("V2:1 -- gnd", None),  # NC of a 6V6GT: nothing inside
    ],
)
def test_pins_of_an_el84(
    wire: str, pins: tuple[str, ...] | None, review: Callable[[str], Review]
) -> None:
    # 9CV: 1, 6 and 8 are internal connections (Philips EL84, memory).
    found = told(review(f"tube V1 EL84\ntube V2 6V6GT\n{wire}\n"), INTERNAL)
    assert [f.at[1:] for f in found] == ([pins] if pins else [])


def test_internal_pair(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    found = only(sample(INTERNAL, "wrong"), INTERNAL)
    assert (found.level, found.at, found.state) == ("notice", ("V1", "V1:6"), "drawing")
    assert "R2 and R3" in found.message


STAGE = """mains 120 V 60 Hz
transformer T1
 primary pri 120 V
 winding warm 6.3 V ct 2 A 0.05 ohm
tube V1 6SJ7 heater T1.warm
T1.warm.ct -- gnd
B1 --+[E1 {volts} V]-- gnd
B1 --[R1 470k]-- V1.plate
B1 --[R2 1M5]-- V1.screen
V1.grid --[R3 1M]-- gnd
V1.cathode --[R4 1k5]-- gnd
V1.suppressor -- V1.cathode
"""


@pytest.mark.parametrize(
    ("wire", "excess"),
    [
        ("V1.shield -- gnd", None),
        ("V1.shell -- V1.cathode", None),
        ("V1:1 -- T1.warm.1", 6.3 / 2 / 0.5),
        ("V1.shell -- B1", 250 / 60),
        ("", None),
    ],
)
def test_a_shell_is_at_rest(
    wire: str, excess: float | None, review: Callable[[str], Review]
) -> None:
    # Half of 6.3 V to gnd (lightly loaded, a little more); 250 V of B+.
    found = told(review(STAGE.format(volts=250) + wire), SHIELD)
    assert [f.excess for f in found] == pytest.approx([excess] if excess else [], rel=0.06)


def test_shield_pair(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    found = only(sample(SHIELD, "wrong"), SHIELD)
    assert (found.level, found.at) == ("notice", ("V1",))
    assert found.evidence["ac_rms"].value == pytest.approx(3.15, rel=0.05)
    assert "T1.warm.2" in found.message
    assert "9 shield" in found.remedy
