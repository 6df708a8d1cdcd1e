"""SARIF and JUnit as readers that others wrote have them, of what the command itself writes.

Outside: the object model of pysarif (SARIF 2.1.0), and two readers of JUnit's XML,
junitparser and that of junit2html. Each reads the file whole and has to see the same in it.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from typing import TYPE_CHECKING, Any

import pytest
from junit2htmlreport.parser import Junit
from junitparser import JUnitXml
from pysarif import load_from_json, save_to_json

from coldcheck.cli import main

if TYPE_CHECKING:
    from pathlib import Path

GOOD = "B1 --+[E1 24 V]-- gnd\nB1 --[R1 10k 0.5 W]-- M --[R2 10k 0.5 W]-- gnd\n"
BAD = GOOD + "gnd --+[C1 10 uF 50 V]-- M\n"
WAIVED = BAD + 'accept capacitor.reversed at C1 because "a dummy & <more>"\n'
UNREAD = "B1 == gnd\n"
DRAWINGS = {"bad one.tube": BAD, "good.tube": GOOD, "unread.tube": UNREAD, "waived.tube": WAIVED}


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the reports on four drawings."""
    folder = tmp_path_factory.mktemp("drawings")
    for name, text in DRAWINGS.items():
        (folder / name).write_text(text)
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("XDG_CACHE_HOME", str(folder / "cache"))
        forms = [w for form in ("sarif", "junit", "json") for w in ("--report", f"{form}=r.{form}")]
        assert main(["review", ".", "--jobs", "1", *forms]) == 2  # one cannot be read
    return folder


@pytest.fixture(scope="module")
def found(written: Path) -> list[dict[str, Any]]:
    """The findings as our own JSON has them, each with its file."""
    drawings = json.loads((written / "r.json").read_text("utf-8"))["drawings"]
    return [{**f, "file": d["file"]} for d in drawings for f in d["findings"]]


def test_a_model_of_sarif_has_every_finding_where_it_is(
    written: Path, found: list[dict[str, Any]]
) -> None:
    (run,) = load_from_json((written / "r.sarif").read_text("utf-8")).runs
    places = Counter()
    for result in run.results or ():
        (location,) = result.locations or ()
        at = location.physical_location
        assert at is not None
        assert at.artifact_location is not None
        assert at.region is not None
        name = str(at.artifact_location.uri).replace("%20", " ")
        places[result.rule_id, name, at.region.start_line] += 1
    assert places == Counter((f["rule"], f["file"], f["line"]) for f in found)
    suppressed = [r for r in run.results or () if r.suppressions]
    assert len(suppressed) == sum(f["accepted"] is not None for f in found) == 1
    known = {rule.id for rule in run.tool.driver.rules or ()}
    assert {r.rule_id for r in run.results or ()} <= known


def test_a_model_of_sarif_writes_all_of_it_again(written: Path) -> None:
    """What it did not know of it would be lost; it knows no bag of properties, which has any."""
    text = (written / "r.sarif").read_text("utf-8")
    again = save_to_json(load_from_json(text))
    lost = {re.sub(r"/properties/.*", "", p) for p in missing(json.loads(text), json.loads(again))}
    theirs = "/runs[]/results[]/suppressions[]/status"  # the model has the draft's name for it
    assert lost <= {"/$schema", "/runs[]/results[]", "/runs[]/tool/driver/rules[]", theirs}, lost


def missing(ours: Any, theirs: Any, path: str = "") -> list[str]:
    """The paths of what is not the same in a copy that may have more."""
    match ours:
        case dict():
            pairs = [(v, theirs.get(k), f"{path}/{k}") for k, v in ours.items()]
        case list():
            if len(ours) != len(theirs):
                return [path]
            pairs = [(a, b, f"{path}[]") for a, b in zip(ours, theirs, strict=True)]
        case _:
            return [] if ours == theirs else [path]
    return [p for one in pairs for p in missing(*one)]


def test_two_readers_of_junit_see_the_same(written: Path, found: list[dict[str, Any]]) -> None:
    text = (written / "r.junit").read_text("utf-8")
    theirs = {s.name: {c.name: _fate(c) for c in s} for s in JUnitXml.fromstring(text.encode())}
    other = {
        suite.name: {case.name: case.outcome().value for case in suite.all()}
        for suite in Junit(xmlstring=text).suites
    }
    assert other == theirs
    assert list(theirs) == list(DRAWINGS)
    assert theirs["bad one.tube"]["capacitor"] == "failed"
    assert theirs["waived.tube"]["capacitor"] == "passed"
    assert set(theirs["good.tube"].values()) == {"passed"}
    assert "passed" not in theirs["unread.tube"].values()
    assert sum(f["rule"] == "capacitor.reversed" for f in found) == 2


def _fate(case: Any) -> str:
    words = {"Failure": "failed", "Error": "failed", "Skipped": "skipped"}
    return next((words[type(r).__name__] for r in case.result), "passed")
