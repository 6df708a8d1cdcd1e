"""The command compare: two files, or two revisions of one."""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path

import pytest

from coldcheck.cli import FAILED, FOUND, OK, UNREADABLE


@pytest.fixture
def git(tmp_path):
    """Run git in a repository of its own."""

    def run_git(*arguments):
        who = {"GIT_AUTHOR_NAME": "x", "GIT_AUTHOR_EMAIL": "x@x", "GIT_COMMITTER_NAME": "x",
               "GIT_COMMITTER_EMAIL": "x@x", "GIT_CONFIG_GLOBAL": os.devnull}  # fmt: skip
        subprocess.run(
            ["git", *arguments], cwd=tmp_path, env={**os.environ, **who}, check=True,
            capture_output=True,
        )  # fmt: skip

    return run_git


@pytest.fixture
def repository(tmp_path, good, git):
    """The good drawing, then the same with a capacitor the wrong way round."""
    git("init", "-q")
    git("add", "good.tube")
    git("commit", "-qm", "good")
    with (tmp_path / "good.tube").open("a") as drawing:
        drawing.write("gnd --+[C1 10 uF 50 V]-- MID\n")
    git("commit", "-qam", "bad")
    return tmp_path


def test_two_files(run, good, bad):
    status, out, err = run("compare", good, bad)
    assert (status, err) == (FOUND, "")
    assert "added C1" in out
    assert "capacitor.reversed" in out
    assert "finding new or worse at notice or above" in out
    assert run("compare", bad, good)[0] == OK


def test_the_same_circuit_says_so(run, good):
    status, out, _ = run("compare", good, good)
    assert status == OK
    assert "the same circuit; nothing new or worse" in out


def test_two_revisions(run, repository):
    status, out, _ = run("compare", repository / "good.tube", "--rev", "HEAD~1", "HEAD")
    assert status == FOUND
    assert "added C1" in out


def test_a_sheet_is_that_of_its_revision(run, git, tmp_path):
    top, sheet = tmp_path / "top.tube", tmp_path / "sheet.tube"
    git("init", "-q")
    top.write_text('B1 --+[E1 250 V]-- gnd\nsheet "sheet.tube" as L joining B1\n')
    sheet.write_text("B1 --[R1 22k 5 W]-- gnd\n")
    git("add", ".")
    git("commit", "-qm", "22k")
    sheet.write_text("B1 --[R1 33k 5 W]-- gnd\n")
    git("commit", "-qam", "33k")
    sheet.unlink()
    status, out, err = run("compare", top, "--rev", "HEAD~1", "HEAD")
    assert (status, err) == (OK, "")
    assert "L/R1" in out
    assert "22 k" in out
    assert "33 k" in out
    git("rm", "-q", "--cached", "sheet.tube")
    git("commit", "-qm", "none")
    status, out, _ = run("compare", top, "--rev", "HEAD~1", "HEAD")
    assert status == UNREADABLE
    assert "expected a file of the revision HEAD" in " ".join(out.split())


def test_json_and_markdown(run, good, bad, tmp_path):
    _, out, _ = run("compare", good, bad, "--report", "json")
    document = json.loads(out)
    assert document["schema"] == "coldcheck.comparison/1"
    assert [p["how"] for p in document["parts"]] == ["added"]
    file = tmp_path / "remark.md"
    run("compare", good, bad, "--report", "markdown", "--output", file)
    text = file.read_text()
    assert "| new | notice |" in text or "| new | warning |" in text or "| new | caution |" in text
    assert "`capacitor.reversed`" in text


def test_what_cannot_be_compared(run, good, unreadable, repository):
    status, out, err = run("compare", good, unreadable)
    assert status == UNREADABLE
    assert "verdict: unreadable" in out
    assert run("compare", good)[0] == FAILED
    status, _, err = run("compare", good, "--rev", "HEAD", "nowhere")
    assert status == FAILED
    assert "git cat-file" in err
    assert run("compare", good, "--rev", "--output=x", "HEAD")[0] == FAILED
    status, _, err = run("compare", good, good, "--state", "tepid")
    assert status == FAILED
    assert "has no state tepid" in err


def test_markdown_shows_a_title_as_it_is_written(run, tmp_path, good):
    file = tmp_path / "title.tube"
    file.write_text(Path(good).read_text().replace("Lamp Post", "<b>@all</b> [x](y) | `z`"))
    _, out, _ = run("compare", good, file, "--report", "markdown")
    heading = out.splitlines()[0]
    assert "\\<b\\>\\@all" in heading
    assert "\\[x\\]\\(y\\) \\| \\`z\\`" in heading


def test_the_page_draws_both(run, good, bad, tmp_path):
    target = tmp_path / "changes.html"
    status, out, _ = run("compare", good, bad, "--report", "html", "--output", target)
    assert (status, out) == (FOUND, "")
    page = target.read_text(encoding="utf-8")
    assert page.count("<svg") == 2
    assert page.count('<rect class="changed"') == 1  # C1 is framed where it is new
    assert "capacitor.reversed" in page
