"""A fix that is offered mends what it is for: it is made, and the drawing reviewed again."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from tests.serve.texts import SAMPLES, STAGE, known_of, read_of

from coldcheck.judge.finding import LEVELS
from coldcheck.serve.edits import edited
from coldcheck.serve.fields import ohms_written
from coldcheck.serve.fixes import NEVER_WAIVED, Fix, fixes, fixes_of_reading
from coldcheck.serve.reading import Known, Read, Text, read_text, reviewed

if TYPE_CHECKING:
    from pathlib import Path

MISTAKES = SAMPLES / "mistakes"
ALL = (1, 10_000)

MENDED = {
    "capacitor.over-voltage/ripple": "Use C1 for 400 V instead of 250 V",
    "capacitor.over-voltage/coupling": "Use C1 for 350 V instead of 200 V",
    "capacitor.little-margin": "Use C1 for 450 V instead of 350 V",
    "capacitor.cathode-bypass-underrated": "Use C1 for 50 V instead of 16 V",
    "heater.lift-capacitor-underrated": "Use C1 for 350 V instead of 63 V",
    "resistor.over-power": "Use R1 for 25 W instead of 10 W",
    "resistor.over-power/cathode": "Use R2 for 1 W instead of 0.5 W",
    "mains.fuse-too-large": "Use F1 for 0.315 A instead of 5 A",
    "grid.leak-too-high": "Use R3 of 1 Mohm instead of 2.2 Mohm",
    "supply.no-bleeder": "Put a bleeder of 330 kohm 1 W across C1",
    "supply.no-bleeder/no-drain-at-all": "Put a bleeder of 150 kohm 2 W across C1",
    "grid.no-return": "Fit a grid leak of 470 kohm from V1A.grid to gnd",
    "heater.no-reference": "Tie T1.warm.ct to gnd",
    "intent.accept-unmatched": "Take this accept line out",
}


def of_file(path: Path, text: str | None = None) -> Known:
    text = path.read_text(encoding="utf-8") if text is None else text
    read = read_text(Text(path.as_uri(), str(path), True, text, 1, 1), lambda _: None)
    return Known(read, reviewed(read))


def after(read: Read, fix: Fix) -> str:
    return "\n".join(edited(read.page.lines, fix.edits))


@pytest.mark.parametrize("pair", MENDED)
def test_the_remedy_makes_the_finding_go_away_and_brings_no_other(pair: str) -> None:
    path = MISTAKES / pair / "wrong.tube"
    rule = pair.partition("/")[0]
    known = of_file(path)
    (fix,) = [f for f in fixes(known, *ALL) if f.preferred and f.rule == rule]
    assert fix.title == MENDED[pair]
    mended = of_file(path, after(known.read, fix)).review
    assert mended.readable
    left = [(f.rule, f.at) for f in mended.findings if f.accepted is None]
    assert rule not in {name for name, _ in left}
    assert set(left) <= {(f.rule, f.at) for f in known.review.findings}


def test_of_one_leak_for_two_grids_one_change_mends_both() -> None:
    path = MISTAKES / "grid.leak-too-high" / "shared" / "wrong.tube"
    known = of_file(path)
    found = [f for f in fixes(known, *ALL) if f.preferred]
    assert {after(known.read, f) for f in found} == {after(known.read, found[0])}
    rules = {f.rule for f in of_file(path, after(known.read, found[0])).review.findings}
    assert "grid.leak-too-high" not in rules


def titles(text: str) -> list[str]:
    read = read_of(text)
    return [f.title for f in fixes(Known(read, reviewed(read)), *ALL) if f.preferred]


def test_the_bypass_of_an_output_tube_gets_what_the_rule_on_bypasses_asks_for() -> None:
    text = (SAMPLES / "harbour-light.tube").read_text(encoding="utf-8")
    assert "[C7 25 uF 50 V]" in text
    low = text.replace("[C7 25 uF 50 V]", "[C7 25 uF 10 V]")
    assert titles(low) == ["Use C7 for 50 V instead of 10 V"]


def test_no_bleeder_is_put_where_a_cathode_resistor_is_missing() -> None:
    text = (SAMPLES / "harbour-light.tube").read_text(encoding="utf-8")
    line = "V2.cathode --[R7 270 ohm 5 W]-- gnd\n"
    assert line in text
    read = read_of(text.replace(line, ""))
    known = Known(read, reviewed(read))
    assert "supply.no-bleeder" in {f.rule for f in known.review.findings}
    assert [f.title for f in fixes(known, *ALL) if f.preferred] == []


def test_a_remedy_is_offered_only_on_its_own_line() -> None:
    known = known_of(STAGE)
    (finding,) = known.review.findings
    line = finding.span.line
    assert {f.line for f in fixes(known, line, line)} == {line}
    assert list(fixes(known, line + 1, line + 1)) == []


def test_a_heater_with_a_high_cathode_is_not_simply_tied_to_gnd() -> None:
    path = MISTAKES / "heater.no-reference" / "wrong.tube"
    text = path.read_text(encoding="utf-8")
    assert "V1A.cathode --[R2 1k5]-- gnd" in text
    high = text.replace("V1A.cathode --[R2 1k5]-- gnd", "V1A.cathode --[R2 150k]-- gnd")
    high = high.replace("V1A.grid --[R3 1M]-- gnd", "V1A.grid --[R3 1M]-- B1")
    known = of_file(path, high)
    assert "heater.no-reference" in {f.rule for f in known.review.findings}
    assert [f for f in fixes(known, *ALL) if f.preferred and f.rule == "heater.no-reference"] == []


@pytest.mark.parametrize(
    ("line", "offered"),
    [
        ("V1A.cathode --+[C2 25 uF 1 V]-- gnd", 1),
        ("V1A.cathode --+[C2 25uF 1V film]-- gnd", 1),
        ("V1A.cathode --+[C2 25 uF 0.001 kV]-- gnd", 1),
        ("V1A.cathode --[C2 25 uF 1 Vac]-- gnd", 0),
    ],
)
def test_a_rating_is_found_however_it_is_written(line: str, offered: int) -> None:
    text = STAGE.replace("V1A.cathode --+[C2 25 uF 1 V]-- gnd", line)
    read = read_of(text)
    found = [f for f in fixes(Known(read, reviewed(read)), *ALL) if f.preferred]
    assert len(found) == offered
    for fix in found:
        assert "6.3 V" in after(read, fix)
        assert reviewed(read_of(after(read, fix))).findings == ()


# -- waivers -------------------------------------------------------------------------------------


def waiver(known: Known) -> Fix | None:
    return next((f for f in fixes(known, *ALL) if not f.preferred), None)


def test_a_waiver_counts_only_when_someone_has_said_why() -> None:
    known = known_of(STAGE)
    fix = waiver(known)
    assert fix is not None
    text = after(known.read, fix)
    assert 'accept capacitor.over-voltage at C2 because ""' in text.splitlines()
    silent = reviewed(read_of(text))
    assert not silent.readable, "without a reason the drawing does not count as reviewed"
    assert silent.findings[0].span.line == text.splitlines().index(
        'accept capacitor.over-voltage at C2 because ""'
    ) + 1  # fmt: skip
    given = reviewed(read_of(text.replace('""', '"a trial on the bench"')))
    (finding,) = given.findings
    assert finding.accepted == "a trial on the bench"


def test_the_next_waiver_goes_below_the_last() -> None:
    text = STAGE + 'accept capacitor.over-voltage at C9 because "gone"\n\n# the end\n'
    read = read_of(text)
    fix = waiver(Known(read, reviewed(read)))
    assert fix is not None
    lines = after(read, fix).splitlines()
    assert lines.index('accept capacitor.over-voltage at C2 because ""') == 9


@pytest.mark.parametrize("level", LEVELS)
def test_what_can_kill_is_not_waived_at_the_press_of_a_key(level: str) -> None:
    known = known_of(STAGE)
    grave = replace(known.review.findings[0], level=level)
    fix = waiver(Known(known.read, replace(known.review, findings=(grave,))))
    assert (fix is None) == (level in NEVER_WAIVED)
    assert {"danger", "warning"} == set(NEVER_WAIVED)


def test_what_was_accepted_needs_no_fix() -> None:
    known = known_of(STAGE)
    waived = replace(known.review.findings[0], accepted="so be it")
    assert list(fixes(Known(known.read, replace(known.review, findings=(waived,))), *ALL)) == []


# -- names ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wrong", "right"),
    [
        ("VIA.grid", "V1A.grid"),
        ("V1B.cathod ", "V1B.cathode "),
        ("tub V1", "tube V1"),
        ("0.5 W fim]", "0.5 W film]"),
    ],
)
def test_the_name_that_was_meant_is_written(wrong: str, right: str) -> None:
    stage = STAGE.replace("0.5 W]", "0.5 W film]", 1)
    read = read_of(stage.replace(right, wrong, 1))
    assert not read.good
    line = min(p.span.line for p in read.drawing.problems or read.circuit.problems)
    (fix,) = fixes_of_reading(read, line, line)
    assert after(read, fix) == stage


def test_a_guess_never_puts_a_point_on_the_mains() -> None:
    text = STAGE + "expect lyne below 3 V\n"
    read = read_of(text.replace("gnd", "line", 1))
    hints = [p.hint for p in read.circuit.problems]
    assert "did you mean line?" in hints, "the language itself offers it as a hint"
    assert list(fixes_of_reading(read, *ALL)) == []


def test_resistances_are_written_as_a_drawing_has_them() -> None:
    assert [ohms_written(v) for v in (47.0, 150.0, 2200.0, 470e3, 1e6, 2.2e6)] == [
        "47", "150", "2.2k", "470k", "1M", "2.2M",
    ]  # fmt: skip
