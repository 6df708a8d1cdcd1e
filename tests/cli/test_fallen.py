"""What breaks down over one drawing costs that drawing its verdict, and no other anything."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from coldcheck.cli import FAILED
from coldcheck.judge.finding import Unjudged
from coldcheck.report.review import annotations, json_report, junit, sarif, text
from coldcheck.verdict import engine, registry
from coldcheck.verdict.document import build
from coldcheck.verdict.document.content import Document
from coldcheck.verdict.ruling import Ruling

GOOD = 'drawing "Lamp"\nB1 --+[E1 24 V]-- gnd\nB1 --[R1 10k 0.5 W]-- gnd\n'
ILL = "ill.tube"


@pytest.fixture
def three(tmp_path):
    """Three drawings; the one in the middle will be ill."""
    names = ["first.tube", ILL, "last.tube"]
    for name in names:
        (tmp_path / name).write_text(GOOD)
    return [str(tmp_path / name) for name in names]


def breaks_over(really, file_of):
    """The function, except that it raises for the ill drawing."""

    def instead(*given, **more):
        if file_of(*given).endswith(ILL):
            raise ZeroDivisionError("no turns")
        return really(*given, **more)

    return instead


def injected(monkeypatch, where):
    """Have one step raise for the ill drawing."""
    steps = {
        "reading": (engine, "read_drawing", str),
        "building": (engine, "circuit_of", lambda drawing, *_: drawing.file),
        "solving": (engine, "solve_states", lambda circuit, *_: circuit.drawing.file),
        "merging": (engine, "fold", lambda circuit, *_: circuit.drawing.file),
        "tables": (build, "windings_told", lambda review: review.file if review.circuit else ""),
    }
    module, name, file_of = steps[where]
    monkeypatch.setattr(module, name, breaks_over(getattr(module, name), file_of))


def drawings(out):
    return {Path(d["file"]).name: d for d in json.loads(out)["drawings"]}


@pytest.mark.parametrize(
    ("where", "kind"),
    [
        ("reading", Unjudged.REVIEW_FAILED),
        ("building", Unjudged.REVIEW_FAILED),
        ("merging", Unjudged.REVIEW_FAILED),
        ("solving", Unjudged.SOLVER_FAILED),
    ],
)
def test_the_others_are_reported_as_without_it(run, three, monkeypatch, where, kind):
    _, before, _ = run("review", *three, "--no-cache", "--report", "json")
    injected(monkeypatch, where)
    seen = []
    really = json_report.drawing
    monkeypatch.setattr(json_report, "drawing", lambda r: (seen.append(r.document), really(r))[1])
    status, out, err = run("review", *three, "--no-cache", "--report", "json")
    assert status == FAILED
    assert "ZeroDivisionError: no turns" in err
    assert ILL in err
    for name in ("first.tube", "last.tube"):
        assert drawings(out)[name] == drawings(before)[name]
    assert [r.broken for r in seen] == [False, True, False]
    assert kind in {n.kind for n in seen[1].not_judged}


def test_a_drawing_that_broke_down_is_in_every_report(run, three, monkeypatch, tmp_path):
    injected(monkeypatch, "building")
    forms = ("text", "terse", "json", "sarif", "junit", "annotations", "html")
    reports = [f"--report={form}={tmp_path / form}" for form in forms]
    assert run("review", *three, "--no-cache", *reports)[0] == FAILED
    for form in forms:
        told = (tmp_path / form).read_text(encoding="utf-8")
        assert "the review broke down: ZeroDivisionError: no turns" in " ".join(told.split()), form
        assert "drawing.not-reviewed" in told, form
    told = (tmp_path / "text").read_text(encoding="utf-8")
    assert "verdict: undecided — the review broke down" in " ".join(told.split())
    assert "3 drawings: 1 undecided, 2 let through" in told


def test_a_rule_that_raises_costs_its_own_verdict_only(run, three, monkeypatch):
    rule = next(r for r in registry.RULES if r.id == "drawing.single-connection")

    def judge(case):
        if case.circuit.drawing.file.endswith(ILL):
            raise ZeroDivisionError("no turns")
        return rule.judge(case)

    broken = replace(rule, judge=judge)
    rules = tuple(broken if r is rule else r for r in registry.RULES)
    monkeypatch.setattr(engine, "RULES", rules)
    _loose(three, "B1 --[R2 10k]-- ALONE\nB1 --+[C1 10 uF 6 V]-- gnd\n")
    status, out, err = run("review", *three, "--no-cache", "--report", "json")
    assert (status, "single-connection: the rule failed" in err) == (FAILED, True)
    found = {n: {f["rule"] for f in d["findings"]} for n, d in drawings(out).items()}
    assert found["first.tube"] - found[ILL] == {"drawing.single-connection"}
    assert "capacitor.over-voltage" in found[ILL]


def _loose(files, more):
    for file in files:
        Path(file).write_text(GOOD + more)


def test_tables_that_cannot_be_made_leave_the_findings(run, three, monkeypatch):
    _loose(three, "B1 --+[C1 10 uF 6 V]-- gnd\n")
    injected(monkeypatch, "tables")
    status, out, err = run("review", *three, "--no-cache")
    assert status == FAILED
    assert "the report broke down" in err
    assert out.count("capacitor.over-voltage: ") == 3
    assert out.count("Supply rails") == 2


@pytest.mark.parametrize(
    ("form", "module", "name"),
    [
        ("sarif", sarif, "_result"),
        ("junit", junit, "_suite"),
        ("annotations", annotations, "_of"),
        ("text", text, "_findings"),
    ],
)
def test_a_writer_that_raises_leaves_that_drawing_out(
    run, three, monkeypatch, tmp_path, form, module, name
):
    _loose(three, "B1 --+[C1 10 uF 6 V]-- gnd\n")

    def ill(*given):
        whole = (x.document if isinstance(x, Ruling) else x for x in given)
        return next((x.file for x in whole if isinstance(x, Document) and x.readable), "")

    monkeypatch.setattr(module, name, breaks_over(getattr(module, name), ill))
    other = "json" if form != "json" else "text"
    status, out, err = run(
        "review", *three, "--no-cache", f"--report={form}={tmp_path / 'made'}", f"--report={other}"
    )
    assert status == FAILED
    assert f"{ILL}: left out of the {form} report" in err
    told = (tmp_path / "made").read_text(encoding="utf-8")
    assert told.count("ZeroDivisionError: no turns") >= 1
    assert "first.tube" in told
    assert "last.tube" in told
    assert "capacitor.over-voltage" in {f["rule"] for f in drawings(out)[ILL]["findings"]}


def test_a_report_that_cannot_be_made_at_all_leaves_the_others(run, three, monkeypatch, tmp_path):
    def never(*_given, **_more):
        raise ZeroDivisionError("no turns")

    monkeypatch.setattr(sarif, "render", never)
    status, out, err = run(
        "review", *three, "--no-cache", f"--report=sarif={tmp_path / 'made'}", "--report=json"
    )
    assert status == FAILED
    assert "there is no sarif report: ZeroDivisionError: no turns" in err
    assert len(drawings(out)) == 3
    assert not (tmp_path / "made").exists()


def test_what_broke_down_is_not_kept(run, three, monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    with monkeypatch.context() as once:
        injected(once, "building")
        assert run("review", *three)[0] == FAILED
    assert run("review", *three)[0] == 0
