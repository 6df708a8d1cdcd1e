"""A drawing to work with: read, asked for its states, looked at with other values."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest

import coldcheck
from coldcheck.api import BadValueError, MissingError, UnreadableError

SAMPLES = Path(__file__).parents[2] / "samples"
DIVIDER = """
drawing "<b>x</b>"
B1 --+[E1 24 V]-- gnd
B1 --[R1 10k]-- MID --[R2 10k]-- gnd
"""
POT = """
B1 --+[E1 24 V]-- gnd
pot P1 100k at 50 %
P1.top -- B1
P1.bottom -- gnd
P1.wiper -- OUT
"""


@pytest.fixture(scope="module")
def amp():
    return coldcheck.read(SAMPLES / "breakwater.tube")


@pytest.fixture
def divider():
    return coldcheck.read_text(DIVIDER)


def test_values_are_those_of_the_text(amp) -> None:
    assert amp.values["R7"] == coldcheck.api.Value("resistor", 12e3, "ohm")
    assert str(amp.values["C3"]) == "47 uF"
    assert amp.values["P1"] == coldcheck.api.Value("pot", 50, "percent")
    assert amp.values["mains"].number == 120
    assert amp.values["F1"].unit == "ampere"
    assert "D1" not in amp.values
    assert "T1.ht" not in amp.values


def test_other_values_make_another_drawing(divider) -> None:
    other = divider.with_values(R2="30k")
    assert divider.warm["MID"].dc == pytest.approx(12)
    assert other.warm["MID"].dc == pytest.approx(24 * 30 / 40)  # Ohm's law
    assert (divider.values["R2"].number, other.values["R2"].number) == (10e3, 30e3)
    assert dict(divider.changed) == {}
    assert list(other.changed) == ["R2"]
    again = other.with_values(E1=48, R1="30 kohm")
    assert again.warm["MID"].dc == pytest.approx(24)
    assert sorted(again.changed) == ["E1", "R1", "R2"]
    assert repr(other) == "<Drawing <b>x</b>, R2 = 30 kohm>"


def test_a_pot_is_turned_or_gets_another_track() -> None:
    pot = coldcheck.read_text(POT)
    assert pot.with_values(P1="25 %").warm["OUT"].dc == pytest.approx(6)
    assert pot.with_values(P1=75).warm["OUT"].dc == pytest.approx(18)
    assert pot.with_values(P1="0 %").warm["OUT"].dc == pytest.approx(0, abs=1e-4)
    track = pot.with_values(P1="50 kohm").warm
    assert track["OUT"].dc == pytest.approx(12)
    # 24 V across 50 kohm
    assert track.parts["E1"].amps.dc == pytest.approx(-24 / 50e3)


def test_the_review_is_that_of_the_values() -> None:
    hot = coldcheck.read_text("B1 --+[E1 100 V]-- gnd\nB1 --[R1 100k 0.5 W]-- gnd\n")
    assert not hot.review().findings
    (found,) = hot.with_values(R1="1k").review().findings
    assert (found.rule, found.at) == ("resistor.over-power", ("R1",))
    assert found.evidence["power"].value == pytest.approx(10, rel=1e-4)  # 100 V across 1 kohm


def test_review_states_are_the_states_of_the_drawing() -> None:
    reviewed = coldcheck.review(SAMPLES / "signal-mast.tube")
    amp = coldcheck.read(SAMPLES / "signal-mast.tube")
    assert set(reviewed.states) == set(amp.states)
    for name in ("warm", "cold", "high line"):
        one, other = reviewed.states[name], amp.states[name]
        assert list(one) == list(other)
        for net in one:
            np.testing.assert_allclose(one[net].samples, other[net].samples, atol=1e-6)


def test_a_state_asked_for_first_is_the_one_asked_for_last() -> None:
    cold = coldcheck.read(SAMPLES / "harbour-light.tube").states["cold"]
    after = coldcheck.read(SAMPLES / "harbour-light.tube")
    assert after.warm.solved
    np.testing.assert_array_equal(cold["RES"].samples, after.states["cold"]["RES"].samples)


def test_sheets_and_settings_are_those_of_the_project(tmp_path) -> None:
    (tmp_path / "coldcheck.toml").write_text('gate = "danger"\n', encoding="utf-8")
    (tmp_path / "half.tube").write_text("TOP --[R1 30k]-- OUT\n", encoding="utf-8")
    main = 'B1 --+[E1 24 V]-- gnd\nsheet "half.tube" as H joining TOP = B1, OUT = MID\n'
    (tmp_path / "a.tube").write_text(main + "MID --[R2 10k 1 mW]-- gnd\n", encoding="utf-8")
    drawing = coldcheck.read(tmp_path / "a.tube")
    assert drawing.warm["MID"].dc == pytest.approx(6)
    assert drawing.with_values({"H/R1": 10e3}).warm["MID"].dc == pytest.approx(12)
    assert (drawing.review().verdict(), drawing.review().verdict("notice")) == (
        "let through",
        "held",
    )


def test_settings_given_are_those_of_the_circuit() -> None:
    text = "transformer T1\n    primary pri 230 V\n    winding s 10 V\nT1.s.1 --[R1 1k]-- gnd\n"
    mains = {"mains": {"voltage": "230 V", "frequency": "50 Hz"}}
    drawing = coldcheck.read_text(f"{text}T1.s.2 -- gnd\n", settings=mains)
    assert drawing.warm["T1.s.1"].frequency == 50
    assert drawing.warm["T1.s.1"].ac_rms == pytest.approx(10, rel=1e-2)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (lambda d: d.with_values(R22=1), "'R22' is no name of a value; did you mean R2?"),
        (lambda d: d.with_values(Q1=1), "'Q1' is no name of a value\nthere are: E1, R1, R2"),
        (lambda d: d.states["worm"], "'worm' is no name of a state; did you mean warm?"),
        (lambda d: d.sweep(R1=[1], state="worm"), "'worm' is no name of a state"),
        (lambda d: d.warm["MIT"], "'MIT' is no name of a net; did you mean MID?"),
        (lambda d: d.warm.parts["r1"], "'r1' is no name of a part; did you mean R1?"),
        (lambda d: d.warm.tubes["V1"], "'V1' is no name of a tube section: there is none"),
        (lambda d: d.with_values(r2=1), "'r2' is no name of a value; did you mean R2?"),
        (lambda d: d.values["R3"], "'R3' is no name of a value; did you mean"),
        (lambda d: d.sweep(R1=[1]).parts["R3"], "'R3' is no name of a part; did you mean"),
    ],
)
def test_an_unknown_name_is_told_with_those_there_are(divider, asked, said) -> None:
    with pytest.raises(MissingError) as caught:
        asked(divider)
    assert str(caught.value).startswith(said)
    assert isinstance(caught.value, KeyError)


def test_a_part_of_a_sheet_is_offered_by_its_whole_name() -> None:
    sheet = "TOP --[R7 30k]-- gnd\n"
    text = 'B1 --+[E1 24 V]-- gnd\nsheet "s.tube" as L joining TOP = B1\n'
    drawing = coldcheck.read_text(text, sheets={"s.tube": sheet})
    with pytest.raises(MissingError, match=r"'R7' is no name of a value; did you mean L/R7\?"):
        drawing.with_values(R7=1)


def test_many_names_are_not_all_told(amp) -> None:
    with pytest.raises(MissingError, match=r"P1, .* and 10 more$"):
        amp.with_values(QQ=1)


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("68o ohm", "the letter O stands where a zero belongs: 680 ohm"),
        ("3 uF", 'found "3 uF"; expected a resistance such as 10k or 470 ohm'),
        ("1,5k", "write a decimal point"),
        ("0", 'found "0"; expected a value above zero'),
        (-3, "found -3; expected a value above zero"),
        (float("nan"), "found nan; expected a value above zero"),
        (None, "found None; expected a number, or text as in a drawing"),
        ("", "expected a value"),
        (10**400, "found a number that is too large; expected a number of a part"),
    ],
)
def test_what_is_no_value_is_refused(divider, value, said) -> None:
    with pytest.raises(BadValueError) as caught:
        divider.with_values(R1=value)
    assert str(caught.value).startswith("R1: found")
    assert said in str(caught.value)


@pytest.mark.parametrize("value", ["101 %", "-1 %", "3 V", "30", 101])
def test_a_pot_has_no_such_setting(value) -> None:
    with pytest.raises(BadValueError, match=r"^P1: found"):
        coldcheck.read_text(POT).with_values(P1=value)


def test_a_source_of_direct_current_takes_no_alternating_volts(divider) -> None:
    with pytest.raises(BadValueError, match="E1: found"):
        divider.with_values(E1="24 Vac")


def test_a_drawing_that_cannot_be_read_says_all_that_is_wrong() -> None:
    with pytest.raises(UnreadableError) as caught:
        coldcheck.read_text("B1 == gnd\nB1 --[R1 68o]-- \x1b[31mgnd\n", "desk.tube")
    lines = str(caught.value).splitlines()
    assert lines[0].startswith('desk.tube:1:4: found "="; expected a wire --')
    assert any(line.startswith("desk.tube:2:") for line in lines)
    assert len(caught.value.problems) == len(lines)
    assert "\x1b" not in str(caught.value)


def test_a_file_that_is_not_there_is_unreadable(tmp_path) -> None:
    with pytest.raises(UnreadableError, match="no such file"):
        coldcheck.read(tmp_path / "none.tube")


def test_a_value_that_was_unknown_is_known_with_one() -> None:
    text = "B1 --+[E1 24 V]-- gnd\nB1 --[R1 ?]-- MID --[R2 10k]-- gnd\n"
    drawing = coldcheck.read_text(text)
    assert drawing.values["R1"].number is None
    assert "MID" not in drawing.warm
    with pytest.raises(MissingError, match="'MID' has no number in warm: depends on the value"):
        drawing.warm["MID"]
    assert drawing.with_values(R1="10k").warm["MID"].dc == pytest.approx(12)
    assert drawing.sweep(R1=["10k", "30k"])["MID"].dc == pytest.approx([12, 6])


def test_html_shows_text_as_text(divider) -> None:
    changed = divider.with_values(R1="20k")
    for shown in (changed, changed.values, changed.states, changed.changed):
        ET.fromstring(shown._repr_html_())
    assert "&lt;b&gt;x&lt;/b&gt;" in changed._repr_html_()
    assert "<td>20 kohm</td><td>changed</td>" in changed._repr_html_()
    assert "<tr><td>warm</td><td>yes</td><td></td></tr>" in changed.states._repr_html_()
