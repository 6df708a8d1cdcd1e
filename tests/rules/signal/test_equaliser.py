"""Record equalisers: the time constants of both forms, and one value a decade off."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

import numpy as np
import pytest

from coldcheck.rules.signal.equaliser import _pair_constants, _shunt_constants

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE, EXCHANGED = "signal.equaliser-decade-off", "signal.equaliser-exchanged"
PASSIVE = (
    "signal A 1 V\nA --[R4 {0}]-- EQ --[R5 {1}]--[C3 {2}]-- gnd\nEQ --[C4 {3}]-- gnd\n"
    "EQ --[R9 10M]-- gnd\n"
)
TURNED = PASSIVE.replace("--[R5 {1}]--[C3 {2}]--", "--[C3 {2}]--[R5 {1}]--")
PAIRS = (
    "signal A 1 V\nA --[R1 {0}]-- M --[R2 {1}]-- B\nA --[C1 {2}]-- M --[C2 {3}]-- B\n"
    "B --[R9 1k]-- gnd\n"
)
SHUNT, TWO = ("180k", "22k", "15 nF", "4.7 nF"), ("1M", "82k", "3.3 nF", "1 nF")
BACK = ("82k", "1M", "1 nF", "3.3 nF")


def changed(values: tuple[str, ...], k: int, value: str) -> tuple[str, ...]:
    return (*values[:k], value, *values[k + 1 :])


@pytest.mark.parametrize(
    ("text", "values", "at"),
    [
        (PASSIVE, SHUNT, None),
        (PASSIVE, changed(SHUNT, 3, "470 pF"), "C4"),
        (PASSIVE, changed(SHUNT, 0, "18k"), "R4"),
        (PASSIVE, changed(SHUNT, 2, "150 nF"), "C3"),
        (PASSIVE, changed(SHUNT, 3, "2.2 nF"), None),  # another curve, no decade
        (PAIRS, TWO, None),
        (PAIRS, changed(TWO, 1, "820k"), "R2"),
        (PAIRS, changed(TWO, 2, "330 pF"), "C1"),
        # The other way round.
        (PAIRS, BACK, None),
        (PAIRS, changed(BACK, 0, "820k"), "R1"),
        (PAIRS, changed(BACK, 3, "330 pF"), "C2"),
    ],
)
def test_one_value_a_decade_off(
    text: str, values: tuple[str, ...], at: str | None, review: Callable[[str], Review]
) -> None:
    looked = review(text.format(*values))
    assert looked.readable
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    found = [f for f in looked.findings if f.rule == RULE]
    assert [(f.at[0], f.level) for f in found] == ([(at, "notice")] if at else [])


def test_the_shunts_constants_are_those_of_its_response() -> None:
    """|H| from the parts' impedances against that from the three time constants."""
    series, low, large, small = 180e3, 22e3, 15e-9, 4.7e-9
    s = 2j * pi * np.geomspace(1, 1e5, 30)
    branch = 1 / (1 / (low + 1 / (s * large)) + s * small)
    slow, zero, fast = _shunt_constants((series, low, large, small))
    wanted = (1 + s * zero) / ((1 + s * slow) * (1 + s * fast))
    assert branch / (series + branch) == pytest.approx(wanted, rel=1e-9)


def test_the_pairs_constants_are_those_of_their_impedance() -> None:
    high, low, large, small = 1e6, 82e3, 3.3e-9, 1e-9
    s = 2j * pi * np.geomspace(1, 1e5, 30)
    impedance = 1 / (1 / high + s * large) + 1 / (1 / low + s * small)
    slow, zero, fast = _pair_constants((high, low, large, small))
    wanted = (high + low) * (1 + s * zero) / ((1 + s * slow) * (1 + s * fast))
    assert impedance == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "values", "at"),
    [
        (PASSIVE, SHUNT, None),
        (PASSIVE, ("180k", "22k", "4.7 nF", "15 nF"), ("C3", "C4")),
        (PASSIVE, ("22k", "180k", "15 nF", "4.7 nF"), ("R4", "R5")),
        (PASSIVE, ("180k", "22k", "4.7 nF", "30 nF"), None),  # exchanged or not, another curve
        (TURNED, ("180k", "22k", "4.7 nF", "15 nF"), ("C3", "C4")),
        (TURNED, SHUNT, None),
        (PAIRS, ("1M", "82k", "1 nF", "3.3 nF"), ("C1", "C2")),
        (PAIRS, ("82k", "1M", "3.3 nF", "1 nF"), ("R1", "R2")),
    ],
)
def test_parts_in_each_others_place(
    text: str, values: tuple[str, ...], at: tuple[str, str] | None, review: Callable[[str], Review]
) -> None:
    found = [f for f in review(text.format(*values)).findings if f.rule == EXCHANGED]
    assert [(set(f.at[:2]), f.level) for f in found] == ([(set(at), "notice")] if at else [])
