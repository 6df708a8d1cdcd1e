"""Nothing but ordinary files of bounded size is read, and nothing is written through a link.

A file that would hang whoever opens it is opened in these tests: one that hangs is a failure.
"""

from __future__ import annotations

import os
import threading
from pathlib import Path

import pytest

from coldcheck.cli import FAILED, OK, UNREADABLE
from coldcheck.cli.cache import Cache, digest_of
from coldcheck.drawing import read_drawing
from coldcheck.files import reading, writing
from coldcheck.files.places import Refused, TooBig, leads_out, repository_of, where
from coldcheck.settings.find import find
from coldcheck.settings.model import SettingsError

GOOD = "B1 --+[E1 24 V]-- gnd\nB1 --[R1 10k]-- gnd\n"
SECRET = "the secret word\n"

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs pipes and links")


@pytest.fixture
def run(capsys):
    from coldcheck.cli import main

    def _run(*arguments):
        status = main([str(a) for a in arguments])
        out, err = capsys.readouterr()
        return status, out, err

    return _run


@pytest.fixture
def project(tmp_path):
    """A repository; beside it is what nobody in it may see."""
    root = tmp_path / "project"
    (root / ".git").mkdir(parents=True)
    (root / "good.tube").write_text(GOOD)
    (tmp_path / "secret").write_text(SECRET)
    (tmp_path / "secret.tube").write_text(SECRET)
    return root


def odd(path: Path, kind: str) -> Path:
    """Something that is no ordinary file, under that name."""
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "device":
        path.symlink_to("/dev/zero")
    elif kind == "folder":
        path.mkdir()
    else:
        path.symlink_to(path)
    return path


# -- reading -------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["pipe", "device", "folder", "circle"])
def test_a_drawing_that_is_no_file_is_refused_at_once(run, tmp_path, kind):
    path = odd(tmp_path / "odd.tube", kind)
    (problem,) = read_drawing(path).problems
    assert problem.rule == "drawing.unreadable-file"
    if kind != "folder":
        assert run("review", path)[0] == UNREADABLE
        assert run("tidy", path)[0] == UNREADABLE


@pytest.mark.parametrize("kind", ["pipe", "device", "circle"])
def test_one_in_a_folder_costs_its_own_report(run, tmp_path, kind):
    odd(tmp_path / "odd.tube", kind)
    (tmp_path / "good.tube").write_text(GOOD)
    status, out, _ = run("review", tmp_path)
    assert status == UNREADABLE
    assert "good.tube" in out
    assert "odd.tube" in out


@pytest.mark.parametrize("kind", ["pipe", "device"])
def test_settings_that_are_no_file_are_told(run, tmp_path, kind):
    odd(tmp_path / "coldcheck.toml", kind)
    (tmp_path / "good.tube").write_text(GOOD)
    with pytest.raises(SettingsError) as told:
        find(tmp_path / "good.tube")
    assert "no file" in str(told.value.faults)
    assert run("review", tmp_path / "good.tube")[0] == FAILED


@pytest.mark.parametrize("kind", ["pipe", "device"])
def test_ledger_readings_and_tube_data_that_are_no_files(run, tmp_path, kind):
    good = tmp_path / "good.tube"
    good.write_text(GOOD)
    path = odd(tmp_path / "odd", kind)
    for command in (("review", good, "--ledger", path), ("readings", good, path)):
        status, _, err = run(*command)
        assert status == FAILED
        assert "no file" in err
    (tmp_path / "tubes").mkdir()
    odd(tmp_path / "tubes" / "6x4.toml", kind)
    (tmp_path / "coldcheck.toml").write_text('data = ["tubes"]\n')
    status, _, err = run("review", good)
    assert status == FAILED
    assert "no file" in err


@pytest.mark.parametrize("kind", ["pipe", "device"])
def test_an_entry_of_the_cache_that_is_no_file_is_none(tmp_path, kind):
    cache = Cache(tmp_path)
    (tmp_path / "aa").mkdir()
    odd(tmp_path / "aa" / "bb.json", kind)
    assert cache.get("aabb") is None


def test_what_is_kept_of_a_drawing_is_not_looked_for_in_a_pipe(tmp_path):
    assert digest_of(odd(tmp_path / "odd.tube", "pipe")) == ""


def test_a_file_that_grows_is_read_to_the_bound_only(tmp_path, monkeypatch):
    path = tmp_path / "grows.tube"
    path.write_text("#" * 100)
    assert reading.drawing(path, 100) == b"#" * 100
    with pytest.raises(TooBig, match="too big"):
        reading.drawing(path, 99)
    really = os.fdopen
    asked = []

    def counting(handle, *rest, **named):
        stream = really(handle, *rest, **named)
        asked.append(stream)
        return stream

    monkeypatch.setattr(os, "fdopen", counting)
    with path.open("a") as grows:
        grows.write("#" * 1_000_000)
    with pytest.raises(TooBig):
        reading.drawing(path, 200)
    assert len(asked) == 1


def test_too_much_on_standard_input_is_refused(run, tmp_path, monkeypatch):
    class Endless:
        def read(self, count=-1):
            assert count >= 0, "would never come back"
            return "B1,dc,1\n" * (count // 8 + 1)

        def isatty(self):
            return False

    good = tmp_path / "good.tube"
    good.write_text(GOOD)
    monkeypatch.setattr("sys.stdin", Endless())
    status, _, err = run("readings", good, "-")
    assert status == FAILED
    assert "too much" in err


# -- links ---------------------------------------------------------------------------------------


def test_a_link_out_of_the_repository_is_not_quoted(run, project, tmp_path):
    reports = [f"--report={form}={tmp_path / form}" for form in ("json", "sarif", "junit", "html")]
    for target in ("../secret", "../secret.tube", str(tmp_path / "secret.tube")):
        link = project / "leak.tube"
        link.unlink(missing_ok=True)
        link.symlink_to(target)
        for named in (link, project, project / "*.tube"):
            status, out, err = run("review", named, "--report", "text", *reports)
            assert status == UNREADABLE
            written = [(tmp_path / f).read_text() for f in ("json", "sarif", "junit", "html")]
            assert "the secret" not in "".join((out, err, *written))
            assert "leak.tube" in out
        assert "the secret" not in "".join(map(str, run("tidy", link)))
        assert "the secret" not in "".join(map(str, run("compare", link, link)))
        assert "the secret" not in "".join(map(str, run("chart", link)))


def test_a_folder_that_is_a_link_out_of_the_repository(run, project, tmp_path):
    (tmp_path / "away" / "sub").mkdir(parents=True)
    (tmp_path / "away" / "sub" / "pyproject.toml").write_text("")
    (tmp_path / "away" / "sub" / "x.tube").write_text(SECRET)
    (project / "in").symlink_to("../away")
    for named in (project / "in" / "sub" / "x.tube", project / "in", project / "**" / "*.tube"):
        assert "the secret" not in "".join(map(str, run("review", named)))


def test_a_link_to_no_drawing_is_not_quoted_anywhere(run, tmp_path):
    (tmp_path / "notes").write_text(SECRET)
    (tmp_path / "a.tube").symlink_to("notes")
    status, out, _ = run("review", tmp_path / "a.tube")
    assert status == UNREADABLE
    assert "the secret" not in out
    status, out, _ = run("review", tmp_path / "notes")
    assert status == UNREADABLE
    assert "the secret" not in out


def test_outside_a_repository_a_link_that_is_named_is_followed(run, tmp_path):
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "good.tube").write_text(GOOD)
    (tmp_path / "here").mkdir()
    link = tmp_path / "here" / "link.tube"
    link.symlink_to("../there/good.tube")
    assert run("review", link)[0] == OK
    (tmp_path / "there" / "good.tube").write_text(SECRET)
    for command in ("review", "tidy"):
        status, out, err = run(command, tmp_path / "here")  # nobody named it
        assert status == UNREADABLE
        assert "leads out of the folder here" in out + err
        assert "the secret" not in out + err


def test_a_link_inside_the_repository_is_followed(run, project):
    (project / "sub").mkdir()
    (project / "sub" / "link.tube").symlink_to("../good.tube")
    assert run("review", project / "sub")[0] == OK


def test_the_name_says_where_a_file_is_meant_to_be(project, tmp_path, monkeypatch):
    assert repository_of(project / "none") == project.resolve()
    assert leads_out(project / "good.tube") is None
    monkeypatch.chdir(project)
    assert leads_out(Path("../secret.tube")) is None  # no link: the user's own way out
    (project / "leak").symlink_to("../secret")
    assert leads_out(Path("leak")) == project
    assert where(Path("leak")) == project / "leak"
    assert leads_out(tmp_path / "secret", project) == project


def test_settings_and_ledger_are_no_links_out_either(run, project, tmp_path):
    (project / "coldcheck.toml").symlink_to("../secret")
    status, _, err = run("review", project / "good.tube")
    assert (status, "the secret" in err) == (FAILED, False)
    (project / "coldcheck.toml").unlink()
    (project / "l").symlink_to("../secret")
    status, _, err = run("review", project / "good.tube", "--ledger", project / "l")
    assert (status, "the secret" in err) == (FAILED, False)


# -- writing -------------------------------------------------------------------------------------


@pytest.fixture
def outputs(project):
    good = project / "good.tube"
    out = project / "out"
    return [
        ("review", good, "--report", f"sarif={out}"),
        ("review", good, "--output", out),
        ("review", good, "--ledger", out, "--update-ledger"),
        ("chart", good, "--output", out),
        ("drill", "--key", out, "--list", "--count", "1", "--seed", "1", "--source", "pairs"),
    ]


@pytest.mark.parametrize("there", [True, False])
def test_no_command_writes_through_a_link(run, project, tmp_path, outputs, there):
    theirs = tmp_path / "theirs"
    (project / "out").symlink_to(theirs)
    if there:
        theirs.write_text("")
    for command in outputs:
        status, _, err = run(*command)
        assert status == FAILED, command
        assert "link" in err
    assert (theirs.read_text() if there else theirs.exists()) == ("" if there else False)
    assert (project / "out").is_symlink()


def test_tidy_writes_through_no_link(run, project):
    loose = GOOD.replace(" --", "   --")
    (project / "loose.tube").write_text(loose)
    (project / "link.tube").symlink_to("loose.tube")
    status, _, err = run("tidy", "--save", project / "link.tube")
    assert status == FAILED
    assert "link" in err
    assert (project / "loose.tube").read_text() == loose


def test_nor_through_a_folder_that_is_one(run, project, tmp_path):
    (tmp_path / "away").mkdir()
    (project / "reports").symlink_to("../away")
    status, _, err = run(
        "review", project / "good.tube", "--output", project / "reports" / "report.txt"
    )
    assert status == FAILED
    assert "leads out" in err
    assert not list((tmp_path / "away").iterdir())


def test_a_link_set_meanwhile_is_replaced(tmp_path):
    theirs = tmp_path / "theirs"
    theirs.write_text("theirs")
    (tmp_path / "out").symlink_to(theirs)
    writing.replace(tmp_path / "out", "ours")
    assert (theirs.read_text(), (tmp_path / "out").read_text()) == ("theirs", "ours")
    assert not (tmp_path / "out").is_symlink()


def test_a_pipe_that_somebody_reads_gets_the_report_and_one_that_nobody_reads_an_error(tmp_path):
    pipe = odd(tmp_path / "pipe", "pipe")
    with pytest.raises(OSError, match="No such device"):
        writing.write(pipe, "words")
    got: list[str] = []
    reader = threading.Thread(target=lambda: got.append(pipe.read_text()))
    reader.start()
    while not got:
        try:
            writing.write(pipe, "words" * 50_000)
        except OSError:
            continue
        reader.join()
    assert got == ["words" * 50_000]


def test_a_folder_is_no_target(tmp_path):
    with pytest.raises(Refused, match="no file"):
        writing.write(tmp_path, "words")
