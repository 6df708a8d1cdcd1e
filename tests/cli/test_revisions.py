"""A change under review starts no program: not by a folder that looks like a repository, not by
the configuration of one that is, not by an attribute."""

from __future__ import annotations

import os
import stat
import subprocess
from pathlib import Path

import pytest

from coldcheck.cli import FAILED, OK
from coldcheck.cli.failure import AskedWrongly

DRAWING = "B1 --+[E1 24 V]-- gnd\nB1 --[R1 10k]-- gnd\n"
WHO = {"GIT_AUTHOR_NAME": "x", "GIT_AUTHOR_EMAIL": "x@x", "GIT_COMMITTER_NAME": "x",
       "GIT_COMMITTER_EMAIL": "x@x", "GIT_CONFIG_GLOBAL": os.devnull}  # fmt: skip

pytestmark = pytest.mark.skipif(os.name == "nt", reason="the planted programs are shell scripts")


def plain_git(folder, *arguments):
    subprocess.run(
        ["git", *arguments], cwd=folder, env={**os.environ, **WHO}, check=True, capture_output=True
    )


@pytest.fixture
def marker(tmp_path):
    """A file that is there once a planted program was started."""
    return tmp_path / "marker"


@pytest.fixture
def program(tmp_path, marker):
    """A program that leaves the mark, and passes on what it is given."""
    script = tmp_path / "program"
    script.write_text(f"#!/bin/sh\ntouch '{marker}'\ncat\n")
    script.chmod(script.stat().st_mode | stat.S_IXUSR)
    return script


@pytest.fixture
def repository(tmp_path):
    """A repository with one drawing that is committed."""
    root = tmp_path / "outer"
    root.mkdir()
    plain_git(root, "init", "-q")
    (root / "a.tube").write_text(DRAWING)
    plain_git(root, "add", ".")
    plain_git(root, "commit", "-qm", "first")
    return root


@pytest.fixture
def embedded(repository, program):
    """The outer repository with a folder in it that has a drawing and the inside of another."""
    folder = repository / "evil"
    folder.mkdir()
    (folder / "d.tube").write_text(DRAWING)
    plain_git(folder, "init", "-q")
    plain_git(folder, "add", ".")
    plain_git(folder, "commit", "-qm", "evil")
    plain_git(folder, "pack-refs", "--all")
    for name, value in (("core.worktree", ".."), ("core.fsmonitor", program)):
        plain_git(folder, "config", name, str(value))
    for inside in (folder / ".git").iterdir():
        inside.rename(folder / inside.name)
    plain_git(folder, f"--git-dir={folder}", "config", "core.worktree", str(folder))
    (folder / ".git").rmdir()
    assert {"HEAD", "config", "objects", "refs", "index", "packed-refs"} <= {
        p.name for p in folder.iterdir()
    }
    return folder


def test_the_attack_works_on_git_itself(embedded, marker):
    subprocess.run(["git", "status"], cwd=embedded, check=False, capture_output=True,
                   env={**os.environ, "GIT_CONFIG_GLOBAL": os.devnull})  # fmt: skip
    assert marker.exists()


@pytest.mark.parametrize("named", ["evil", "evil/d.tube", "."])
def test_a_folder_that_looks_like_a_repository_runs_nothing(run, embedded, marker, named):
    marker.unlink(missing_ok=True)
    file = embedded.parent / named
    status, out, err = run("review", file, "--touched-since", "HEAD", "--no-cache")
    assert not marker.exists()
    assert status == OK
    assert "touched since HEAD" in err
    assert "d.tube" in out  # new to the outer repository, so it is reviewed


def test_nor_does_a_comparison_of_revisions(run, embedded, marker):
    marker.unlink(missing_ok=True)
    root = embedded.parent
    plain_git(root, "add", "evil/d.tube")
    plain_git(root, "commit", "-qm", "second")
    status, _, err = run("compare", embedded / "d.tube", "--rev", "HEAD", "HEAD")
    assert (status, err) == (OK, "")
    assert not marker.exists()


CONFIGURED = {
    "core.fsmonitor": "", "diff.external": "", "core.pager": "", "core.hooksPath": "folder",
    "diff.planted.textconv": "", "diff.planted.command": "", "filter.planted.clean": "",
    "filter.planted.smudge": "", "filter.planted.process": "", "core.alternateRefsCommand": "",
    "core.sshCommand": "", "credential.helper": "", "core.editor": "",
}  # fmt: skip


def test_nothing_of_the_configuration_is_started(run, repository, program, marker):
    hooks = program.parent / "hooks"
    hooks.mkdir()
    for hook in ("post-index-change", "fsmonitor-watchman", "post-checkout"):
        (hooks / hook).symlink_to(program)
    for name, what in CONFIGURED.items():
        plain_git(repository, "config", name, str(hooks if what else program))
    plain_git(repository, "config", "filter.planted.required", "true")
    (repository / ".gitattributes").write_text("*.tube filter=planted diff=planted\n")
    (repository / "a.tube").write_text(DRAWING.replace("10k", "22k"))
    os.utime(repository / ".gitattributes")
    marker.unlink(missing_ok=True)
    drawing = repository / "a.tube"
    status, out, err = run("review", drawing, "--touched-since", "HEAD", "--no-cache")
    assert status == OK
    assert "1 of 1 drawing touched since HEAD" in err
    assert "a.tube" in out
    assert run("compare", drawing, "--rev", "HEAD", "HEAD")[0] == OK
    assert not marker.exists()


def test_variables_lead_git_nowhere_else(run, repository, program, marker, monkeypatch, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    plain_git(other, "init", "-q")
    monkeypatch.setenv("GIT_DIR", str(other / ".git"))
    monkeypatch.setenv("GIT_WORK_TREE", str(other))
    monkeypatch.setenv("GIT_EXTERNAL_DIFF", str(program))
    monkeypatch.setenv("GIT_CONFIG_COUNT", "1")
    monkeypatch.setenv("GIT_CONFIG_KEY_0", "core.fsmonitor")
    monkeypatch.setenv("GIT_CONFIG_VALUE_0", str(program))
    (repository / "a.tube").write_text(DRAWING.replace("10k", "22k"))
    status, out, _ = run("review", repository, "--touched-since", "HEAD", "--no-cache")
    assert status == OK
    assert "a.tube" in out
    assert not marker.exists()


def test_git_of_the_folder_we_stand_in_is_not_ours(run, repository, program, marker, monkeypatch):
    (repository / "git").symlink_to(program)
    monkeypatch.chdir(repository)
    monkeypatch.setenv("PATH", os.pathsep.join([".", "", os.environ["PATH"]]))
    assert run("review", "a.tube", "--touched-since", "HEAD")[0] == OK
    assert not marker.exists()


def test_git_runs_in_the_root_only(repository, tmp_path):
    from coldcheck.cli.revisions import git, root_of

    (repository / "below").mkdir()
    assert root_of(repository / "below") == repository.resolve()
    with pytest.raises(AskedWrongly, match="not the root"):
        git(repository / "below", "status")
    with pytest.raises(AskedWrongly, match="in no git repository"):
        root_of(tmp_path)


def test_outside_a_repository_is_asked_wrongly(run, good):
    status, _, err = run("review", good, "--touched-since", "HEAD")
    assert status == FAILED
    assert "in no git repository" in err


def test_one_function_runs_git():
    """No module but one starts a program."""
    import coldcheck

    root = Path(coldcheck.__file__).parent
    starting = [
        p.relative_to(root).as_posix()
        for p in root.rglob("*.py")
        if any(w in p.read_text(encoding="utf-8") for w in ("subprocess", "os.system", "os.popen"))
    ]
    assert starting == ["cli/revisions.py"]
