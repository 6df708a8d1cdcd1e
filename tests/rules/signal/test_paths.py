"""Stages that drive nothing, controls the wrong way round, bypasses in the wrong place."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review


def of(looked: Review, rule: str) -> list:
    assert looked.readable
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    return [f for f in looked.findings if f.rule == rule]


TWO = """B1 --+[E1 250 V]-- gnd
tube V1 12AX7
signal IN 0.1 V 1 kHz
{input}
V1A.cathode --[R2 1k5]-- gnd
B1 --[R3 100k]-- V1A.plate
{between}
V1B.cathode --[R5 1k5]-- gnd
B1 --[R6 100k]-- V1B.plate --[C3 100 nF]-- {out} --[R7 1M]-- gnd
"""
DIRECT = "IN -- V1A.grid --[R1 1M]-- gnd"
JACK = "jack J1\nJ1.sleeve -- gnd\n"
ON = "V1A.plate --[C1 22 nF]-- NEXT --[R4 1M]-- gnd\nNEXT -- V1B.grid"


@pytest.mark.parametrize(
    ("between", "out", "found"),
    [
        (ON, "OUT", []),
        ("V1A.plate --[C1 22 nF]-- LAST --[R4 1M]-- gnd\nIN -- V1B.grid", "OUT", [("V1A",)]),
        ("IN -- V1B.grid", "OUT", [("V1A",)]),
        ("V1A.plate -- V1B.grid", "OUT", []),
        # Part of a set: nothing is called an output, and the last plate may be one.
        (ON, "LAST", []),
        # A long-tailed pair gives its signal at the cathode.
        ("V1A.cathode -- V1B.cathode\nV1B.grid --[R4 1M]-- gnd", "OUT", []),
        # A jack at the cathode takes it; one elsewhere does not.
        (f"V1A.cathode --[C1 22 nF]-- J1.tip\n{JACK}IN -- V1B.grid", "OUT", []),
        (f"J1.tip --[R9 1M]-- gnd\n{JACK}IN -- V1B.grid", "OUT", [("V1A",)]),
    ],
)
def test_where_a_plate_leads(
    between: str, out: str, found: list[tuple[str]], review: Callable[[str], Review]
) -> None:
    hits = of(review(TWO.format(input=DIRECT, between=between, out=out)),
              "signal.stage-leads-nowhere")  # fmt: skip
    assert [f.at for f in hits] == found
    assert all(f.level == "notice" for f in hits)


@pytest.mark.parametrize(
    ("wires", "found"),
    [
        ("IN -- P1.top\nP1.bottom -- gnd\nP1.wiper -- V1A.grid", False),
        ("IN -- P1.top\nP1.wiper -- gnd\nP1.bottom -- V1A.grid", True),
        ("IN -- P1.bottom\nP1.wiper -- gnd\nP1.top -- V1A.grid", True),
        # Balance: the grid has a signal of its own on that side.
        ("IN -- P1.top\nIN -- V1B.grid\nP1.wiper -- gnd\nP1.bottom -- V1A.grid\n"
         "signal I2 1 V\nI2 --[R9 1M]-- V1A.grid", False),
        # Nothing but the control takes the one signal: it is lost.
        ("IN -- P1.top\nP1.wiper -- gnd\nP1.bottom -- V1A.grid\nsignal I2 1 V\nI2 --[R9 1M]-- "
         "V1A.grid", True),
    ],
)  # fmt: skip
def test_a_control(wires: str, found: bool, review: Callable[[str], Review]) -> None:
    text = TWO.format(input=f"pot P1 500k\n{wires}", between=ON, out="OUT")
    hits = of(review(text), "signal.control-wired-backwards")
    assert [f.at for f in hits] == ([("P1",)] if found else [])


@pytest.mark.parametrize(
    ("shunt", "found"),
    [
        # 1 / (2 pi 100k C) is 60 Hz at 26.5 nF.
        ("[C5 27 nF]-- gnd", True),
        ("[C5 25 nF]-- gnd", False),
        ("[C5 100 nF]-- B1", True),
        ("+[C5 10 uF 400 V]-- gnd", True),
    ],
)
def test_a_bypass_on_a_plate(shunt: str, found: bool, review: Callable[[str], Review]) -> None:
    between = f"{ON}\nV1A.plate --{shunt}"
    hits = of(review(TWO.format(input=DIRECT, between=between, out="OUT")),
              "signal.output-bypassed")  # fmt: skip
    assert [f.at for f in hits] == ([("V1A", "C5")] if found else [])
    if "27 nF" in shunt:
        assert hits[0].evidence["corner"].value == pytest.approx(1 / (2 * pi * 100e3 * 27e-9))


def test_a_bypass_behind_the_coil_of_a_reflex_stage(
    sample: Callable[[str, str], Review],
) -> None:
    """1 / (2 pi 33k 220 nF) is 21.9 Hz; with 220 pF it is 21.9 kHz."""
    rule = "signal.output-bypassed"
    (found,) = of(sample(f"{rule}/behind-a-coil", "wrong"), rule)
    assert (found.at, found.state, found.level) == (("V1", "C5"), "drawing", "notice")
    assert found.evidence["corner"].value == pytest.approx(1 / (2 * pi * 33e3 * 220e-9))
    assert found.limit.value == 300
    assert "behind IF1.pri" in found.message
    assert found.remedy.startswith("Use 100 to 500 pF for C5")
    assert of(sample(f"{rule}/behind-a-coil", "right"), rule) == []


@pytest.mark.parametrize(
    ("written", "instead", "found"),
    [
        # a supply point that is decoupled: nothing takes audio from it
        ("LOAD --[C8 10n 400 V]-- OUT", "IN --[C8 10n 400 V]-- OUT", False),
        ("B1 --[R4 33k 1 W]-- LOAD", "B1 --[R4 1k 1 W]-- LOAD", False),
        ("V1.plate -- IF1.pri.1", "V1.plate --[L2 2.5 mH 30 ohm]-- LOAD\nX -- IF1.pri.1", True),
        ("V1.plate -- IF1.pri.1", "V1.plate --[L2 choke 20 H 300 ohm]-- LOAD\nX -- IF1.pri.1",
         False),
        ("V1.cathode --+[C2 22 uF 16 V]-- gnd", "", False),
    ],
)  # fmt: skip
def test_what_a_coil_at_the_plate_leads_to(
    written: str, instead: str, found: bool, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    rule = "signal.output-bypassed"
    text = "\n".join(sample(f"{rule}/behind-a-coil", "wrong").lines)
    assert written in text
    text = text.replace(written, instead).replace(
        "IF1.pri.2 -- LOAD", ("IF1.pri.2 -- LOAD" if "X --" not in instead else "IF1.pri.2 -- gnd")
    )
    assert bool(of(review(text + "\n"), rule)) is found


def test_a_follower_with_a_decoupled_plate_is_sound(review: Callable[[str], Review]) -> None:
    text = """B1 --+[E1 250 V]-- gnd
    tube V1 12AX7
    signal IN 1 V
    IN --[C1 22 nF]-- V1A.grid --[R1 1M]-- M
    B1 --[R3 22k]-- V1A.plate --+[C5 10 uF 400 V]-- gnd
    V1A.cathode --[R2 1k5]-- M --[R4 47k]-- gnd
    V1A.cathode --[C3 1 uF]-- OUT --[R7 1M]-- gnd"""
    assert of(review(text), "signal.output-bypassed") == []


@pytest.mark.parametrize(
    ("farads", "far", "found"),
    [("100 nF", "V1.plate", True), ("9 nF", "V1.plate", False), ("100 nF", "gnd", False)],
)
def test_a_screens_bypass(
    farads: str, far: str, found: bool, review: Callable[[str], Review]
) -> None:
    text = f"""B1 --+[E1 250 V]-- gnd
    tube V1 EF86
    V1.grid --[R1 1M]-- gnd
    V1.cathode --[R2 2k2]-- gnd
    V1.suppressor -- V1.cathode
    B1 --[R3 220k]-- V1.plate
    B1 --[R4 1M]-- V1.screen --[C3 {farads}]-- {far}
    V1.plate --[C4 47 nF]-- OUT --[R5 1M]-- gnd"""
    hits = of(review(text), "signal.screen-bypassed-to-plate")
    assert [f.at for f in hits] == ([("V1", "C3")] if found else [])


@pytest.mark.parametrize(
    ("wires", "found"),
    [
        ("IN --[C8 22 nF]-- V1A.grid\nV1A.grid --[C2 100 nF]-- gnd", True),
        ("IN --[C8 22 nF]-- V1A.grid\nV1A.grid --[C2 91 nF]-- gnd", False),
        ("IN --[C8 22 nF]-- V1A.grid\nV1A.grid --+[C2 25 uF 25 V]-- gnd", True),
        # The quiet grid of a long-tailed pair: only a resistor is on it.
        ("IN -- X\nV1A.grid --[C2 100 nF]-- gnd", False),
        # A pot that sets a voltage, as a regulator's does, brings no signal.
        (
            "IN -- X\npot P1 10k\nB1 -- P1.top\nP1.bottom --[R9 10k]-- gnd\nP1.wiper -- V1A.grid\n"
            "V1A.grid --[C2 100 nF]-- gnd",
            False,
        ),
        (
            "pot P1 10k\nIN -- P1.top\nP1.bottom -- gnd\nP1.wiper -- V1A.grid\n"
            "V1A.grid --[C2 100 nF]-- gnd",
            True,
        ),
    ],
)
def test_a_bypass_on_a_grid(wires: str, found: bool, review: Callable[[str], Review]) -> None:
    text = TWO.format(input=f"{wires}\nV1A.grid --[R1 1M]-- gnd", between=ON, out="OUT")
    hits = of(review(text), "signal.grid-bypassed")
    assert [f.at for f in hits] == ([("V1A", "C2")] if found else [])


def test_a_stage_that_feeds_its_own_grid_alone_leads_nowhere(review) -> None:
    """The grids of a double triode exchanged at the socket: one stage drives only itself."""
    text = (
        "tube V1 6SN7GT\nB1 --+[E1 250 V]-- gnd\nsignal IN 0.05 V 1 kHz\n"
        "IN --[R3 470k]-- gnd\nIN -- V1B.grid\n"
        "B1 --[R5 68k]-- V1A.plate --[C3 47n 400 V]-- X --[R7 470k]-- gnd\nX --[R8 1k]-- V1A.grid\n"
        "V1A.cathode --[R6 2k2]-- gnd\nV1B.cathode --[R10 1k8]-- gnd\n"
        "B1 --[R9 47k]-- V1B.plate --[C5 1 uF 400 V film]-- OUT --[R11 220k]-- gnd\n"
    )
    rule = "signal.stage-leads-nowhere"
    assert [f.at for f in review(text).findings if f.rule == rule] == [("V1A",)]
    ladder = text.replace(
        "-- X --[R7 470k]", "-- Y --[R12 470k]-- gnd\nY --[C6 47n 400 V]-- X --[R7 470k]"
    )
    assert [f.at for f in review(ladder).findings if f.rule == rule] == []


@pytest.mark.parametrize(
    ("kind", "leads"),
    [("IRF840", ("drain", "gate", "source")), ("MJE340", ("collector", "base", "emitter"))],
)
def test_a_transistor_is_driven_by_the_plate_before_it(
    kind: str, leads: tuple[str, str, str], review: Callable[[str], Review]
) -> None:
    main, control, out = leads
    text = (
        "B1 --+[E1 250 V]-- gnd\ntube V1 12AX7\nsignal IN 0.1 V 1 kHz\nIN --[R5 1M]-- gnd\n"
        "IN -- V1A.grid\nV1A.cathode --[R1 1k5]-- gnd\nB1 --[R2 100k 1 W]-- V1A.plate\n"
        f"transistor Q1 {kind}\nB1 -- Q1.{main}\nV1A.plate --[R3 220]-- Q1.{control}\n"
        f"Q1.{out} --[R4 22k 5 W]-- gnd\nQ1.{out} --[C1 1u 400 V film]-- OUT --[R6 220k]-- gnd\n"
    )
    assert of(review(text), "signal.stage-leads-nowhere") == []


def test_a_source_on_the_wiper_of_a_volume_control(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    rule = "signal.control-wired-backwards"
    found = only(sample(f"{rule}/source-on-wiper", "wrong"), rule)
    assert (found.at, found.level) == (("P1", "P1.wiper", "P1.top"), "notice")
    assert found.remedy == "Exchange P1.wiper and P1.top"


@pytest.mark.parametrize(
    "instead",
    [
        # Controls whose far ends meet mix: each has its source on the wiper on purpose.
        "P1.top -- V1A.grid\npot P2 500k at 50 %\nsignal IN2 0.1 V 1 kHz\nIN2 -- P2.wiper\n"
        "P2.bottom -- gnd\nP2.top -- V1A.grid",
        # A variable resistor ahead of the grid.
        "P1.top -- V1A.grid\nP1.wiper -- P1.bottom",
    ],
)
def test_wipers_that_are_fed_on_purpose(
    instead: str, changed: Callable[[str, str, str, str], Review]
) -> None:
    rule = "signal.control-wired-backwards"
    looked = changed(f"{rule}/source-on-wiper", "wrong", "P1.top -- V1A.grid", instead)
    assert [f for f in looked.findings if f.rule == rule] == []


def test_a_stage_in_the_other_channel_is_named(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """V2B has the tube of V2A, which drives nothing, and is on V1A."""
    found = only(
        sample("signal.stage-leads-nowhere/crossed", "wrong"), "signal.stage-leads-nowhere"
    )
    assert found.at == ("V2A", "V2B.grid")
    assert found.remedy == "Take V2B.grid to what comes from V2A.plate"
