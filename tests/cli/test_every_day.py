"""What is met every day: the terse form, standard input, progress, colours, a full disk."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from tests.cli.conftest import BAD, GOOD, UNREADABLE

import coldcheck
from coldcheck import cli
from coldcheck.cli import FAILED, FOUND, OK

ROOT = Path(__file__).parents[2]
CAUTION = "Tube equipment holds lethal voltages"


def test_the_terse_form_has_a_line_a_drawing_and_its_open_findings(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for n in range(3):
        (tmp_path / f"good{n}.tube").write_text(GOOD)
    (tmp_path / "bad.tube").write_text(BAD)
    (tmp_path / "waived.tube").write_text(
        BAD + 'accept capacitor.reversed at C1 because "a dummy"\n'
    )
    (tmp_path / "wrong.tube").write_text(UNREADABLE)
    status, out, _ = run("review", ".", "--report", "terse", "--jobs", "1")
    assert status == cli.UNREADABLE
    lines = out.splitlines()
    assert lines[0].startswith("bad.tube: held")
    assert lines[1].startswith("  bad.tube:4.9: notice, capacitor.reversed: ")
    assert [t.split(";")[0] for t in lines[2:5]] == [f"good{n}.tube: let through" for n in range(3)]
    assert lines[5].startswith("waived.tube: let through; 1 notice accepted in the drawing")
    assert lines[6] == "wrong.tube: unreadable"
    assert [t.startswith("  wrong.tube:") for t in lines[7:9]] == [True, True]
    assert lines[9].startswith("6 drawings: 1 held, 1 unreadable, 4 let through; 1 notice accepted")
    assert lines[10].startswith(CAUTION)
    assert len(lines) == 11


def test_an_undecided_drawing_says_what_would_decide_it(run, tmp_path):
    (tmp_path / "a.tube").write_text("A --[R1 10k]-- gnd\nA --[R2 10k]-- gnd\n")
    status, out, _ = run("review", tmp_path / "a.tube", "--report", "terse")
    assert status == FOUND
    assert "a.tube: undecided; " in out
    assert "draw what feeds it" in out


@pytest.mark.parametrize("command", [["review"], ["chart"], ["faults"], ["tidy"]])
def test_a_drawing_may_come_by_standard_input(process, command):
    done = process(*command, "-", input=GOOD)
    assert (done.returncode, done.stderr) == (OK, "")
    assert "Lamp Post" in done.stdout


def test_standard_input_has_the_sheets_and_settings_of_this_folder(process, tmp_path):
    (tmp_path / "half.tube").write_text("IN --[R9 10k 1 W]-- gnd\n")
    (tmp_path / "coldcheck.toml").write_text('gate = "danger"\n')
    text = BAD + 'sheet "half.tube" as H joining IN = MID\n'
    done = process("review", "-", input=text, cwd=tmp_path)
    assert done.returncode == OK, done.stdout
    assert "nothing found at danger" in done.stdout
    assert process("review", "-", input=UNREADABLE).returncode == cli.UNREADABLE


@pytest.mark.parametrize("kind", ["folder", "file", "link"])
def test_nothing_called_like_standard_input_is_taken_for_it(process, tmp_path, kind):
    """A change could bring one: a sound drawing in its place, or settings where a link leads."""
    (tmp_path / "loose").mkdir()
    (tmp_path / "loose" / "coldcheck.toml").write_text('gate = "danger"\n')
    (tmp_path / "loose" / "good.tube").write_text(GOOD)
    name = tmp_path / "-"
    match kind:
        case "folder":
            name.mkdir()
            (name / "good.tube").write_text(GOOD)
        case "file":
            name.write_text(GOOD)
        case "link":
            name.symlink_to("loose/good.tube")
    for command in ("review", "chart", "tidy"):
        done = process(command, "-", input=BAD, cwd=tmp_path)
        assert done.returncode == FAILED, done.stdout
        assert "a file or folder called - lies here: give it another name" in done.stderr


def test_standard_input_goes_alone(run, good):
    for more in ((good,), ("--touched-since", "HEAD"), ("--using",), ("--trusting", "HEAD")):
        status, _, err = run("review", "-", *more)
        assert status == FAILED
        assert "it goes alone" in err
    assert run("tidy", "-", "--save")[0] == FAILED
    assert run("readings", "-", "-")[0] == FAILED


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is full")
@pytest.mark.parametrize(
    "command", [["review"], ["tubes", "12AX7"], ["review", "--report", "json"]]
)
def test_a_full_disk_is_told_as_such(command, good):
    files = [good] if "review" in command else []
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "coldcheck", *command, *files],
            stdout=full, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == FAILED
    assert done.stderr.startswith("coldcheck: cannot write: No space left on device")
    assert len(done.stderr.splitlines()) == 1


def on_terminal(command: list[str], **environment: str) -> str:
    """What a command writes to a terminal: both of its outputs."""
    import pty

    ours, theirs = pty.openpty()
    env = {**os.environ, "TERM": "xterm-256color", **environment}
    with subprocess.Popen(
        [sys.executable, "-m", "coldcheck", *command], stdout=theirs, stderr=theirs, env=env
    ) as process:
        os.close(theirs)
        said = b""
        while True:
            try:
                piece = os.read(ours, 4096)
            except OSError:
                break
            if not piece:
                break
            said += piece
        process.wait()
    os.close(ours)
    return said.decode()


@pytest.mark.skipif(os.name == "nt", reason="no terminal of that kind")
def test_progress_is_for_terminals_and_colour_is_not_for_those_who_refuse_it(tmp_path, make, bad):
    files = [make(f"{n}.tube") for n in range(2)]
    for command in (["review", *files, bad, "--no-cache"], ["review", bad, "--no-cache"],
                    ["faults", bad]):  # fmt: skip
        seen = on_terminal(command, NO_COLOR="1")
        assert ("reviewing" if command[0] == "review" else "each part open") in seen
        assert not re.search(r"\x1b\[[0-9;]*(?<![0-9])(3[0-9]|4[0-9]|9[0-7]|10[0-7])[;m]", seen)
    assert re.search(r"\x1b\[[0-9;]*(?<![0-9])(3[0-9]|4[0-9])[;m]", on_terminal(["review", bad]))


def test_no_progress_where_nobody_looks(process, good, bad):
    done = process("review", good, bad, "--no-cache")
    assert done.stderr == ""
    assert "\x1b" not in done.stdout


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_shells_complete_commands_and_options(run, shell):
    status, out, _ = run("completion", shell)
    assert status == OK
    for word in ("review", "touched-since", "trusting", "completion"):
        assert word in out
    assert "changed-since" not in out  # a former name, which is refused


def test_bash_takes_the_completions(run, tmp_path):
    _, out, _ = run("completion", "bash")
    (tmp_path / "c").write_text(out)
    said = 'COMP_WORDS=(coldcheck rev); COMP_CWORD=1; _shtab_coldcheck; echo "${COMPREPLY[@]}"'
    command = ["bash", "-c", f"source {tmp_path / 'c'}; {said}"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.stdout.strip() == "review"


def test_the_package_says_what_it_is():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert project["version"] == coldcheck.__version__
    assert "urls" not in project  # whoever publishes a copy knows its address; we do not
    assert f"## {coldcheck.__version__}" in (ROOT / "samples/guide/changes.md").read_text()
    for line in project["classifiers"]:
        assert " :: " in line
