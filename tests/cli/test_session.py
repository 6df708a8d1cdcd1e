"""An evening of readings typed in: taken back, changed, broken off and taken up again."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest
from tests.bench.drawings import COUPLED

from coldcheck.cli.journal import Journal


@pytest.fixture
def drawing(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    path = tmp_path / "buoy.tube"
    path.write_text(COUPLED, encoding="utf-8")
    return path


@pytest.fixture
def typed(run, drawing, monkeypatch):
    def _typed(text):
        monkeypatch.setattr("sys.stdin", StringIO(text))
        _, out, _ = run("readings", drawing)
        return out

    return _typed


def after(out, said):
    """What follows the last place where something was said."""
    return out.rpartition(said)[2]


def test_help_names_every_command(typed):
    out = typed("help\n?\n")
    for word in ("undo", "list", "edit 2", "drop 2", "skip", "forget", "done", "across", "through"):
        assert out.count(f"{word} ") >= 2


def test_undo_brings_back_what_was_before(typed):
    out = typed("DRV dc 5.5\nDRV dc 0\nundo\nlist\nundo\nlist\nundo\n")
    assert "taken back; 1 reading now" in out
    assert "  1  DRV dc 5.5 V: TOO HIGH" in out
    assert "nothing yet" in after(out, "taken back; 0 readings now")
    assert "nothing to take back" in out


def test_an_earlier_reading_is_changed_or_dropped(typed):
    out = typed("DRV dc 5.5\nB1 dc 250\nedit 1 0,01\nlist\ndrop 2\nedit 7 1\nedit 1 x\ndrop\n")
    assert "  1  DRV dc 10 mV: within" in out
    assert "B1 dc 250 V is gone; 1 reading now" in out
    assert "there is no reading 7" in out
    assert "volts DC are wanted" in out
    assert "drop what? Write the number" in out
    report = after(out, "Readings against the drawing")
    assert "B1" not in report.partition("the range is")[0]


def test_a_range_misread_is_asked_about_at_once(typed):
    out = typed("B1 2500\ny\n")
    asked, _, rest = out.partition("That is 10 times 250 V")
    assert "B1 dc 2500 V: TOO HIGH" in asked
    assert "B1 dc 250 V: within" in rest
    assert "nothing was offered" not in out


def test_what_is_offered_need_not_be_taken(typed):
    out = typed("B1 -250\ny\nB1 25\nlist\ny\n")
    assert "Were the tips the other way round? y takes 250 V" in out
    assert "That is a tenth of 250 V" in out
    assert "  1  B1 dc 25 V: TOO LOW" in out


def test_y_with_nothing_offered(typed):
    assert "nothing was offered" in typed("y\n")


def test_what_was_typed_is_taken_up_again(run, drawing, monkeypatch):
    class BrokenOff(StringIO):
        def readline(self, *_):
            line = super().readline()
            if not line:
                raise KeyboardInterrupt
            return line

    monkeypatch.setattr("sys.stdin", BrokenOff("DRV dc 5.49\nacross R4 1.5\nB1 ohm OL\n"))
    status, out, _ = run("readings", drawing)
    assert status == 130
    assert "The readings are kept" in " ".join(out.split())
    monkeypatch.setattr("sys.stdin", StringIO("done\n"))
    _, out, _ = run("readings", drawing)
    assert "Taken up again: 3 readings" in out
    assert "1  DRV dc 5.49 V: TOO HIGH" in out
    assert "2  across R4 dc 1.5 V" in out
    assert "3  B1 ohm no path" in out
    monkeypatch.setattr("sys.stdin", StringIO("done\n"))
    _, out, _ = run("readings", drawing)
    assert "Taken up again" not in out, "an evening that is done is no more"


def test_readings_that_fit_the_drawing_no_longer_are_counted(run, drawing, monkeypatch):
    journal = Journal.of_user(str(drawing))
    assert journal.path is not None
    journal.path.write_text("point,kind,value,state\nDRV,dc,5,warm\nNIX,dc,5,warm\n", "utf-8")
    monkeypatch.setattr("sys.stdin", StringIO("done\n"))
    _, out, _ = run("readings", drawing)
    assert "1 reading of an evening" in " ".join(out.split())
    assert "1 more do not fit the drawing" in " ".join(out.split())


def test_where_nothing_can_be_kept_an_evening_goes_on(run, drawing, tmp_path, monkeypatch):
    (tmp_path / "file").write_text("", encoding="utf-8")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    assert Journal.of_user(str(drawing)) == Journal(None)
    monkeypatch.setattr("sys.stdin", StringIO("DRV dc 5.5\ndone\n"))
    status, out, _ = run("readings", drawing)
    assert status == 1
    assert "Readings against the drawing" in out
    assert "C4 leaking" in out


def test_the_journal_of_a_drawing_is_found_by_any_name_of_it(drawing, monkeypatch):
    monkeypatch.chdir(drawing.parent)
    assert Journal.of_user(drawing.name) == Journal.of_user(str(drawing))
    assert Journal.of_user(str(Path("x.tube"))) != Journal.of_user(str(drawing))


def test_misread_readings_of_a_file_are_named(run, drawing, tmp_path):
    readings = tmp_path / "readings.csv"
    readings.write_text("B1,dc,2500\nDRV,dc,-1\n", encoding="utf-8")
    _, out, _ = run("readings", drawing, readings)
    assert "B1 dc: that is 10 times 250 V, which would be about right; misread?" in out
    assert "DRV dc: that" not in out
