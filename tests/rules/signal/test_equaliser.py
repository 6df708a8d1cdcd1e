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


TAPE, JOINT = "signal.tape-equaliser-decade-off", "signal.equaliser-joint-open"


@pytest.mark.parametrize(
    ("written", "instead", "at"),
    [
        ("[C4 22 nF", "[C4 22 nF", "C4"),
        ("[C4 22 nF", "[C4 2.2 nF", None),
        ("[C4 22 nF", "[C4 100 nF", None),  # no decade mends it
        ("[R9 39k]", "[R9 39k]--[R10 1k]", None),  # not these three alone
        (
            "[C4 22 nF 400 V film]-- M",
            "[C4 2.2 nF 400 V film]-- M\nM --[C5 22 nF 400 V]-- gnd",
            None,
        ),
        ("OUT --[C4 22 nF", "B1 --[C4 22 nF", None),
    ],
)
def test_the_replay_of_tapes(
    written: str, instead: str, at: str | None, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(TAPE, "wrong").lines).replace(written, instead)
    found = [f.at[0] for f in review(text).findings if f.rule == TAPE]
    assert found == ([] if at is None else [at])


@pytest.mark.parametrize(
    ("values", "at"),
    [
        (("1M5", "39k", "2.2 nF"), None),
        (("15M", "39k", "2.2 nF"), "R8"),
        (("1M5", "390k", "2.2 nF"), "R9"),
        (("1M5", "150k", "2.2 nF"), None),  # 3180 and 318 us: the bass of a record
    ],
)
def test_which_of_three_is_a_decade_off(
    values: tuple[str, str, str], at: str | None, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(TAPE, "wrong").lines)
    for written, value in zip(("1M5", "39k", "22 nF"), values, strict=True):
        assert f" {written}" in text
        text = text.replace(f" {written}", f" {value}")
    found = [f.at[0] for f in review(text).findings if f.rule == TAPE]
    assert found == ([] if at is None else [at])


@pytest.mark.parametrize(
    ("values", "at"), [(("2M2", "100k", "1.5 nF"), None), (("2M2", "100k", "15 nF"), "C4")]
)
def test_the_larger_resistor_across_the_rest(
    values: tuple[str, str, str], at: str | None, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    """3450 and 150 us: a capacitor in series with one resistor, the other across both."""
    lines = [x for x in sample(TAPE, "wrong").lines if not x.startswith("OUT --[R8")]
    large, small, held = values
    body = "\n".join(x for x in lines if "[C4" not in x)
    body += (
        f"\nOUT --[R8 {large}]-- V1A.cathode\nOUT --[C4 {held}]-- M --[R9 {small}]-- V1A.cathode\n"
    )
    found = [f.at[0] for f in review(body).findings if f.rule == TAPE]
    assert found == ([] if at is None else [at])


@pytest.mark.parametrize(
    ("written", "instead", "certainty"),
    [
        ("[C4 2.7 nF", "[C4 2.7 nF", "certain"),
        ("[C4 2.7 nF", "[C4 27 nF", "likely"),  # joined they would make no such curve
        ("[R9 100k", "[R9 1M2", None),  # two alike, for the volts
        ("M2 --[C5 750p 400 V film]-- V1A.cathode", "M2 --[C5 750p 400 V film]-- gnd", None),
        ("[R9 100k 0.5 W]-- V1A", "[R9 100k 0.5 W]-- V1A.cathode\nM --[R10 1M]-- V1A", None),
    ],
)
def test_two_pairs_that_do_not_meet(
    written: str, instead: str, certainty: str | None, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(JOINT, "wrong").lines)
    assert written in text
    found = [f for f in review(text.replace(written, instead)).findings if f.rule == JOINT]
    assert [f.certainty for f in found] == ([] if certainty is None else [certainty])
    assert all(f.at == ("C4", "C5", "R8", "R9") for f in found)
    assert all(f.remedy.startswith("Join M2, the middle of C4 and C5, to M,") for f in found)
