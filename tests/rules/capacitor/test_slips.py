"""Open rectifiers, positive grids, lost k and the order of a string, each by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

HEAD = """mains 120 V 60 Hz
transformer T1
    primary pri   120 V  10 ohm
    winding ht    120 V ct 120 V  80 mA  120 ohm
    winding fil   5 V  3 A
    winding warm  6.3 V  2 A
B1 --+[C1 22 uF 500 V]-- gnd
B1 --[R1 22k 10 W wirewound]-- gnd
"""
DIODES = "T1.ht.1 --[D1 1N4007]-> B1\nT1.ht.2 --[D2 1N4007]-> B1\n"
BRIDGE = DIODES + "gnd --[D3 1N4007]-> T1.ht.1\ngnd --[D4 1N4007]-> T1.ht.2\n"
TUBE = "tube V1 5Y3GT heater T1.fil\nT1.ht.1 -- V1.plate1\nT1.ht.2 -- V1.plate2\n"


@pytest.mark.parametrize(
    ("wires", "at"),
    [
        (DIODES, [("T1.ht", "D1", "D2")]),
        (DIODES + "T1.ht.ct -- gnd\n", []),
        (DIODES + "T1.ht.ct --[F1 0.2 A]-- gnd\n", []),
        (DIODES + "T1.ht.ct --[S1 switch standby open]-- gnd\n", []),
        (DIODES + "T1.ht.ct --[R9 100 ohm 5 W]-- gnd\n", []),
        (BRIDGE, []),
        # A doubler: the far end of the winding returns through capacitors.
        (
            "T1.ht.1 --[D1 1N4007]-> B1\nNEG --[D2 1N4007]-> T1.ht.1\n"
            "T1.ht.2 --[C3 10 uF 400 V]-- B1\nT1.ht.2 --[C4 10 uF 400 V]-- NEG\nNEG -- gnd\n",
            [],
        ),
        (TUBE + "V1:8 -- B1\nT1.ht.ct -- gnd\n", []),
        (TUBE + "V1:2 -- B1\nT1.ht.ct -- gnd\n", []),  # either end of the filament
        (TUBE + "V1:8 -- B1\n", [("T1.ht", "V1")]),
        (TUBE + "T1.ht.ct -- gnd\n", [("V1",)]),
    ],
)
def test_the_ring_of_rectified_current(
    wires: str, at: list[tuple[str, ...]], review: Callable[[str], Review]
) -> None:
    looked = review(HEAD + wires)
    assert [n for n in looked.not_judged if n.kind.broken] == []
    found = [f for f in looked.findings if f.rule == "supply.open-rectifier"]
    assert sorted(tuple(sorted(f.at)) for f in found) == sorted(tuple(sorted(a)) for a in at)
    assert {f.level for f in found} <= {"notice"}


STAGE = """tube V1 12AX7
B1 --+[E1 250 V]-- gnd
V1A.grid --[R1 1M]-- gnd
V1A.cathode --[R2 1k5]-- gnd
B1 --[R3 {load} 1 W]-- V1A.plate --[C1 {coupling}]-- MID
MID --[R4 {leak}]-- gnd
MID --[R7 10k]-- V1B.grid
V1B.cathode --[R5 1k5]-- gnd
B1 --[R6 100k 1 W]-- V1B.plate
"""


@pytest.mark.parametrize(
    ("load", "leak", "coupling", "part", "meant"),
    [
        ("100k", "470k", "22 nF", None, ""),
        ("100k", "11k", "22 nF", None, ""),  # a tenth of 100k is 10k
        ("100k", "9k1", "22 nF", "R4", "220 kohm to 1 Mohm"),
        ("100k", "470", "22 nF", "R4", "470 kohm would suit"),
        ("100k", "47", "22 nF", "R4", "47 kohm would suit"),
        ("100", "470k", "22 nF", "R3", "100 kohm would suit"),
        ("2k2", "470k", "22 nF", "R3, V1A", "220 kohm"),
        ("100k", "470", "100 pF", None, ""),  # radio frequency: another rule of thumb
    ],
)
def test_values_around_a_coupling_capacitor(
    load: str,
    leak: str,
    coupling: str,
    part: str | None,
    meant: str,
    review: Callable[[str], Review],
) -> None:
    looked = review(STAGE.format(load=load, leak=leak, coupling=coupling))
    found = [f for f in looked.findings if f.rule == "resistor.unlikely-value"]
    assert [f.at for f in found] == ([tuple(part.split(", "))] if part else [])
    assert all(meant in f.remedy for f in found)


def test_the_volume_control_is_a_grid_leak(review: Callable[[str], Review]) -> None:
    text = STAGE.format(load="100k", leak="470k", coupling="22 nF").replace(
        "MID --[R4 470k]-- gnd\nMID --[R7 10k]-- V1B.grid",
        "pot P1 5k\nMID -- P1.top\nP1.bottom -- gnd\nP1.wiper -- V1B.grid",
    )
    (found,) = [f for f in review(text).findings if f.rule == "resistor.unlikely-value"]
    assert found.at == ("P1",)
    assert found.evidence["grid leak"].value == pytest.approx(5e3)


BIASED = """tube V1 EL84
B1 --+[E1 250 V]-- gnd
BIAS --+[E2 {bias} V]-- gnd
BIAS --[R1 100k]-- V1.grid
V1.cathode --[R2 {cathode}]-- gnd
B1 --[R3 5k 20 W]-- V1.plate
B1 --[R4 10k 10 W]-- V1.screen
"""


@pytest.mark.parametrize(
    ("bias", "cathode", "positive"),
    [
        ("10", "1 ohm", True),
        # A lifted grid with a cathode that follows it: 50 V on 2k2 is 23 mA, and some bias.
        ("30", "2k2 3 W", False),
    ],
)
def test_a_positive_grid_is_one_above_its_own_cathode(
    bias: str, cathode: str, positive: bool, review: Callable[[str], Review]
) -> None:
    looked = review(BIASED.format(bias=bias, cathode=cathode))
    found = [f for f in looked.findings if f.rule == "grid.positive"]
    assert [f.at for f in found] == ([("V1",)] if positive else [])
    if positive:
        # 10 V through 100k: at most 0.1 mA, and more than 20 uA.
        assert 0.02 < (found[0].evidence["grid_current"].value * 1000) <= 0.1


def test_a_negative_bias_is_no_finding(review: Callable[[str], Review]) -> None:
    text = BIASED.format(bias="8", cathode="1 ohm").replace(
        "BIAS --+[E2 8 V]-- gnd", "gnd --+[E2 8 V]-- BIAS"
    )
    assert "grid.positive" not in {f.rule for f in review(text).findings}


STRING = (
    "mains 117 V 60 Hz\ntube V1 12BE6\ntube V2 12BA6\ntube V3 12AV6\ntube V4 50C5\ntube V5 35W4\n"
)


@pytest.mark.parametrize(
    ("order", "lower"),
    [
        ("V5 V4 V1 V2 V3", ()),
        ("V4 V5 V2 V1 V3", ()),
        ("V5 V4 V1 V3 V2", ("V2",)),
        ("V5 V4 V3 V1 V2", ("V1", "V2")),
    ],
)
def test_the_detector_is_last(
    order: str, lower: tuple[str, ...], review: Callable[[str], Review]
) -> None:
    chain = "--".join(f"[{name} heater]" for name in order.split())
    looked = review(STRING + f"line --[F1 0.5 A]-- HOT --{chain}-- gnd\nneutral -- gnd\n")
    found = [f for f in looked.findings if f.rule == "heater.string-order"]
    assert [f.at for f in found] == ([("V3", *lower)] if lower else [])
    for f in found:
        # 12.6 V a tube of 122.8 V, on 117 V: 12 V each.
        expected = 12.6 * (len(lower) + 1) * 117 / 122.8
        assert f.evidence["heater_rms"].value == pytest.approx(expected, rel=0.01)


def test_a_parallel_line_has_no_order(review: Callable[[str], Review]) -> None:
    text = (
        "mains 117 V 60 Hz\ntransformer T1\nprimary pri 117 V\nwinding warm 12.6 V 1 A\n"
        "tube V1 12BE6 heater T1.warm\ntube V3 12AV6 heater T1.warm\nT1.warm.1 -- gnd\n"
    )
    assert "heater.string-order" not in {f.rule for f in review(text).findings}


THIN = """tube V1 12AX7
B1 --+[E1 250 V 20 mA]-- gnd
signal IN 20 mV {hertz}
IN -- V1A.grid --[R1 1M]-- gnd
B1 --[R2 100k]-- V1A.plate --[C1 {farads} 400 V]-- G2 --[R3 {leak}]-- gnd
V1A.cathode --[R4 1k5]-- gnd
G2 -- V1B.grid
B1 --[R5 100k]-- V1B.plate --[C2 100 nF 400 V]-- OUT --[R6 470k]-- gnd
V1B.cathode --[R7 1k5]-- gnd
"""


@pytest.mark.parametrize(
    ("farads", "leak", "hertz", "more", "told"),
    [
        # 1 / (2 pi 470k 220 pF) is 1.54 kHz; of 330 pF 1.03 kHz, of 350 pF 968 Hz.
        ("220 pF", "470k", "1 kHz", "", 1),
        ("330 pF", "470k", "1 kHz", "", 1),
        ("350 pF", "470k", "1 kHz", "", 0),
        ("1 nF", "470k", "1 kHz", "", 0),
        ("22 pF", "470k", "1 kHz", "", 1),
        # Radio frequencies; another way past it; a coil that it tunes.
        ("100 pF", "470k", "455 kHz", "", 0),
        ("100 pF", "470k", "1 kHz", "V1A.plate --[C3 10 nF 400 V]--[R9 1M]-- G2\n", 0),
        ("100 pF", "470k", "1 kHz", "G2 --[L1 1 mH]-- gnd\n", 0),
    ],
)
def test_a_coupling_that_passes_treble_alone(
    farads: str, leak: str, hertz: str, more: str, told: int, review: Callable[[str], Review]
) -> None:
    looked = review(THIN.format(farads=farads, leak=leak, hertz=hertz) + more)
    found = [f for f in looked.findings if f.rule == "capacitor.unlikely-value"]
    assert [f.at for f in found] == [("C1",)] * told


def test_what_is_told_of_a_thin_coupling(review: Callable[[str], Review]) -> None:
    looked = review(THIN.format(farads="220 pF", leak="470k", hertz="1 kHz"))
    (f,) = [f for f in looked.findings if f.rule == "capacitor.unlikely-value"]
    assert f.evidence["corner"].value == pytest.approx(1539, rel=1e-3)
    assert f.limit.value == pytest.approx(1000)
    assert f.remedy == "Look at the original again: 22 nF would suit"
