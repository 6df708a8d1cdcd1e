"""Reviews of drawings with sheets: findings name the instance and stand in the sheet's file."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from jsonschema import Draft202012Validator

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing, read_drawing
from coldcheck.report.review import annotations, json_report, sarif
from coldcheck.report.shared.places import Root
from coldcheck.verdict.document.build import ruling_of
from coldcheck.verdict.engine import review_file

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.judge.finding import Finding
    from coldcheck.verdict.review import Review

CHANNEL = (
    'drawing "A stage"\ntube V1 12AX7\nH1 -- V1.h1\nH2 -- V1.h2\n'
    "B1 --[R3 100k 1 W]-- V1A.plate --[C4 22 nF 400 V film]-- OUT --[R6 1M]-- gnd\n"
    "V1A.cathode --[R4 1k5]-- gnd\nIN --[R1 1M]-- gnd\nIN -- V1A.grid\n"
    "B1 --[R13 100k 1 W]-- V1B.plate\nV1B.cathode --[R14 1k5]-- gnd\nV1B.grid -- gnd\n"
)
TOP = (
    'drawing "Two stages"\nB1 --+[E1 250 V]-- gnd\nH --+[E2 12.6 V]-- gnd\n'
    "signal IN_L 50 mV 1 kHz\nsignal IN_R 50 mV 1 kHz\n"
    'sheet "channel.tube" as L joining B1, IN = IN_L, H1 = H, H2 = gnd\n'
    'sheet "channel.tube" as R joining B1, IN = IN_R, H1 = H, H2 = gnd\n'
)


@pytest.fixture
def reviewed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Review]:
    monkeypatch.chdir(tmp_path)

    def make(top: str = TOP, channel: str = CHANNEL, name: str = "top.tube") -> Review:
        Path("channel.tube").write_text(channel)
        Path(name).write_text(top)
        return review_file(Path(name))

    return make


def of(looked: Review, rule: str) -> list[Finding]:
    assert looked.readable, [f.message for f in looked.findings]
    return [f for f in looked.findings if f.rule == rule]


def test_the_circuit_is_that_of_the_drawing_written_out(tmp_path: Path) -> None:
    (tmp_path / "channel.tube").write_text(CHANNEL)
    (tmp_path / "top.tube").write_text(TOP)
    got = build_circuit(read_drawing(tmp_path / "top.tube"))
    assert got.problems == ()
    one = CHANNEL.partition("\n")[2].replace("H1 --", "H --").replace("H2 --", "gnd --")
    flat = TOP.partition("sheet")[0]
    for side, number in (("L", "1"), ("R", "2")):
        text = one.replace("IN", f"IN_{side}").replace("OUT", f"OUT_{side}")
        for letter in "VRC":
            text = text.replace(f"[{letter}", f"[{letter}{number}")
        flat += text.replace("V1", f"V{number}")
    written = build_circuit(parse_drawing(flat))
    assert written.problems == ()
    assert got.graph.number_of_nodes() == written.graph.number_of_nodes()
    assert got.graph.number_of_edges() == written.graph.number_of_edges()
    assert sorted(got.tubes) == ["L/V1", "R/V1"]
    assert got.net("L/IN") == got.net("IN_L") == "IN_L"
    assert got.net("L/B1") == got.net("R/B1") == "B1"
    assert got.net("L/V1A.plate") != got.net("R/V1A.plate")
    assert got.net("L/V1.h2") == "gnd"
    assert got.span("L/R3").file.endswith("channel.tube")
    assert got.span("B1").file.endswith("top.tube")


def test_clean_sheets_are_clean(reviewed: Callable[..., Review]) -> None:
    looked = reviewed()
    assert looked.readable, [f.message for f in looked.findings]
    assert looked.at_or_above("notice") == ()
    warm = looked.solutions["warm"]
    left, right = (warm.readings[f"{side}/V1A"].plate_ma for side in "LR")
    assert left == pytest.approx(right)
    assert left > 0.5


def test_a_finding_names_the_instance_and_stands_in_the_sheet(
    reviewed: Callable[..., Review],
) -> None:
    looked = reviewed(channel=CHANNEL.replace("[R3 100k 1 W]", "[R3 100k 0.05 W]"))
    found = of(looked, "resistor.over-power")
    assert {at for f in found for at in f.at} == {"L/R3", "R/R3"}
    for f in found:
        assert (f.span.file, f.span.line) == ("channel.tube", 5)
        assert looked.line(f.span).startswith("B1 --[R3")


def test_expectations_and_waivers_inside_and_outside(reviewed: Callable[..., Review]) -> None:
    channel = CHANNEL + "expect gain IN to OUT above 500\nexpect V1A.cathode = 5 V within 1 V\n"
    looked = reviewed(
        TOP + "expect L/V1A.plate below 10 V\nexpect L/V1A.plate - R/V1A.plate = 0 V within 1 V\n"
        'accept intent.not-met at R/OUT because "for later"\n',
        channel,
    )
    found = of(looked, "intent.not-met")
    assert [(f.at, f.span.file, f.accepted) for f in found] == [
        (("L/V1A.plate",), "top.tube", None),
        (("L/OUT", "L/IN"), "channel.tube", None),
        (("R/OUT", "R/IN"), "channel.tube", "for later"),
        (("L/V1A.cathode",), "channel.tube", None),
        (("R/V1A.cathode",), "channel.tube", None),
    ]
    assert len({f.fingerprint for f in found}) == 5
    assert of(looked, "intent.accept-unmatched") == []


def test_a_waiver_in_the_sheet_holds_for_every_instance(reviewed: Callable[..., Review]) -> None:
    channel = CHANNEL.replace("[R3 100k 1 W]", "[R3 100k 0.05 W]")
    channel += 'accept resistor.over-power at R3 because "a trial"\n'
    looked = reviewed(channel=channel)
    assert [f.accepted for f in of(looked, "resistor.over-power")] == ["a trial", "a trial"]
    assert of(looked, "intent.accept-unmatched") == []


def test_fingerprints_survive_other_lines_and_names_of_files(
    reviewed: Callable[..., Review],
) -> None:
    bad = CHANNEL.replace("[R3 100k 1 W]", "[R3 100k 0.05 W]")
    one = of(reviewed(channel=bad), "resistor.over-power")
    two = of(reviewed("# more\n" + TOP, "# more\n\n" + bad, "other.tube"), "resistor.over-power")
    assert {f.fingerprint for f in one} == {f.fingerprint for f in two}


def test_a_lead_that_a_sheet_does_not_have(reviewed: Callable[..., Review]) -> None:
    looked = reviewed(channel=CHANNEL + "V1C.plate -- B1\n")
    assert not looked.readable
    # One slip, one finding, though both instances repeat it.
    assert [(f.rule, f.span.file, f.span.line) for f in looked.findings] == [
        ("drawing.unknown-name", "channel.tube", 12)
    ]
    assert looked.line(looked.findings[0].span) == "V1C.plate -- B1"


def test_a_drawing_from_text_says_that_its_sheet_was_not_read() -> None:
    problems = build_circuit(parse_drawing(TOP)).problems
    assert [(p.rule, p.span.line) for p in problems] == [
        ("drawing.sheet-not-read", 6), ("drawing.sheet-not-read", 7),
    ]  # fmt: skip


def test_reports_say_which_file(reviewed: Callable[..., Review]) -> None:
    looked = reviewed(
        TOP + "expect B1 below 100 V\n", CHANNEL.replace("[R3 100k 1 W]", "[R3 100k 0.05 W]")
    )
    document = json.loads(json_report.render([ruling_of(looked)]))
    Draft202012Validator(json.loads(json_report.schema_text())).validate(document)
    files = {f["rule"]: f.get("file") for f in document["drawings"][0]["findings"]}
    assert files["resistor.over-power"] == "channel.tube"
    assert files["intent.not-met"] is None
    here = Root(Path.cwd(), Path.cwd())
    run = json.loads(sarif.render([ruling_of(looked)], here))["runs"][0]
    places = {
        r["ruleId"]: r["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
        for r in run["results"]
    }
    assert places["resistor.over-power"] == "channel.tube"
    assert places["intent.not-met"] == "top.tube"
    assert "file=channel.tube,line=5," in annotations.render([ruling_of(looked)], here)


def test_the_text_report_shows_the_line_of_the_sheet(reviewed: Callable[..., Review]) -> None:
    from rich.console import Console

    from coldcheck.report.review import text

    looked = reviewed(channel=CHANNEL.replace("[R3 100k 1 W]", "[R3 100k 0.05 W]"))
    console = Console(width=100, color_system=None)
    with console.capture() as captured:
        text.render(ruling_of(looked), console)
    shown = captured.get()
    assert "channel.tube:5." in shown
    assert "sheet      channel.tube\n" in shown
    assert "line 5     B1 --[R3 100k 0.05 W]" in shown


def test_a_sheet_of_its_own_in_each_pair(sample: Callable[..., Review], tmp_path: Path) -> None:
    for rule in ("drawing.sheet-not-read", "drawing.sheet-nesting"):
        wrong = sample(rule, "wrong")
        assert [f.rule for f in wrong.findings] == [rule]
    home = Path(__file__).parents[2] / "samples" / "mistakes" / "drawing.sheet-nesting"
    shutil.copytree(home, tmp_path / "pair")
    assert review_file(tmp_path / "pair" / "right.tube").verdict() == "let through"
