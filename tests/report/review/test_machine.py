"""The reports that other programs read: SARIF, JUnit, workflow commands."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st
from junitparser import JUnitXml
from tests.gates import at

from coldcheck.drawing import parse_drawing
from coldcheck.drawing.model import Span
from coldcheck.judge.finding import Finding, NotJudged, Unjudged
from coldcheck.report.review import annotations, junit, sarif
from coldcheck.report.shared.origin import Origin, parsed
from coldcheck.report.shared.places import Root, relative
from coldcheck.verdict.added import all_rules
from coldcheck.verdict.document.build import ruling_of
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.registry import RULES
from coldcheck.verdict.review import Review

if TYPE_CHECKING:
    from collections.abc import Mapping

DATA = Path(__file__).parent / "data"
PLACE = Path("/somewhere")
ROOT = Root(PLACE, PLACE)
WRONG = 'drawing "x"\nB1 --[C1 100 nF 63 V]-- X --[R1 10k]-- gnd\nB1 --+[E1 400 V]-- gnd\n'
BAD = "B1 --[R1 10Ok]-- gnd\n"
NASTY = "a%b\r\n::error file=x::y\x1b[31m<script>&amp;]]>\u202e\ufffe\x00"


@pytest.fixture(scope="module")
def reviews() -> list[Review]:
    waived = WRONG + 'accept capacitor.over-voltage at C1 because "a bench test"\n'
    texts = {"wrong.tube": WRONG, "sub folder/bad.tube": BAD, "waived.tube": waived}
    return [review_drawing(parse_drawing(text, name)) for name, text in texts.items()]


@pytest.fixture(scope="module")
def schema() -> Mapping[str, Any]:
    loaded = json.loads((DATA / "sarif-schema-2.1.0.json").read_text(encoding="utf-8"))
    assert isinstance(loaded, dict)
    return loaded


def nasty() -> Review:
    """A review whose every text is hostile."""
    finding = Finding(
        rule="mains.no-earth", level="notice", state=NASTY, at=(NASTY,),
        span=Span(NASTY, 1, 1, 2), message=NASTY, remedy=NASTY, source=NASTY,
    )  # fmt: skip
    waived = replace(finding, accepted=NASTY)
    unjudged = NotJudged("mains.no-fuse", (NASTY,), NASTY)
    return Review(NASTY, NASTY, None, (finding, waived), (unjudged,), {}, (NASTY,), True)


# -- SARIF ------------------------------------------------------------------------------


def test_sarif_is_valid_against_the_published_schema(reviews, schema) -> None:  # type: ignore[no-untyped-def]
    for some in (reviews, [nasty()], []):
        jsonschema.validate(json.loads(sarif.render(list(map(at, some)), ROOT)), schema)


def test_sarif_has_every_rule_with_help_and_every_finding_with_its_place(reviews) -> None:  # type: ignore[no-untyped-def]
    run = sarif.log(list(map(at, reviews)), ROOT)["runs"][0]
    rules = run["tool"]["driver"]["rules"]
    assert {r.id for r in RULES} <= {r["id"] for r in rules}
    assert all(r["help"]["markdown"] for r in rules[: len(RULES)])
    results = run["results"]
    assert len(results) == sum(len(r.findings) for r in reviews)
    for result in results:
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]
        region = result["locations"][0]["physicalLocation"]["region"]
        assert region["startLine"] >= 1
        assert region["startColumn"] >= 1
    over = next(r for r in results if r["ruleId"] == "capacitor.over-voltage")
    # C1 stands in the second line, between the brackets that open in column 7
    assert over["locations"][0]["physicalLocation"]["region"]["startLine"] == 2
    assert over["locations"][0]["logicalLocations"][0] == {
        "name": "C1", "fullyQualifiedName": "C1", "kind": "part",
    }  # fmt: skip
    assert over["partialFingerprints"][sarif.FINGERPRINT]


def test_sarif_says_where_to_read_on_and_which_run_it_is(reviews, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setattr(sarif, "origin", lambda: Origin("https://host.invalid/x", "c0ffee"))
    run = sarif.log(list(map(at, reviews)), ROOT)["runs"][0]
    driver = run["tool"]["driver"]
    assert run["automationDetails"] == {"id": "coldcheck/"}
    assert driver["informationUri"] == "https://host.invalid/x"
    page = Path(__file__).parents[3] / "samples" / "mistakes" / "README.md"
    heads = {
        t[4:].replace(".", "").strip()
        for t in page.read_text("utf-8").splitlines()
        if t.startswith("### ")
    }
    for rule in driver["rules"][: len(RULES)]:
        address, _, anchor = rule["helpUri"].partition("#")
        assert address == "https://host.invalid/x/blob/c0ffee/samples/mistakes/README.md"
        assert anchor in heads


def test_sarif_of_a_copy_from_nowhere_sends_nobody_anywhere(reviews, schema, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setattr(sarif, "origin", lambda: None)
    log = sarif.log(list(map(at, reviews)), ROOT)
    jsonschema.validate(log, schema)
    driver = log["runs"][0]["tool"]["driver"]
    assert "informationUri" not in driver
    assert not any("helpUri" in rule for rule in driver["rules"])


def test_an_installers_note_says_where_a_copy_is_from() -> None:
    """Examples of PEP 610 itself (its section "Example pip commands"), and what is no address."""
    git = (
        '{"url": "https://github.com/pypa/pip.git", '
        '"vcs_info": {"vcs": "git", "commit_id": "7921be1"}}'
    )
    assert parsed(git) == Origin("https://github.com/pypa/pip", "7921be1")
    for other in (
        '{"url": "https://github.com/pypa/pip/archive/1.3.1.zip", "archive_info": {}}',
        '{"url": "file:///home/user/project", "dir_info": {"editable": true}}',
        git.replace("https://", "https://user:word@"),
        git.replace("https://", "file://"),
        "[]",
        "{",
    ):
        assert parsed(other) is None


def test_the_fingerprint_of_hosted_services_tells_twins_apart(reviews) -> None:  # type: ignore[no-untyped-def]
    twice = [at(reviews[0]), at(replace(reviews[0], file="other.tube"))]
    results = sarif.log(twice, ROOT)["runs"][0]["results"]
    marks = [r["partialFingerprints"][sarif.HOSTED] for r in results]
    assert len(set(marks)) == len(marks)
    assert all(re.fullmatch(r"[0-9a-f]{16}:[12]", m) for m in marks)


def test_a_run_in_which_something_broke_down_was_no_success(reviews) -> None:  # type: ignore[no-untyped-def]
    broken = NotJudged("x.y", (), "the rule failed", Unjudged.RULE_FAILED)
    review = replace(reviews[0], not_judged=(broken,))
    for some, success in (([reviews[0]], True), ([reviews[0], review], False)):
        run = sarif.log(list(map(at, some)), ROOT)["runs"][0]
        assert run["invocations"][0]["executionSuccessful"] is success


def test_names_are_those_of_the_repository_wherever_we_stand(tmp_path, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    (tmp_path / ".git").mkdir()
    (tmp_path / "amps" / "old").mkdir(parents=True)
    (tmp_path / "amps" / "a.tube").write_text(WRONG)
    for here, named in (("amps/old", "../a.tube"), (".", "amps/a.tube"), ("..", None)):
        monkeypatch.chdir(tmp_path / here)
        file = named or f"{tmp_path.name}/amps/a.tube"
        review = at(review_drawing(parse_drawing(WRONG, file)))
        results = json.loads(sarif.render([review]))["runs"][0]["results"]
        place = results[0]["locations"][0]["physicalLocation"]["artifactLocation"]
        assert place == {"uri": "amps/a.tube", "uriBaseId": sarif.ROOT}
        assert "file=amps/a.tube," in annotations.render([review])
        (suite,) = ET.fromstring(junit.render([review]))
        assert {suite.get("name")} == {c.get("file") for c in suite.iter("testcase")}
        assert suite.get("name") == "amps/a.tube"


def test_sarif_suppresses_what_was_accepted(reviews) -> None:  # type: ignore[no-untyped-def]
    results = sarif.log([at(reviews[2])], ROOT)["runs"][0]["results"]
    waived = [r for r in results if r.get("suppressions")]
    assert [r["ruleId"] for r in waived] == ["capacitor.over-voltage"]
    assert waived[0]["suppressions"][0]["justification"] == "a bench test"


def test_sarif_levels_follow_the_signal_words() -> None:
    words = {r.id: r.level for r in RULES}
    rules = sarif.log([], ROOT)["runs"][0]["tool"]["driver"]["rules"]
    for rule in rules:
        level = rule["defaultConfiguration"]["level"]
        assert (level == "error") == (words[rule["id"]] in ("danger", "warning", "caution"))


def test_files_are_relative_to_the_root_and_escaped() -> None:
    assert ROOT.uri("sub folder/a#b.tube") == ("sub%20folder/a%23b.tube", True)
    assert ROOT.uri("/elsewhere/a.tube") == ("file:///elsewhere/a.tube", False)
    assert relative("x/../a.tube", PLACE) == "a.tube"
    assert relative("/somewhere/b/a.tube", PLACE) == "b/a.tube"


# -- JUnit ------------------------------------------------------------------------------


def test_junit_has_a_case_a_family_and_fails_where_a_finding_counts(reviews) -> None:  # type: ignore[no-untyped-def]
    top = JUnitXml.fromstring(junit.render(list(map(at, reviews)), ROOT).encode())
    suites = {s.name: s for s in top}
    assert set(suites) == {"wrong.tube", "sub folder/bad.tube", "waived.tube"}
    wrong = {case.name: case for case in suites["wrong.tube"]}
    assert set(wrong) == {rule.family for rule in all_rules()}
    assert [r.type for r in wrong["capacitor"].result] == ["capacitor.over-voltage"]
    assert suites["wrong.tube"].failures == 1
    assert suites["waived.tube"].failures == 0
    assert suites["sub folder/bad.tube"].errors == 1
    assert top.failures == 1


def test_junit_follows_the_gate(reviews) -> None:  # type: ignore[no-untyped-def]
    top = JUnitXml.fromstring(junit.render([at(reviews[0], "danger")], ROOT).encode())
    assert top.failures == 0
    assert "capacitor.over-voltage" in junit.render([at(reviews[0], "danger")], ROOT)


def test_junit_stays_xml_whatever_the_drawing_says() -> None:
    top = ET.fromstring(junit.render([ruling_of(nasty())], ROOT).encode())
    assert "<script>" in "".join(top.itertext())
    assert top.find(".//script") is None


# -- workflow commands ------------------------------------------------------------------


def test_annotations_are_one_command_a_finding(reviews) -> None:  # type: ignore[no-untyped-def]
    lines = annotations.render(list(map(at, reviews)), ROOT).splitlines()
    open_findings = [f for r in reviews for f in r.findings if f.accepted is None]
    assert len(lines) == len(open_findings) + 1
    (verdict,) = [t for t in lines if "verdict%3A" in t or "verdict:" in t]
    assert verdict.startswith("::notice file=waived.tube,line=1,title=let through::verdict: let ")
    assert "1 notice accepted in the drawing" in verdict
    over = next(t for t in lines if "capacitor.over-voltage" in t)
    assert over.startswith("::error file=wrong.tube,line=2,col=")
    assert "title=notice%3A capacitor.over-voltage::" in over


def test_a_danger_that_was_accepted_has_a_line_of_its_own() -> None:
    finding = Finding("mains.no-earth", "danger", "", ("T1",), Span("f", 1, 1, 2), "no earth", "")
    for known, said in (
        (replace(finding, accepted="so what"), "accepted in the drawing"),
        (replace(finding, standing=True), "standing in the ledger"),
    ):
        review = Review("f.tube", "x", None, (known,), (), {}, (), True)
        own, verdict = annotations.render([ruling_of(review)], ROOT).splitlines()
        assert own.startswith("::warning file=f,")
        assert f"title={said}%2C danger%3A mains.no-earth::T1: no earth" in own
        tail = said.replace("standing ", "")
        assert (
            f"nothing else found at notice or above in what was judged; 1 danger {tail}" in verdict
        )


def test_annotations_below_the_gate_only_warn(reviews) -> None:  # type: ignore[no-untyped-def]
    assert annotations.render([at(reviews[0], "danger")], ROOT).startswith("::warning ")


COMMAND = re.compile(r"::(error|warning|notice) (\w+=[^,:\r\n]*,)*\w+=[^,:\r\n]*::[^\r\n]*")


def test_annotations_of_a_hostile_drawing_are_still_one_line() -> None:
    text = annotations.render([ruling_of(nasty())], ROOT)
    found, verdict = text.rstrip("\n").split("\n")
    assert COMMAND.fullmatch(found)
    assert COMMAND.fullmatch(verdict)
    assert "\x1b" not in text


@given(st.text(), st.text())
def test_nothing_in_a_text_breaks_out_of_its_report(message: str, place: str) -> None:
    finding = Finding(
        "mains.no-earth", "notice", "warm", (place,), Span("f", 1, 1, 2), message, message
    )
    review = Review("f.tube", message, None, (finding,), (), {}, (), True)
    lines = annotations.render([ruling_of(review)], ROOT)
    assert lines.count("\n") == 1
    assert COMMAND.fullmatch(lines.rstrip("\n"))
    assert len(ET.fromstring(junit.render([ruling_of(review)], ROOT).encode())) == 1
    assert (
        json.loads(sarif.render([ruling_of(review)], ROOT))["runs"][0]["results"][0]["ruleIndex"]
        >= 0
    )


# -- undecided --------------------------------------------------------------------------

DEAD = 'drawing "dead"\nA --[R1 10k]-- B --[R2 10k]-- gnd\n'


@pytest.mark.parametrize("holds", [True, False])
def test_what_leaves_a_drawing_undecided_is_told_by_every_report(holds: bool) -> None:
    looked = review_drawing(parse_drawing(DEAD, "dead.tube"))
    ruling = at(looked, "danger", holds_undecided=holds)
    assert ruling.verdict == "undecided"
    (suite,) = JUnitXml.fromstring(junit.render([ruling], ROOT).encode())
    assert (suite.failures, suite.skipped) == (int(holds), int(not holds))
    (case,) = [c for c in suite if c.name == "undecided"]
    assert "nothing is powered" in case.result[0].message
    lines = annotations.render([ruling], ROOT).splitlines()
    word = "error" if holds else "warning"
    assert lines[-1].startswith(f"::{word} file=dead.tube,line=1,title=undecided::verdict: ")
    assert COMMAND.fullmatch(lines[-1])
    run = json.loads(sarif.render([ruling], ROOT))["runs"][0]
    told = run["invocations"][0]["toolExecutionNotifications"]
    assert [n["level"] for n in told if "is powered" in n["message"]["text"]] == ["error"]
