"""A revision that is trusted: what a change says of its own review does not hold, and is told."""

from __future__ import annotations

import json
import os
import subprocess
import xml.etree.ElementTree as ET
from pathlib import Path

import jsonschema
import pytest

from coldcheck.cli import FAILED, FOUND, OK
from coldcheck.report.review import json_report

GOOD = "B1 --+[E1 24 V]-- gnd\nB1 --[R1 10k 0.5 W]-- M --[R2 10k 0.5 W]-- gnd\n"
BAD = GOOD + "gnd --+[C1 10 uF 50 V]-- M\n"
WAIVER = 'accept capacitor.reversed at C1 because "a dummy"\n'
SHOCK = (
    'drawing "no earth"\nmains 230 V 50 Hz\ntransformer T1\n    primary pri 230 V 12 ohm\n'
    "    winding ht 250 V 100 ohm\nline --[F1 fuse 0.5 A]-- T1.pri.1\nneutral -- T1.pri.2\n"
    "T1.ht.2 -- gnd -- chassis\nT1.ht.1 --[R1 100k 5 W]-- gnd\n"
)
SHOCK_WAIVER = 'accept mains.no-earth at chassis because "never mind"\n'
WHO = {"GIT_AUTHOR_NAME": "x", "GIT_AUTHOR_EMAIL": "x@x", "GIT_COMMITTER_NAME": "x",
       "GIT_COMMITTER_EMAIL": "x@x", "GIT_CONFIG_GLOBAL": os.devnull}  # fmt: skip


def git(folder, *arguments):
    subprocess.run(["git", *arguments], cwd=folder, env={**os.environ, **WHO}, check=True,
                   capture_output=True)  # fmt: skip


@pytest.fixture
def commit(tmp_path, monkeypatch):
    """Write files and commit them; we stand in the repository."""
    monkeypatch.chdir(tmp_path)
    git(tmp_path, "init", "-q", "-b", "main")

    def _commit(**files):
        write(tmp_path, **files)
        git(tmp_path, "add", "-A")
        git(tmp_path, "commit", "-qm", "x")
        return tmp_path

    return _commit


def write(folder, **files):
    """``a_tube`` is a.tube, ``old__a_tube`` old/a.tube."""
    for name, text in files.items():
        path = folder / name.replace("__", "/").replace("_", ".")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)


@pytest.fixture
def gated(run):
    """Review everything against HEAD; the status, and what was found by file and rule."""

    def _gated(*more):
        status, out, err = run(
            "review", ".", "--trusting", "HEAD", "--no-cache", "--report", "json", *more
        )
        assert status != FAILED, err
        drawings = json.loads(out)["drawings"]
        found = [(d["file"], f["rule"], f["level"]) for d in drawings for f in d["findings"]]
        return status, found

    return _gated


def test_an_unchanged_repository_has_nothing_to_say(commit, gated):
    commit(a_tube=GOOD, coldcheck_toml='gate = "caution"\n')
    assert gated() == (OK, [])


def test_a_rule_turned_off_stays_on_and_holds(commit, gated):
    root = commit(a_tube=GOOD)
    write(root, a_tube=BAD, coldcheck_toml='[off]\n"capacitor.reversed" = "noise"\n')
    status, found = gated()
    assert status == FOUND
    assert ("a.tube", "capacitor.reversed", "notice") in found
    assert ("coldcheck.toml", "change.rule-off", "notice") in found


def test_a_rule_turned_off_holds_though_nothing_breaks_it_yet(commit, gated):
    root = commit(a_tube=GOOD)
    write(root, coldcheck_toml='[off]\ncapacitor = "noise"\n')
    assert gated() == (FOUND, [("coldcheck.toml", "change.rule-off", "notice")])


def test_a_wider_gate_holds_at_any_gate(commit, gated):
    root = commit(a_tube=BAD, coldcheck_toml='gate = "caution"\n')
    write(root, coldcheck_toml='gate = "danger"\nundecided = "let through"\n')
    status, found = gated("--gate", "danger")
    assert status == FOUND
    assert [f for f in found if f[1] == "change.wider-gate"] == [
        ("coldcheck.toml", "change.wider-gate", "notice")
    ] * 2


def test_a_settings_file_taken_out_is_seen(commit, gated):
    root = commit(a_tube=BAD, coldcheck_toml='gate = "advice"\n')
    (root / "coldcheck.toml").unlink()
    status, found = gated()
    assert status == FOUND
    assert ("coldcheck.toml", "change.wider-gate", "notice") in found


def test_a_nearer_settings_file_has_no_say(commit, gated):
    root = commit(old__a_tube=BAD)
    write(root, old__coldcheck_toml='gate = "danger"\n')
    status, found = gated()
    assert status == FOUND
    assert ("old/a.tube", "capacitor.reversed", "notice") in found
    assert ("old/coldcheck.toml", "change.wider-gate", "notice") in found


def test_what_is_stricter_is_told_and_stops_nothing(commit, gated):
    root = commit(a_tube=GOOD, coldcheck_toml='gate = "danger"\n[off]\nsignal = "later"\n')
    write(root, coldcheck_toml='gate = "caution"\n')
    status, found = gated()
    assert status == OK
    assert found == [("coldcheck.toml", "change.touched", "advice")] * 2


def test_other_mains_and_tolerances_hold(commit, gated):
    root = commit(a_tube=GOOD, coldcheck_toml='[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"\n')
    write(root, coldcheck_toml='[mains]\nvoltage = "115 V"\nfrequency = "50 Hz"\n'
                               '[tolerance]\nresistor = "1 %"\n')  # fmt: skip
    status, found = gated()
    assert (status, {f[1] for f in found}) == (FOUND, {"change.other-figures"})
    assert len(found) == 2


def test_a_new_waiver_waives_nothing_and_one_of_a_danger_holds(commit, gated):
    root = commit(a_tube=BAD, b_tube=SHOCK)
    write(root, a_tube=BAD + WAIVER, b_tube=SHOCK + SHOCK_WAIVER)
    status, found = gated("--gate", "danger")
    assert status == FOUND
    assert ("a.tube", "change.new-waiver", "advice") in found
    assert ("b.tube", "change.new-waiver", "notice") in found


def test_waivers_of_the_trusted_revision_hold(commit, run):
    root = commit(a_tube=BAD + WAIVER)
    write(root, a_tube="# a remark\n" + BAD + WAIVER)
    status, out, _ = run("review", ".", "--trusting", "HEAD", "--no-cache")
    assert status == OK
    assert "nothing else found at notice or above in what was judged; 1 notice accepted in the" in (
        " ".join(out.split())
    )


def test_a_waiver_with_another_reason_or_day_is_another(commit, gated):
    root = commit(a_tube=BAD + WAIVER.replace('dummy"', 'dummy" until 2027-01-01'))
    write(root, a_tube=BAD + WAIVER)
    assert gated()[0] == FOUND


def test_waivers_go_with_a_drawing_that_is_moved_unchanged(commit, gated):
    root = commit(a_tube=BAD + WAIVER)
    (root / "a.tube").rename(root / "b.tube")
    status, found = gated()
    assert status == OK
    assert (".", "change.gone", "advice") in found


def test_waivers_do_not_go_with_a_name(commit, gated):
    root = commit(a_tube=BAD + WAIVER)
    (root / "a.tube").rename(root / "b.tube")
    write(root, a_tube=GOOD, b_tube=BAD.replace("10k", "1k") + WAIVER)
    assert gated()[0] == FOUND


def test_the_ledger_is_that_of_the_revision(commit, gated, run):
    root = commit(a_tube=GOOD)
    write(root, a_tube=BAD)
    assert run("review", ".", "--ledger", "standing", "--update-ledger")[0] == OK
    status, found = gated("--ledger", "standing")
    assert status == FOUND
    assert ("a.tube", "capacitor.reversed", "notice") in found
    assert ("standing", "change.ledger-grown", "notice") in found
    git(root, "add", "-A")
    git(root, "commit", "-qm", "x")
    assert gated("--ledger", "standing")[0] == OK


def test_a_ledger_that_only_shrinks_or_is_sorted_anew_stops_nothing(commit, gated, run):
    root = commit(a_tube=BAD, b_tube=BAD)
    run("review", ".", "--ledger", "standing", "--update-ledger")
    git(root, "add", "-A")
    git(root, "commit", "-qm", "x")
    heading, one, two = (root / "standing").read_text().splitlines()
    (root / "standing").write_text("\n".join([heading, two, one, ""]))
    assert gated("--ledger", "standing")[0] == OK
    write(root, b_tube=GOOD)
    (root / "standing").write_text(f"{heading}\n{one}\n")
    status, found = gated("--ledger", "standing")
    assert status == OK
    assert ("standing", "change.touched", "advice") in found


def test_an_update_trusts_nothing(commit, run):
    commit(a_tube=GOOD)
    status, _, err = run("review", ".", "--ledger", "x", "--update-ledger", "--trusting", "HEAD")
    assert status == FAILED
    assert "leave out --trusting" in err


def test_a_bad_drawing_wrapped_as_a_sheet_is_reviewed_alone_still(commit, gated):
    root = commit(a_tube=BAD, coldcheck_toml='[folders."old"]\ngate = "danger"\n',
                  old__c_tube=GOOD)  # fmt: skip
    write(root, old__b_tube=GOOD + 'sheet "../a.tube" as X joining gnd\n')
    status, found = gated()
    assert status == FOUND
    assert ("a.tube", "capacitor.reversed", "notice") in found
    assert (".", "change.now-a-sheet", "notice") in found


def test_what_is_moved_out_of_sight_holds(commit, run):
    root = commit(amps__a_tube=BAD, amps__b_tube=GOOD)
    (root / "attic").mkdir()
    (root / "amps" / "a.tube").rename(root / "attic" / "a.tube")
    status, out, _ = run("review", "amps", "--trusting", "HEAD", "--no-cache")
    assert status == FOUND
    assert "change.moved-away" in out


def test_a_folder_that_was_moved_and_changed_holds(commit, run):
    root = commit(amps__a_tube=GOOD, radios__b_tube=GOOD)
    (root / "amps").rename(root / "attic")
    write(root, attic__a_tube=BAD)
    status, out, _ = run("review", "amps", "radios", "--trusting", "HEAD", "--no-cache")
    assert status == FOUND
    assert "attic/a.tube is new, or was moved there" in " ".join(out.split())


def test_a_list_of_names_hides_no_drawing_in_another(commit, run):
    root = commit(a_tube=GOOD, b_tube=BAD)
    write(root, a_tube=GOOD + 'sheet "b.tube" as X joining gnd\n')
    status, out, _ = run("review", "a.tube", "b.tube", "--trusting", "HEAD", "--no-cache")
    assert status == FOUND
    assert "change.now-a-sheet" in out


def test_line_ends_of_a_checkout_are_no_other_drawing(commit, gated):
    root = commit(a_tube=BAD + WAIVER)
    (root / "a.tube").unlink()
    (root / "b.tube").write_bytes((BAD + WAIVER).replace("\n", "\r\n").encode())
    assert gated()[0] == OK


def test_a_folder_that_vanished_is_told(commit, run):
    root = commit(amps__a_tube=BAD, radios__b_tube=GOOD)
    (root / "amps" / "a.tube").unlink()
    (root / "amps").rmdir()
    status, out, _ = run("review", "amps", "radios", "--trusting", "HEAD", "--no-cache")
    assert status == OK
    assert "1 drawing of HEAD not there any more: amps/a.tube" in " ".join(out.split())


def test_tube_data_are_those_of_the_revision(commit, gated):
    from coldcheck.circuit import tubes

    data = Path(tubes.__file__).with_name("data").joinpath("12AX7.toml").read_text()
    own = data.replace('name = "12AX7"', 'name = "MY7"').split("\nalso = ")
    data = own[0] + "\n" + own[1].partition("\n")[2] if len(own) > 1 else own[0]
    root = commit(a_tube=GOOD, coldcheck_toml='data = ["tubes"]\n', tubes__MY7_toml=data)
    assert gated() == (OK, [])
    write(root, tubes__MY7_toml=data.replace("0.3, unit", "0.25, unit"))
    status, found = gated()
    assert status == FOUND
    assert {f[1] for f in found} == {"change.other-figures"}


def test_every_form_says_what_stands_and_what_is_loosened(commit, run):
    root = commit(a_tube=GOOD)
    write(root, coldcheck_toml='[off]\n"capacitor.reversed" = "noise"\n')
    for form in ("text", "terse", "json", "sarif", "junit", "annotations", "html"):
        status, out, _ = run("review", ".", "--trusting", "HEAD", "--no-cache", "--report", form)
        assert status == FOUND
        assert "capacitor.reversed is off: noise" in out, form
        if form == "json":
            jsonschema.validate(json.loads(out), json.loads(json_report.schema_text()))
        if form == "junit":
            suite = ET.fromstring(out)[1]
            assert [c.get("name") for c in suite.iter("testcase")] == ["change"]
            (failed,) = ET.fromstring(out).findall(".//failure")
            assert failed.get("type") == "change.rule-off"


def test_a_shallow_clone_is_told_what_it_lacks(commit, run, monkeypatch):
    root = commit(a_tube=GOOD)
    commit(a_tube=BAD)
    git(root, "clone", "-q", "--depth", "1", f"file://{root}", "clone")
    monkeypatch.chdir(root / "clone")
    status, _, err = run("review", ".", "--trusting", "HEAD~1", "--no-cache")
    assert status == FAILED
    assert "the clone is shallow" in err


def test_a_revision_that_looks_like_an_option_is_none(commit, run):
    commit(a_tube=GOOD)
    status, _, err = run("review", ".", "--trusting=--help", "--no-cache")
    assert status == FAILED
    assert "git has no revision --help here" in err


def test_why_says_what_such_a_finding_means(run):
    status, out, _ = run("why", "change.wider-gate")
    assert status == OK
    assert out.startswith("change.wider-gate: the gate lets through what it held. Reported where")
    status, _, err = run("why", "change.nothing")
    assert status == FAILED
    assert "there are change.rule-off" in err


def test_a_name_that_is_both_a_tag_and_a_branch_is_not_trusted(commit, run):
    """Whoever may set a tag could call it as the branch is called."""
    root = commit(a_tube=GOOD)
    git(root, "tag", "main")
    for option in ("--trusting", "--touched-since"):
        status, _, err = run("review", ".", option, "main", "--no-cache")
        assert status == FAILED
        assert "main may be refs/tags/main or refs/heads/main: name one in full" in err
        assert run("review", ".", option, "refs/heads/main", "--no-cache")[0] == OK
