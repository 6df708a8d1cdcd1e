"""The command tidy: print, write back, check."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldcheck.cli import FAILED, FOUND, OK, UNREADABLE

LOOSE = "B1   --+[E1 24 V]--   gnd\nB1--[R1 10k]--gnd\n"
TIDY = "B1 --+[E1 24 V]-- gnd\nB1 --[R1 10k]-- gnd\n"


def test_one_drawing_is_printed(run, tmp_path):
    file = tmp_path / "a.tube"
    file.write_text(LOOSE)
    assert run("tidy", file) == (OK, TIDY, "")
    assert file.read_text() == LOOSE


def test_written_back_only_where_it_changes(run, tmp_path):
    file = tmp_path / "a.tube"
    file.write_text(LOOSE)
    status, out, err = run("tidy", tmp_path, "--save")
    assert (status, out) == (OK, "")
    assert "laid out" in err
    assert file.read_text() == TIDY
    assert run("tidy", tmp_path, "--save") == (OK, "", "")


def test_check_names_the_untidy_ones(run, tmp_path):
    (tmp_path / "a.tube").write_text(LOOSE)
    (tmp_path / "b.tube").write_text(TIDY)
    status, out, err = run("tidy", tmp_path, "--verify")
    assert (status, out) == (FOUND, "")
    assert err.count("is not tidy") == 1
    assert (tmp_path / "a.tube").read_text() == LOOSE


def test_what_cannot_be_read_is_left_alone(run, unreadable):
    before = Path(unreadable).read_text()
    status, out, err = run("tidy", unreadable, "--save")
    assert status == UNREADABLE
    assert "verdict: unreadable" in out
    assert "left as it is" in err
    assert Path(unreadable).read_text() == before


def test_several_drawings_do_not_go_to_the_output(run, make):
    a, b = make("a.tube"), make("b.tube")
    status, _, err = run("tidy", a, b)
    assert status == FAILED
    assert "--save or --verify" in err


@pytest.mark.parametrize(
    ("command", "old", "new"),
    [
        ("tidy", "--write", "--save"),
        ("tidy", "--check", "--verify"),
        ("review", "--changed-since=HEAD", "--touched-since"),
    ],
)
def test_an_old_spelling_is_refused_with_the_new_one(run, command, old, new):
    status, out, err = run(command, old, "x.tube")
    assert (status, out) == (FAILED, "")
    assert f"{old.partition('=')[0]} is now called {new}" in err


def test_the_ends_of_lines_stay_as_the_file_has_them(run, tmp_path):
    """A checkout on another system ends its lines otherwise: that is not untidy."""
    file = tmp_path / "a.tube"
    file.write_bytes(TIDY.replace("\n", "\r\n").encode())
    assert run("tidy", file, "--verify")[0] == OK
    file.write_bytes(LOOSE.replace("\n", "\r\n").encode())
    assert run("tidy", file, "--save")[0] == OK
    assert file.read_bytes() == TIDY.replace("\n", "\r\n").encode()
