from __future__ import annotations

import json
import os
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest

from coldcheck.cli import BROKEN_PIPE, FAILED, FOUND, INTERRUPTED, OK, UNREADABLE
from coldcheck.report.review import text
from coldcheck.report.review.json_report import schema_text
from coldcheck.report.review.text import CAUTION
from coldcheck.verdict import engine, registry


def test_status_0_and_a_verdict_that_promises_nothing(run, good):
    status, out, err = run("review", good)
    assert (status, err) == (OK, "")
    flat = " ".join(out.split())
    assert "verdict: let through — nothing found at notice or above in what was judged" in flat
    assert flat.endswith(CAUTION)


def test_status_1_with_a_line_in_gnu_form(run, bad):
    status, out, err = run("review", bad)
    assert (status, err) == (FOUND, "")
    assert f"{bad}:4." in out
    assert ", capacitor.reversed: " in out
    assert "gnd --+[C1 10 uF 50 V]-- MID" in out


def test_the_gate_decides(run, bad):
    assert run("review", bad, "--gate", "danger")[0] == OK
    assert run("review", bad, "--gate", "notice")[0] == FOUND


def test_status_2_and_every_syntax_error_with_its_line(run, unreadable):
    status, out, _ = run("review", unreadable)
    assert status == UNREADABLE
    assert f"{unreadable}:4." in out
    assert f"{unreadable}:5." in out
    assert "verdict: unreadable" in out
    line = next(x for x in out.splitlines() if "10q" in x and x.startswith("   line 4"))
    marks = out.splitlines()[out.splitlines().index(line) + 1]
    assert marks.strip("^ ") == ""
    assert "^" in marks


def test_syntax_errors_are_findings_in_json_too(run, unreadable):
    status, out, _ = run("review", unreadable, "--report", "json")
    drawing = json.loads(out)["drawings"][0]
    assert status == UNREADABLE
    assert drawing["verdict"] == "unreadable"
    assert {f["line"] for f in drawing["findings"]} == {4, 5}
    assert all(f["rule"].startswith("drawing.") for f in drawing["findings"])


@pytest.mark.parametrize("form", ["text", "json"])
def test_a_missing_file_is_status_2_in_every_form(run, tmp_path, form):
    status, out, _ = run("review", tmp_path / "none.tube", "--report", form)
    assert status == UNREADABLE
    assert "none.tube" in out
    assert "unreadable" in out


def test_a_folder_or_pattern_without_drawings_is_status_2(run, tmp_path):
    for argument in (tmp_path, tmp_path / "*.tube"):
        status, out, _ = run("review", argument)
        assert status == UNREADABLE
        assert "there is no drawing to review" in out


def test_json_of_real_drawings_follows_the_schema(run, good, bad, unreadable):
    status, out, _ = run("review", good, bad, unreadable, "--report", "json")
    assert status == UNREADABLE
    document = json.loads(out)
    jsonschema.Draft202012Validator(json.loads(schema_text())).validate(document)
    assert [d["verdict"] for d in document["drawings"]] == ["let through", "held", "unreadable"]
    warm = document["drawings"][0]["states"]["warm"]
    assert warm["converged"] is True
    assert warm["points"]["MID"]["dc"] == pytest.approx(12.0, abs=1e-3)  # 24 V halved


def test_the_sample_drawing_has_every_point_and_electrode(run):
    sample = Path(__file__).parents[2] / "samples" / "harbour-light.tube"
    _, out, _ = run("review", sample, "--report", "json")
    document = json.loads(out)
    jsonschema.Draft202012Validator(json.loads(schema_text())).validate(document)
    warm = document["drawings"][0]["states"]["warm"]
    assert {"B1", "B2", "LIFT", "V1A.plate", "V2.screen", "V3.f1"} <= set(warm["points"])
    assert {"V1A", "V1B", "V2", "V3"} <= set(warm["tubes"])


def test_folders_are_searched_and_sorted_and_nothing_is_reviewed_twice(run, tmp_path, make):
    make("b.tube")
    first = make("a/z.tube")
    make("notes.txt")
    status, out, _ = run("review", tmp_path, first, "--report", "json")
    names = [Path(d["file"]).relative_to(tmp_path).as_posix() for d in json.loads(out)["drawings"]]
    assert status == OK
    assert names == ["a/z.tube", "b.tube"]


def test_a_pattern_that_the_shell_left_alone(run, tmp_path, make):
    make("one.tube")
    make("two.tube")
    make("deep/three.tube")
    _, out, _ = run("review", tmp_path / "*.tube", tmp_path / "**" / "th*.tube", "--report", "json")
    names = [Path(d["file"]).name for d in json.loads(out)["drawings"]]
    assert names == ["one.tube", "two.tube", "three.tube"]


def test_a_file_whose_name_looks_like_a_pattern(run, make):
    status, out, _ = run("review", make("one [two].tube"))
    assert status == OK
    assert "one [two].tube" in out


def test_several_drawings_end_in_one_summary_and_one_caution(run, good, bad):
    status, out, err = run("review", good, bad)
    assert (status, err) == (FOUND, "")
    assert "2 drawings: 1 held, 1 let through" in out
    assert " ".join(out.split()).count(CAUTION) == 1


class TestOutput:
    def test_the_file_holds_what_stdout_would(self, run, bad, tmp_path):
        target = tmp_path / "report.txt"
        status, out, _ = run("review", bad, "--output", target)
        assert (status, out) == (FOUND, "")
        assert target.read_text(encoding="utf-8") == run("review", bad)[1]

    def test_a_failed_write_leaves_the_old_file_and_no_rubbish(
        self, run, good, tmp_path, monkeypatch
    ):
        folder = tmp_path / "out"
        folder.mkdir()
        target = folder / "report.json"
        target.write_text("old", encoding="utf-8")

        def full(handle):
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(os, "fsync", full)
        status, _, err = run("review", good, "--report", "json", "--output", target)
        assert status == FAILED
        assert "cannot write" in err
        assert "No space left" in err
        assert [p.name for p in folder.iterdir()] == ["report.json"]
        assert target.read_text(encoding="utf-8") == "old"

    def test_a_tool_failure_leaves_the_old_file(self, run, good, tmp_path, monkeypatch):
        target = tmp_path / "report.txt"
        target.write_text("old", encoding="utf-8")
        monkeypatch.setattr(text, "render", _break)
        assert run("review", good, "--output", target)[0] == FAILED
        assert target.read_text(encoding="utf-8") == "old"

    def test_the_mode_of_a_new_file_is_the_usual_and_of_an_old_one_is_kept(
        self, run, good, tmp_path
    ):
        usual, target = tmp_path / "usual", tmp_path / "report.txt"
        usual.write_text("", encoding="utf-8")
        run("review", good, "--output", target)
        assert target.stat().st_mode == usual.stat().st_mode
        target.chmod(0o640)
        run("review", good, "--output", target)
        assert target.stat().st_mode & 0o777 == 0o640

    @pytest.mark.parametrize("there", [True, False])
    def test_nothing_is_written_through_a_link(self, run, good, tmp_path, there):
        target, link = tmp_path / "report.txt", tmp_path / "link.txt"
        link.symlink_to(target)
        if there:
            target.write_text("theirs", encoding="utf-8")
        status, _, err = run("review", good, "--output", link)
        assert status == FAILED
        assert "nothing is written through a link" in err
        assert link.is_symlink()
        assert not there or target.read_text(encoding="utf-8") == "theirs"
        assert target.exists() == there

    def test_a_drawing_is_never_overwritten(self, run, good):
        before = Path(good).read_text(encoding="utf-8")
        status, _, err = run("review", good, "--output", good)
        assert status == FAILED
        assert "would overwrite the drawing" in err
        assert Path(good).read_text(encoding="utf-8") == before

    def test_a_folder_that_does_not_exist(self, run, good, tmp_path):
        status, _, err = run("review", good, "--output", tmp_path / "no" / "report.txt")
        assert status == FAILED
        assert err.startswith("coldcheck: cannot write")


def _break(*_args):
    raise ZeroDivisionError("coil of \x1b[2J no turns")


class TestToolFailure:
    def test_one_plain_line_and_how_to_report(self, run, good, monkeypatch):
        monkeypatch.setattr(engine, "review_file", _break)
        status, out, err = run("review", good)
        assert status == FAILED
        assert "verdict: undecided — the review broke down" in " ".join(out.split())
        assert err.splitlines()[0] == (
            f"coldcheck failed: RuntimeError: {good}: review: the review broke down: "
            "ZeroDivisionError: coil of \\x1b[2J no turns"
        )
        assert "report" in err
        assert "Traceback" not in err

    def test_details_on_demand(self, run, good, monkeypatch):
        monkeypatch.setattr(engine, "review_file", _break)
        monkeypatch.setenv("COLDCHECK_DEBUG", "1")
        with pytest.raises(ZeroDivisionError):
            run("review", good)

    def test_a_rule_that_breaks_down_is_no_pass(self, run, good, monkeypatch):
        broken = replace(registry.RULES[0], judge=_break)
        plain = engine.run_rules
        monkeypatch.setattr(engine, "run_rules", lambda case, *_: plain(case, (broken,)))
        status, out, err = run("review", good)
        assert status == FAILED
        assert "the rule failed" in out
        assert f"{broken.id}: the rule failed: ZeroDivisionError" in err

    def test_a_solver_that_breaks_down_is_no_pass(self, run, good, monkeypatch):
        monkeypatch.setattr(engine, "solve_states", _break)
        status, out, err = run("review", good)
        assert status == FAILED
        assert "not solved" in out
        assert "the solver failed: ZeroDivisionError" in err

    def test_interrupted(self, run, good, monkeypatch):
        def stop(*_args):
            raise KeyboardInterrupt

        monkeypatch.setattr(engine, "review_file", stop)
        assert run("review", good) == (INTERRUPTED, "", "")


class TestProcess:
    def test_statuses(self, process, good, bad, unreadable):
        statuses = [process("review", f).returncode for f in (good, bad, unreadable)]
        assert statuses == [OK, FOUND, UNREADABLE]
        assert process("review").returncode == FAILED

    def test_a_reader_that_goes_away_is_no_drama(self, good):
        import subprocess
        import sys

        command = [sys.executable, "-m", "coldcheck", "review", good]
        reader, writer = os.pipe()
        os.close(reader)
        try:
            done = subprocess.run(
                command, stdout=writer, stderr=subprocess.PIPE, text=True, check=False
            )
        finally:
            os.close(writer)
        assert (done.returncode, done.stderr) == (BROKEN_PIPE, "")

    def test_nothing_but_the_report_when_piped(self, process, good, bad):
        done = process("review", good, bad)
        assert done.stderr == ""
        assert "\x1b" not in done.stdout
        assert not [x for x in done.stdout.splitlines() if x != x.rstrip()]

    def test_a_terminal_that_knows_only_ascii(self, process, bad):
        env = {**os.environ, "PYTHONIOENCODING": "ascii"}
        done = process("review", bad, env=env)
        assert done.returncode == FOUND
        assert "verdict: held" in done.stdout
        assert done.stderr == ""

    @pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is full")
    def test_a_full_disk_is_said(self, good):
        import subprocess
        import sys

        command = [sys.executable, "-m", "coldcheck", "review", good]
        with Path("/dev/full").open("w") as full:
            done = subprocess.run(
                command, stdout=full, stderr=subprocess.PIPE, text=True, check=False
            )
        assert done.returncode == FAILED
        assert "No space left" in done.stderr
        assert "Traceback" not in done.stderr


class TestUndecided:
    """What could not be judged is not let through, unless the settings say so."""

    DEAD = "A --[R1 10k]-- B --[R2 10k]-- gnd\n"

    @pytest.fixture
    def dead(self, tmp_path):
        (tmp_path / "dead.tube").write_text(self.DEAD)
        return tmp_path / "dead.tube"

    def test_it_stops_at_the_gate_and_says_what_would_decide_it(self, run, dead):
        status, out, _ = run("review", dead, "--gate", "danger")
        assert status == FOUND
        said = " ".join(out.split())
        assert "verdict: undecided — nothing is powered: draw what feeds it" in said

    def test_the_settings_let_it_through_and_it_is_still_called_so(self, run, dead, tmp_path):
        (tmp_path / "coldcheck.toml").write_text('undecided = "let through"\n')
        status, out, _ = run("review", dead, "--gate", "danger")
        assert (status, "verdict: undecided" in out) == (OK, True)

    @pytest.mark.parametrize(
        ("word", "hint"),
        [("pass", "pass is now let through"), ("fail", "fail is now held"), ("yes", "")],
    )
    def test_other_words_are_refused(self, run, dead, tmp_path, word, hint):
        (tmp_path / "coldcheck.toml").write_text(f'undecided = "{word}"\n')
        status, _, err = run("review", dead)
        assert status == FAILED
        assert "expected held or let through" in err
        assert hint in err

    def test_an_empty_drawing_is_not_let_through(self, run, make_empty):
        for file in make_empty:
            status, out, _ = run("review", file, "--gate", "danger")
            assert (status, "verdict: undecided" in out) == (FOUND, True)

    @pytest.fixture
    def make_empty(self, tmp_path):
        texts = {"empty": "", "remark": "# later\n", "name": 'drawing "x"\n'}
        for name, drawing in texts.items():
            (tmp_path / f"{name}.tube").write_text(drawing)
        return [tmp_path / f"{name}.tube" for name in texts]
