"""Many drawings: order, processes, the cache, and what a change touches."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from coldcheck.cli import FAILED, FOUND, OK, UNREADABLE, many
from coldcheck.cli import cache as cache_module
from coldcheck.cli.cache import Cache

ONE = "B1 --+[E1 9 V]-- gnd\nB1 --[R1 10k]-- gnd\n"
TODAY = date(2026, 6, 1)


@pytest.fixture
def cache(tmp_path, monkeypatch):
    """A cache of its own, and a program that does not change while others work on it."""
    monkeypatch.setattr(many, "program", lambda: "as it is")
    folder = tmp_path / "documents"
    folder.mkdir()
    return Cache(folder)


@pytest.fixture
def counted(monkeypatch):
    """The drawings that were really reviewed."""
    seen = []
    really = many.reviewed
    monkeypatch.setattr(
        many, "reviewed", lambda f, **asked: (seen.append(f), really(f, **asked))[1]
    )
    return seen


def test_a_drawing_is_reviewed_once_until_it_changes(cache, counted, good, make):
    first = many.documents([good], TODAY, cache)
    assert many.documents([good], TODAY, cache) == first
    assert counted == [good]
    with open(good, "a", encoding="utf-8") as drawing:  # noqa: PTH123
        drawing.write("# a remark\n")
    many.documents([good], TODAY, cache)
    assert counted == [good, good]


def test_another_day_reviews_anew(cache, counted, good):
    many.documents([good], TODAY, cache)
    many.documents([good], date(2026, 6, 2), cache)
    assert counted == [good, good]


def test_forms_widths_and_gates_share_one_document(run, counted, good, monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(many, "program", lambda: "as it is")
    for columns in ("40", "200"):
        monkeypatch.setenv("COLUMNS", columns)
        for form in ("text", "json", "sarif", "junit", "annotations"):
            run("review", good, "--report", form)
    run("review", good, "--gate", "advice")
    (tmp_path / "coldcheck.toml").write_text('gate = "danger"\nundecided = "let through"\n')
    run("review", good)
    assert counted == [good]
    assert len(list((tmp_path / "cache").rglob("*.json"))) == 1
    for columns in ("40", "200"):
        monkeypatch.setenv("COLUMNS", columns)
        run("review", good, "--report", "html")  # which shows the circuit laid out
    assert counted == [good] * 2
    assert len(list((tmp_path / "cache").rglob("*.json"))) == 2


def test_another_program_and_other_settings_review_anew(
    cache, counted, good, monkeypatch, tmp_path
):
    many.documents([good], TODAY, cache)
    monkeypatch.setattr(many, "program", lambda: "changed")
    many.documents([good], TODAY, cache)
    (tmp_path / "coldcheck.toml").write_text('[off]\nsupply = "a bench supply"\n')
    many.documents([good], TODAY, cache)
    assert len(counted) == 3


@pytest.mark.parametrize("spoilt", ["", "{}", "0\n{}", "x" * 100, None])
def test_a_spoilt_document_is_no_document(cache, counted, good, spoilt):
    first = many.documents([good], TODAY, cache)
    (file,) = cache.folder.rglob("*.json")
    text = file.read_text() if spoilt is None else spoilt
    # a forged reading under the old seal
    file.write_text(
        text.replace('"readable":true', '"readable":false') if spoilt is None else spoilt
    )
    assert many.documents([good], TODAY, cache) == first
    assert len(counted) == 2


def test_a_changed_sheet_is_a_changed_drawing(cache, counted, tmp_path):
    sheet, drawing = tmp_path / "half.tube", tmp_path / "whole.tube"
    sheet.write_text("IN --[R1 10k]-- gnd\n")
    drawing.write_text('B1 --+[E1 24 V]-- gnd\nsheet "half.tube" as L joining IN = B1\n')
    many.documents([str(drawing)], TODAY, cache)
    many.documents([str(drawing)], TODAY, cache)
    assert len(counted) == 1
    sheet.write_text("IN --[R1 22k]-- gnd\n")
    (document,) = many.documents([str(drawing)], TODAY, cache)
    assert len(counted) == 2
    assert len(document.files) == 2


def test_a_sheet_that_is_not_there_is_looked_for_each_time(cache, counted, tmp_path):
    drawing = tmp_path / "whole.tube"
    drawing.write_text('B1 --+[E1 24 V]-- gnd\nsheet "half.tube" as L joining IN = B1\n')
    (first,) = many.documents([str(drawing)], TODAY, cache)
    assert not first.readable
    assert many.documents([str(drawing)], TODAY, cache) == [first]
    assert len(counted) == 1
    (tmp_path / "half.tube").write_text("IN --[R1 10k]-- gnd\n")
    (second,) = many.documents([str(drawing)], TODAY, cache)
    assert second.readable
    assert len(counted) == 2


def test_a_drawing_of_too_many_parts_is_kept_and_one_that_wanted_memory_is_not(
    cache, counted, tmp_path, monkeypatch
):
    """The first is refused everywhere, the second by this machine today."""
    file = tmp_path / "many.tube"
    file.write_text(ONE + "".join(f"B1 --[R{n} 1M]-- gnd\n" for n in range(2, 1600)))
    (first,) = many.documents([str(file)], TODAY, cache)
    assert [f.rule for f in first.findings] == ["drawing.too-large"]
    assert many.documents([str(file)], TODAY, cache) == [first]
    assert len(counted) == 1

    def wanting(*_asked, **_more):
        raise MemoryError

    small = str(tmp_path / "small.tube")
    Path(small).write_text(ONE)
    with monkeypatch.context() as patch:
        patch.setattr(many, "_review", wanting)
        (gone,) = many.documents([small], TODAY, cache)
    assert [f.rule for f in gone.findings] == ["drawing.too-large"]
    (found,) = many.documents([small], TODAY, cache)
    assert found.readable


def test_without_a_folder_nothing_is_kept(counted, good):
    many.documents([good], TODAY, Cache(None))
    many.documents([good], TODAY, Cache(None))
    assert len(counted) == 2


def test_old_documents_go_first(cache, monkeypatch, make):
    monkeypatch.setattr("coldcheck.cli.cache._KEPT", 2)
    for number in range(4):
        many.documents([make(f"{number}.tube")], TODAY, cache)
    assert len(list(cache.folder.rglob("*.json"))) == 2


def test_several_processes_give_the_same_in_the_same_order(run, make, bad, tmp_path):
    names = [make(f"sub/{n}.tube") for n in range(4)]
    one, two = (
        run("review", *names, bad, "--no-cache", "--report", "json", "--jobs", jobs)
        for jobs in (1, 2)
    )
    assert one == two
    assert [d["file"] for d in json.loads(one[1])["drawings"]] == [*names, bad]


def test_the_cached_run_prints_the_same(run, good, bad, monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(many, "program", lambda: "as it is")
    first = run("review", good, bad)
    assert list((tmp_path / "cache").rglob("*.json"))
    assert run("review", good, bad) == first
    assert first[0] == FOUND


def test_what_is_kept_is_shown_without_the_machinery(run, good, monkeypatch, tmp_path):
    """Text, pages and JSON of a kept document need neither the solver nor the rules."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    script = (
        "import sys; from coldcheck.cli import main, many; many.program = lambda: 'as it is'; "
        f"[main(['review', {good!r}, '--report', f]) for f in sys.argv[1:]]; "
        "print(sorted({'numpy', 'networkx', 'pint', 'lark'} & set(sys.modules)), file=sys.stderr)"
    )
    forms = ("text", "html", "json")
    first, kept = (
        subprocess.run([sys.executable, "-c", script, *forms], capture_output=True, check=True)
        for _ in range(2)
    )
    assert first.stdout == kept.stdout
    assert b"numpy" in first.stderr
    assert kept.stderr.strip() == b"[]"


# -- what a change touches --------------------------------------------------------------


@pytest.fixture
def repository(tmp_path):
    """Two drawings, a sheet one of them uses, settings; all committed."""
    files = {
        "a.tube": "B1 --+[E1 24 V]-- gnd\nB1 --[R1 10k]-- gnd\n",
        "b.tube": 'B1 --+[E1 24 V]-- gnd\nsheet "parts/half.tube" as L joining IN = B1\n',
        "parts/half.tube": "IN --[R1 10k]-- gnd\n",
        "old/c.tube": "B1 --+[E1 24 V]-- gnd\nB1 --[R1 10k]-- gnd\n",
        "old/coldcheck.toml": 'gate = "warning"\n',
    }
    for name, text in files.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    who = {"GIT_AUTHOR_NAME": "x", "GIT_AUTHOR_EMAIL": "x@x", "GIT_COMMITTER_NAME": "x",
           "GIT_COMMITTER_EMAIL": "x@x", "GIT_CONFIG_GLOBAL": os.devnull}  # fmt: skip
    for command in (["init", "-q"], ["add", "."], ["commit", "-qm", "first"]):
        subprocess.run(
            ["git", *command], cwd=tmp_path, env={**os.environ, **who}, check=True,
            capture_output=True,
        )  # fmt: skip
    return tmp_path


@pytest.mark.parametrize(
    ("touched", "reviewed"),
    [
        ((), []),
        (("a.tube",), ["a.tube"]),
        (("parts/half.tube",), ["b.tube"]),
        (("old/coldcheck.toml",), ["c.tube"]),
        (("new.tube",), ["new.tube"]),
    ],
)
def test_only_what_a_change_touches_is_reviewed(run, repository, touched, reviewed):
    for name in touched:
        path = repository / name
        before = path.read_text() if path.exists() else ONE
        path.write_text(before + "# touched\n")
    drawings = [p for p in repository.rglob("*.tube") if p.parent.name != "parts"]
    status, out, err = run(
        "review", *drawings, "--touched-since", "HEAD", "--report", "json", "--no-cache"
    )
    assert status == OK
    assert err.endswith(" drawings touched since HEAD\n")
    assert err.startswith(f"coldcheck: {len(reviewed)} of ")
    names = [d["file"].rpartition("/")[2] for d in json.loads(out)["drawings"]]
    assert names == reviewed


def test_a_revision_git_does_not_know_is_asked_wrongly(run, repository):
    status, _, err = run("review", repository / "a.tube", "--touched-since", "nowhere")
    assert status == FAILED
    assert "git has no revision nowhere here" in err
    assert run("review", repository / "a.tube", "--touched-since", "--output=x")[0] == FAILED


def changed(run, repository, *more):
    status, out, err = run("review", *more, "--report", "json", "--no-cache")
    return status, [d["file"].rpartition("/")[2] for d in json.loads(out)["drawings"]], err


@pytest.fixture
def data_repository(repository):
    """The same with tube data of its own."""
    from coldcheck.circuit import tubes

    text = Path(tubes.__file__).with_name("data").joinpath("5Y3GT.toml").read_text()
    for name in ("MY1", "MY2"):
        path = repository / "tubes" / f"{name}.toml"
        path.parent.mkdir(exist_ok=True)
        own = "".join(t for t in text.splitlines(True) if not t.startswith("also ="))
        path.write_text(own.replace('name = "5Y3GT"', f'name = "{name}"'))
    (repository / "coldcheck.toml").write_text('data = ["tubes"]\n')
    commit(repository)
    return repository


def commit(folder):
    who = {"GIT_AUTHOR_NAME": "x", "GIT_AUTHOR_EMAIL": "x@x", "GIT_COMMITTER_NAME": "x",
           "GIT_COMMITTER_EMAIL": "x@x", "GIT_CONFIG_GLOBAL": os.devnull}  # fmt: skip
    for command in (["add", "-A"], ["commit", "-qm", "more"]):
        subprocess.run(
            ["git", *command], cwd=folder, env={**os.environ, **who}, check=True,
            capture_output=True,
        )  # fmt: skip


@pytest.mark.parametrize(
    ("gone", "reviewed"),
    [
        ("parts/half.tube", ["b.tube"]),
        ("old/coldcheck.toml", ["c.tube"]),
        ("tubes/MY2.toml", ["a.tube", "b.tube"]),
        ("a.tube", []),
    ],
)
def test_what_is_gone_brings_in_its_users(run, data_repository, gone, reviewed, monkeypatch):
    monkeypatch.chdir(data_repository)
    (data_repository / gone).unlink()
    for asked in ((".", "--touched-since", "HEAD"), ("--using",)):
        _, names, err = changed(run, data_repository, *asked)
        assert names == reviewed
        assert f"{len(reviewed)} of " in err


@pytest.mark.parametrize("pin", ["requirements.txt", "uv.lock", ".pre-commit-config.yaml"])
def test_another_version_of_a_package_brings_in_every_drawing(run, repository, monkeypatch, pin):
    monkeypatch.chdir(repository)
    (repository / pin).write_text("coldcheck\n")
    _, names, _ = changed(run, repository, ".", "--touched-since", "HEAD")
    assert names == ["a.tube", "b.tube", "c.tube"]


def test_names_of_a_hook_bring_in_their_users(run, repository, monkeypatch):
    monkeypatch.chdir(repository)
    for named, reviewed in (
        (["parts/half.tube"], ["b.tube"]),
        (["a.tube", "parts/half.tube"], ["a.tube", "b.tube"]),
        (["old/coldcheck.toml"], ["c.tube"]),
        (["notes.txt"], []),
    ):
        assert changed(run, repository, "--using", *named)[1] == reviewed


def test_a_folder_that_is_gone_is_no_drawing(run, repository):
    for path in (repository / "old").iterdir():
        path.unlink()
    (repository / "old").rmdir()
    status, names, err = changed(
        run, repository, repository / "old", repository / "parts", "--touched-since", "HEAD"
    )
    assert (status, names) == (OK, [])
    assert "old is gone since HEAD" in err
    assert run("review", repository / "old")[0] == UNREADABLE


def test_no_name_at_all_is_asked_wrongly(run):
    status, _, err = run("review")
    assert status == FAILED
    assert "review wants a drawing" in err


def test_another_folder_of_the_project_reviews_anew(cache, counted, tmp_path):
    """Outside of it no sheet is read, and a file without a word makes it another."""
    (tmp_path / ".git").mkdir()
    inner = tmp_path / "amps"
    inner.mkdir()
    (tmp_path / "half.tube").write_text("IN --[R2 10k]-- gnd\n")
    drawing = inner / "a.tube"
    drawing.write_text(ONE + 'sheet "../half.tube" as H joining IN = B1\n')
    (inner / "coldcheck.toml").write_text("")
    (outside,) = many.documents([str(drawing)], TODAY, cache)
    assert not outside.readable
    (inner / "coldcheck.toml").unlink()
    (inside,) = many.documents([str(drawing)], TODAY, cache)
    assert inside.readable
    assert len(counted) == 2


def test_documents_of_another_machine_are_known_by_what_they_are_made_of(
    run, counted, tmp_path, monkeypatch
):
    """The folders of two caches put together are a cache: names in a repository, and contents."""
    cases = {"one": "a.tube", "two": "b.tube"}
    for machine, drawing in cases.items():
        root = tmp_path / machine / "somewhere"
        (root / ".git").mkdir(parents=True)
        for name in cases.values():
            (root / name).write_text(ONE + f"# {name}\n")
        monkeypatch.chdir(root)
        monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / machine / "cache"))
        assert run("review", drawing)[0] == OK
    kept = tmp_path / "together" / "coldcheck" / "documents"
    for machine in cases:
        shutil.copytree(
            tmp_path / machine / "cache" / "coldcheck" / "documents", kept, dirs_exist_ok=True
        )
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "together"))
    counted.clear()
    status, out, _ = run("review", ".")
    assert (status, counted) == (OK, [])
    assert "2 drawings: 2 let through" in out


def test_the_program_is_what_is_in_its_files(monkeypatch, tmp_path):
    """Not when they were written, which differs from machine to machine."""
    copy = tmp_path / "coldcheck"
    (copy / "cli").mkdir(parents=True)
    (copy / "rule.py").write_text("one = 1\n")
    monkeypatch.setattr(cache_module, "__file__", str(copy / "cli" / "cache.py"))
    before = cache_module.program()
    os.utime(copy / "rule.py", (1, 1))
    assert cache_module.program() == before
    (copy / "rule.py").write_text("one = 2\n")
    os.utime(copy / "rule.py", (1, 1))
    assert cache_module.program() != before


def test_a_folder_that_may_only_be_read_is_read(cache, counted, good, make, monkeypatch):
    (first,) = many.documents([good], TODAY, cache)

    def refused(*_):
        raise PermissionError(13, "no")

    monkeypatch.setattr(cache_module.writing, "replace", refused)
    other = make("other.tube")
    assert many.documents([good, other], TODAY, cache)[0] == first
    assert counted == [good, other]
