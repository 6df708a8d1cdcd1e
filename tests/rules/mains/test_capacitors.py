"""Capacitors on the mains leads."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

SET = """mains {volts} V {hertz} Hz
transformer T1
    primary pri   {volts} V  8 ohm
    winding warm  6.3 V  3 A
T1.warm.2 -- gnd
T1.warm.1 --[PL1 lamp 6.3 V 3 A]-- gnd
line --[F1 0.4 A]-- L --[S1 switch]-- T1.pri.1
T1.pri.2 -- neutral
chassis -- gnd
"""


def wired(more: str, volts: int = 120, hertz: int = 60, earth: bool = True) -> str:
    return SET.format(volts=volts, hertz=hertz) + ("earth -- chassis\n" if earth else "") + more


@pytest.mark.parametrize(
    ("part", "earth", "found"),
    [
        ("L --[C1 47 nF 600 V]-- chassis", True, True),
        ("line --[C1 47 nF 600 V]-- gnd", True, True),
        ("T1.pri.1 --[C1 4.7 nF 600 V]-- chassis", True, True),
        ("neutral --[C1 47 nF X2]-- chassis", True, True),
        ("L --[C1 4.7 nF Y2]-- chassis", True, False),
        ("L --[C1 4.7 nF Y2]-- chassis", False, False),
        ("L --[C1 22 nF Y2]-- chassis", True, False),  # into earth
        ("L --[C1 22 nF Y2]-- chassis", False, True),  # 1 mA into unearthed metal
        ("L --[C1 47 nF X2]-- neutral", True, False),
        ("T1.warm.1 --[C1 47 nF 100 V]-- chassis", True, False),
    ],
)
def test_from_the_mains_to_metal(
    part: str, earth: bool, found: bool, review: Callable[[str], Review]
) -> None:
    looked = review(wired(part + "\n", earth=earth))
    assert not [n for n in looked.not_judged if n.kind.broken]
    hits = [f for f in looked.findings if f.rule == "mains.capacitor-to-chassis"]
    assert bool(hits) is found
    assert all(f.level == "danger" and f.at == ("C1",) for f in hits)


BARE = """mains 120 V 60 Hz
line --[F1 0.5 A]-- HOT --[R1 47 ohm 5 W]-- A --[D1 1N4007]-> B1
neutral -- gnd
B1 --+[C1 47 uF 250 V]-- gnd
B1 --[R2 10k 5 W]-- gnd
"""


@pytest.mark.parametrize(
    ("part", "found"),
    [
        ("chassis --[C2 47 nF 400 V]-- gnd", {"mains.capacitor-to-chassis"}),
        ("chassis --[C2 47 nF Y2]-- gnd", {"mains.capacitor-to-chassis"}),  # 2 mA unearthed
        ("chassis --[C2 4.7 nF Y1]-- gnd", set()),
        ("HOT --[C2 47 nF X2]-- gnd", set()),
        ("HOT --[C2 470 nF X2]-- gnd", {"mains.capacitor-stays-charged"}),
        ("HOT --[C2 470 nF X2]-- gnd\nHOT --[R3 220k 1 W]-- gnd", set()),
    ],
)
def test_where_the_common_is_a_mains_lead(
    part: str, found: set[str], review: Callable[[str], Review]
) -> None:
    looked = review(BARE + part + "\n")
    assert {f.rule for f in looked.findings if f.rule.startswith("mains.capacitor")} == found


def test_what_a_y_capacitor_passes(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    # 4.7 nF at 230 V, 50 Hz: 0.34 mA (derived); ten times that is 3.4 mA.
    text = wired("L --[C1 47 nF Y2]-- chassis\n", 230, 50, earth=False)
    found = only(review(text), "mains.capacitor-to-chassis")
    assert found.evidence["current_rms"].value == pytest.approx(3.4e-3, rel=5e-3)
    assert found.excess == pytest.approx(6.8, rel=5e-3)


@pytest.mark.parametrize(
    ("drain", "seconds"),
    [
        # t = R C ln(V0 / 60), V0 = sqrt(2) 230 * 1.1 = 357.8 V.
        ("L --[R1 1M 0.5 W]-- neutral", None),  # 0.84 s
        ("L --[R1 2M2 0.5 W]-- neutral", None),  # 1.85 s
        ("L --[R1 3M3 0.5 W]-- neutral", 3.3e6),
        ("L --[R1 2M2 0.5 W]-- M --[R2 2M2 0.5 W]-- neutral", 4.4e6),
        ("", math.inf),
        ("T1.pri.1 --[R1 100k 2 W]-- neutral", math.inf),  # behind the switch
    ],
)
def test_the_pins_of_the_plug(
    drain: str, seconds: float | None, review: Callable[[str], Review]
) -> None:
    looked = review(wired(f"L --[C1 470 nF X2]-- neutral\n{drain}\n", 230, 50))
    found = [f for f in looked.findings if f.rule == "mains.capacitor-stays-charged"]
    assert bool(found) is (seconds is not None)
    for f in found:
        assert (f.level, f.state, f.at) == ("warning", "off", ("C1",))
        assert f.evidence["voltage"].value == pytest.approx(357.8, rel=1e-3)
        if seconds == math.inf:
            assert f.evidence["time"] == "never"
        else:
            by_hand = seconds * 470e-9 * math.log(357.8 / 60)
            assert f.evidence["time"].value == pytest.approx(by_hand, rel=1e-3)
        proposed = f.evidence["resistor"].value * 470e-9 * math.log(357.8 / 60)
        assert 0.5 < proposed <= 1.0


@pytest.mark.parametrize(
    "part", ["L --[C1 100 nF X2]-- neutral", "T1.pri.1 --[C1 470 nF X2]-- T1.pri.2"]
)
def test_small_ones_and_those_across_the_primary_are_drained(
    part: str, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    only(review(wired(part + "\n")), "mains.capacitor-stays-charged", count=0)


@pytest.mark.parametrize(
    ("parts", "volts", "hertz", "level", "names", "milliamps"),
    [
        # 2 pi f C V by hand: 230 V 50 Hz passes 72.26 uA a nanofarad, 120 V 60 Hz 45.24 uA.
        ("L --[C1 47 nF Y2]-- chassis", 230, 50, None, (), 0.0),
        ("L --[C1 50 nF Y2]-- chassis", 230, 50, "warning", ("C1",), 3.613),
        ("L --[C1 100 nF Y2]-- chassis", 230, 50, "danger", ("C1",), 7.226),
        ("L --[C1 68 nF Y2]-- chassis", 230, 50, "warning", ("C1",), 4.914),
        ("L --[C1 70 nF Y2]-- chassis", 230, 50, "danger", ("C1",), 5.058),
        ("L --[C1 75 nF Y2]-- chassis", 120, 60, None, (), 0.0),
        ("L --[C1 80 nF Y2]-- chassis", 120, 60, "warning", ("C1",), 3.619),
        # Either pole may be the live one: the worse counts, not both.
        ("L --[C1 40 nF Y2]-- chassis\nneutral --[C2 40 nF Y2]-- gnd", 230, 50, None, (), 0.0),
        ("L --[C1 40 nF Y2]-- chassis\nT1.pri.1 --[C2 40 nF Y2]-- earth", 230, 50, "danger",
         ("C1", "C2"), 5.781),
    ],
)  # fmt: skip
def test_what_class_y_passes_into_the_earth(
    parts: str,
    volts: int,
    hertz: int,
    level: str | None,
    names: tuple[str, ...],
    milliamps: float,
    review: Callable[[str], Review],
) -> None:
    looked = review(wired(parts, volts, hertz))
    found = [f for f in looked.findings if f.rule == "mains.earth-current"]
    assert [(f.level, f.at) for f in found] == ([(level, names)] if level else [])
    for f in found:
        assert f.evidence["current_rms"].value == pytest.approx(1e-3 * milliamps, rel=1e-3)


def test_without_an_earth_it_is_the_touch_current_that_counts(
    review: Callable[[str], Review],
) -> None:
    looked = review(wired("L --[C1 100 nF Y2]-- chassis", 230, 50, earth=False))
    rules = {f.rule for f in looked.findings}
    assert "mains.earth-current" not in rules
    assert "mains.capacitor-to-chassis" in rules


def test_above_a_tenth_of_a_microfarad_it_counts(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    only(review(wired("L --[C1 105 nF X2]-- neutral\n")), "mains.capacitor-stays-charged")


@pytest.mark.parametrize(("volts", "stock"), [(120, 275), (277, 310), (415, 440)])
def test_the_voltage_of_the_class_x_part_to_put_in(
    volts: int, stock: int, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    found = only(review(wired("L --[C1 47 nF]-- neutral\n", volts)), "mains.capacitor-class")
    assert f"for {stock} Vac" in found.remedy
