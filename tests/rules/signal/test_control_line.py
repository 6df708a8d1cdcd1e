"""Gain control lines that a coupling capacitor keeps from the detector."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

RULE = "signal.gain-control-blocked"


def told(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == RULE]


def test_the_line_comes_from_the_grid_of_the_audio_stage(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample(RULE, "wrong"), RULE)
    assert found.at == ("R5", "C10", "V1.grid")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "certain")
    assert found.evidence["grids"] == "V1.grid"
    assert found.remedy.startswith("Take R5 from the load of the detector, before C10")
    assert told(sample(RULE, "right")) == []


@pytest.mark.parametrize(
    ("written", "instead", "at"),
    [
        # the capacitor before the volume control, the line from its top
        ("DET -- P1.top\n", "DET --[C12 47n 100 V]-- P1.top\nP1.top --[R8 2M2]-- AVC\n"
         "V2.grid --[R9 1M]-- Q\n", ("R8", "C12", "V1.grid")),
        # the grid fed by a capacitor, with a resistor to the line
        ("IF1.sec.1 -- V1.grid\nIF1.sec.2 -- AVC", "IF1.sec.2 -- gnd\nIF1.sec.1 --[C12 100p 500 V]"
         "-- V1.grid --[R8 1M]-- AVC", ("R5", "C10", "V1.grid")),
        # a capacitor before the volume control as well
        ("DET -- P1.top\n", "DET --[R9 470k]-- gnd\nDET --[C12 22n 100 V]-- P1.top\n",
         ("R5", "C10", "V1.grid")),
        # two sections of filter
        ("V2.grid --[R5 2M2]-- AVC", "V2.grid --[R5 1M]-- A1 --[R8 1M]-- AVC\nA1 --[C12 47n 100 V]"
         "-- gnd", ("R5", "C10", "V1.grid")),
        # a diode of the line's own, fed by a small capacitor
        ("V2.diode1 -- V2.diode2 -- IF2.sec.1", "V2.diode1 -- IF2.sec.1 --[C12 47p 500 V]-- "
         "V2.diode2 --[R8 1M]-- AVC", None),
        # the wiper hands direct voltage on as well
        ("P1.wiper --[C10 10n 400 V]-- V2.grid --[R4 10M]-- gnd",
         "P1.wiper -- V2.grid --[R4 10M]-- gnd", None),
        # a bias from a battery
        ("V2.grid --[R5 2M2]-- AVC", "BM --[R5 2M2]-- AVC\ngnd --+[E2 3 V]-- BM", None),
        # a stage that has intermediate frequency and audio at once
        ("IF1.sec.2 -- AVC --[C3 47n 100 V]-- gnd", "IF1.sec.2 -- AVC --[C3 220p 100 V]-- gnd",
         None),
        # the audio comes from a pickup and no detector
        ("DET -- P1.top\n", "J1.tip -- P1.top\nJ1.sleeve -- gnd\nDET --[R8 470k]-- gnd\n", None),
    ],
)  # fmt: skip
def test_where_a_line_has_its_voltage_from(
    written: str, instead: str, at: tuple[str, ...] | None, sample: Callable[[str, str], Review],
    review: Callable[[str], Review],
) -> None:  # fmt: skip
    text = "\n".join(sample(RULE, "wrong").lines) + "\n"
    assert written in text
    text = text.replace(written, instead)
    text = text.replace("V2.grid --[R5 2M2]-- AVC\n", "") if "R8 2M2" in instead else text
    text = text.replace("pot P1", "jack J1\npot P1") if "J1" in instead else text
    assert told(review(text)) == ([] if at is None else [at])


def test_audio_of_a_reflexed_stage_shorted(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """47 nF behind 56 kohm: 60 Hz. Nothing is said of a gain control, which there is none."""
    rule = "signal.reflex-audio-shorted"
    found = only(sample(rule, "wrong"), rule)
    assert found.at == ("C3", "V1")
    assert (found.level, found.state, found.certainty) == ("notice", "drawing", "likely")
    assert found.evidence["corner"].value == pytest.approx(60.47, rel=1e-3)
    names = {f.rule for f in (*sample(rule, "wrong").findings, *sample(rule, "right").findings)}
    assert "signal.gain-control-blocked" not in names
    assert rule not in {f.rule for f in sample(rule, "right").findings}
