"""Detectors for frequency modulation: a diode turned round, a de-emphasis a decade off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

TURNED, OFF = "signal.detector-diode-turned", "signal.de-emphasis-off"


def told(looked: Review, rule: str) -> list[Finding]:
    return [f for f in looked.findings if f.rule == rule]


def test_both_diodes_of_a_ratio_detector_conduct_out_of_the_coil(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """The + of C8 says which is right: the one whose cathode is on it."""
    found = only(sample(TURNED, "wrong"), TURNED)
    assert found.at == ("V2B", "C8", "RD.sec")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert found.evidence == {"diodes": "V2A and V2B"}
    assert found.remedy == "Turn V2B round: its cathode on the coil"
    assert told(sample(TURNED, "right"), TURNED) == []


def test_the_diodes_of_a_discriminator_are_in_series(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(f"{TURNED}/discriminator", "wrong"), TURNED)
    assert found.at == ("V2B", "RD.sec")
    assert found.remedy == "Turn V2B round: its plate on the coil"
    assert told(sample(f"{TURNED}/discriminator", "right"), TURNED) == []


@pytest.mark.parametrize(
    ("changes", "at"),
    [
        # no + drawn: either may be the one
        ({"POS --+[C8 5 uF 50 V]-- NEG": "POS --[C8 5 uF 50 V]-- NEG"},
         ("V2A", "V2B", "C8", "RD.sec")),
        # both into the coil, and the + agrees with neither lead of the second
        ({"RD.sec.1 -- V2A.plate": "RD.sec.1 -- V2A.cathode", "V2A.cathode -- POS":
          "V2A.plate -- POS", "V2B.plate\n": "V2B.cathode\n", "V2B.cathode -- NEG":
          "V2B.plate -- NEG"}, ("V2A", "C8", "RD.sec")),
        # a capacitor from each end to gnd
        ({"POS --+[C8 5 uF 50 V]-- NEG":
          "POS --+[C8 10 uF 50 V]-- gnd --+[C12 10 uF 50 V]-- NEG"},
         ("V2B", "C8", "C12", "RD.sec")),
        # one end on gnd: the detector of which one side is earthed
        ({"gnd --[R5 6k8]-- NEG": "GX\nNEG -- gnd", "gnd --[C7 330p 500 V]-- NEG": "gnd"},
         ("V2B", "C8", "RD.sec")),
        # diodes of a triode's envelope, one beside the triode
        ({"tube V2 6AL5": "tube V2 EABC80", "RD.sec.1 -- V2A.plate": "RD.sec.1 -- V2A.diode3",
          "V2A.cathode -- POS": "V2A.cathode -- POS -- gnd"}, ("V2B", "C8", "RD.sec")),
        # two small ones are no ratio detector's
        ({"C8 5 uF 50 V": "C8 5 nF 50 V"}, None),
        # without a tap nothing is known
        ({"winding sec 20 turns ct 20 turns": "winding sec 40 turns", "RD.sec.ct": "CX"}, None),
        # both diodes on one end
        ({"RD.sec.2 -- V2B.plate": "RD.sec.1 -- V2B.plate"}, None),
        # their far ends joined: a full-wave rectifier
        ({"V2B.cathode -- NEG": "V2B.cathode -- POS"}, None),
    ],
)  # fmt: skip
def test_what_a_ratio_detector_is(
    changes: dict[str, str], at: tuple[str, ...] | None, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = changed(sample(TURNED, "wrong"), changes)
    assert [f.at for f in told(review(text), TURNED)] == ([] if at is None else [at])


@pytest.mark.parametrize(
    ("changes", "fires"),
    [
        ({}, True),
        # the first diode instead, and solid state
        ({"RD.sec.1 -- V2A.plate": "RD.sec.1 <-[D1 1N34A]-- DX", "V2A.cathode -- DX": "DX",
          "V2B.cathode\n": "V2B.plate\n", "V2B.plate -- gnd": "V2B.cathode -- gnd"}, True),
        # a ratio detector without its large capacitor: its loads do not meet at the tap
        ({"--[R4 100k]-- MID\n": "--[R4 100k]-- AX\n", "DX --[R5 100k]-- MID --[R6 100k]-- gnd":
          "DX --[R5 100k]-- gnd"}, False),
        # not tuned: a modulator's transformer
        ({"RD.sec.1 --[C5 100p 500 V]-- RD.sec.2\n": ""}, False),
        # nothing takes what the loads have
        ({"AF --[C9 22n 400 V]-- OUT": "RD.sec.ct --[C9 22n 400 V]-- OUT"}, False),
    ],
)  # fmt: skip
def test_what_a_discriminator_is(
    changes: dict[str, str], fires: bool, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = changed(sample(f"{TURNED}/discriminator", "wrong"), changes)
    assert bool(told(review(text), TURNED)) is fires


def test_a_capacitor_a_decade_too_large(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """56 kohm and 10 nF are 560 us; with 100 kohm of one load, 56 kohm the least on it: 1.12 ms."""
    found = only(sample(OFF, "wrong"), OFF)
    assert found.at == ("C8", "R7")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert found.evidence["time_constant"].value == pytest.approx(560e-6)
    assert found.limit.value == pytest.approx(200e-6)
    assert found.excess == pytest.approx(2.8)
    assert found.remedy.startswith("Use about 1.34 nF for C8, or 7.5 kohm for R7 (75 us")
    assert told(sample(OFF, "right"), OFF) == []


def test_a_capacitor_a_decade_too_small(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """47 kohm and 150 pF are 7.05 us; with both loads of 6.8 kohm before it 9.09 us."""
    found = only(sample(f"{OFF}/shrill", "wrong"), OFF)
    assert found.at == ("C10", "R6")
    assert found.evidence["time_constant"].value == pytest.approx(7.05e-6)
    assert found.evidence["with_loads"].value == pytest.approx(9.09e-6)
    assert found.excess == pytest.approx(25 / 9.09)
    assert told(sample(f"{OFF}/shrill", "right"), OFF) == []


@pytest.mark.parametrize(
    ("case", "changes", "fires"),
    [
        # two sections: 33 us and 66 us together
        ("", {"AF --[C8 10n 250 V]-- gnd": "AX --[C8 1n 250 V]-- gnd --[C12 1n 250 V]-- AF "
              "--[R12 33k]-- AX", "R7 56k": "R7 33k"}, False),
        ("", {"AF --[C8 10n 250 V]-- gnd": "AX --[C8 1n 250 V]-- gnd --[C12 4n 250 V]-- AF "
              "--[R12 33k]-- AX", "R7 56k": "R7 33k"}, True),
        # narrow-band: 455 kHz
        ("", {"40 turns 8 uH": "40 turns 1.2 mH"}, False),
        # a tuning voltage from the same place is no audio
        ("", {"AF --[C8 10n 250 V]-- gnd":
              "AF --[C8 1n 250 V]-- gnd\nAF --[R12 1M]-- AFC --[C12 100n 250 V]-- gnd"}, False),
        # a value left open
        ("", {"C8 10n 250 V": "C8 ? 250 V"}, False),
        ("", {"R7 56k": "R7 ?"}, False),
        # a pot, a grid and a jack behind it instead of a capacitor
        ("", {"AF --[C9 22n 400 V]-- OUT --[R8 1M]-- gnd": "AF -- P1.top\nP1.bottom -- gnd\n"
              "P1.wiper -- V3.grid\nV3.cathode --[R12 1k]-- gnd\nB1 --[R13 100k]-- V3.plate",
              "tube V2 6AL5": "tube V2 6AL5\ntube V3 6C4\npot P1 500k log at 50 %"}, True),
        ("", {"AF --[C9 22n 400 V]-- OUT --[R8 1M]-- gnd": "AF -- J1.tip\nJ1.sleeve -- gnd",
              "tube V2 6AL5": "tube V2 6AL5\njack J1"}, True),
        # a switch on the way, closed and open
        ("", {"AF --[C9 22n 400 V]-- OUT": "AF -- S1.1\nS1.common --[C9 22n 400 V]-- OUT",
              "tube V2 6AL5": "tube V2 6AL5\nswitch S1 spdt at 1"}, True),
        ("", {"AF --[C9 22n 400 V]-- OUT": "AF -- S1.1\nS1.common --[C9 22n 400 V]-- OUT",
              "tube V2 6AL5": "tube V2 6AL5\nswitch S1 spdt at 2"}, False),
        # only intermediate frequency is kept back, and what comes behind does the rest
        ("/shrill", {"R6 47k": "R6 10k"}, False),
        ("/shrill", {"OUT --[R7 1M]-- gnd":
                     "O --[R7 47k]-- OUT --[C12 1.5n 250 V]-- gnd"}, False),
        ("/shrill", {"OUT --[R7 1M]-- gnd": "OUT --[R7 1M]-- gnd\nOUT --[R12 47k]-- Q"}, True),
    ],
)  # fmt: skip
def test_what_a_de_emphasis_is(
    case: str, changes: dict[str, str], fires: bool, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = changed(sample(f"{OFF}{case}", "wrong"), changes)
    assert bool(told(review(text), OFF)) is fires


def test_a_detector_with_a_diode_turned_round_has_no_de_emphasis_judged(
    sample: Callable[[str, str], Review], review: Callable[[str], Review]
) -> None:
    text = changed(sample(f"{TURNED}/discriminator", "wrong"), {"C8 1n": "C8 10n"})
    assert told(review(text), OFF) == []


def changed(looked: Review, changes: dict[str, str]) -> str:
    text = "\n".join(looked.lines) + "\n"
    for old, new in changes.items():
        assert old in text, old
        text = text.replace(old, new)
    return text
