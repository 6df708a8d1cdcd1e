"""The hooks, run by pre-commit itself on a scratch repository.

The hook's environment is this one (``language: system``): building another would need a network.
What is run, on which files, and with which result is as in ``.pre-commit-hooks.yaml``.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).parents[2]
HOOKS = ROOT / ".pre-commit-hooks.yaml"
GUIDE = ROOT / "samples" / "guide" / "repository.md"
TIDY = "B1 --+[E1 24 V]-- gnd\nB1 --[R1 10k]-- MID --[R2 10k]-- gnd\n"


@pytest.fixture
def repository(tmp_path: Path) -> Path:
    """A repository whose hooks are ours, run with the coldcheck under test."""
    hooks = HOOKS.read_text(encoding="utf-8").replace("language: python", "language: system")
    here = Path(sys.executable).with_name("coldcheck")
    local = hooks.replace("entry: coldcheck", f"entry: {here}").replace("\n", "\n      ")
    (tmp_path / ".pre-commit-config.yaml").write_text(
        f"repos:\n  - repo: local\n    hooks:\n      {local.rstrip()}\n", encoding="utf-8"
    )
    run(tmp_path, "git", "init", "-q")
    return tmp_path


def run(folder: Path, *command: str) -> subprocess.CompletedProcess[str]:
    env = {
        **os.environ, "GIT_CONFIG_GLOBAL": os.devnull, "PRE_COMMIT_HOME": str(folder / ".hooks"),
        "GIT_AUTHOR_NAME": "x", "GIT_AUTHOR_EMAIL": "x@x",
        "GIT_COMMITTER_NAME": "x", "GIT_COMMITTER_EMAIL": "x@x",
    }  # fmt: skip
    return subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, check=False)


def checked(folder: Path, hook: str) -> subprocess.CompletedProcess[str]:
    run(folder, "git", "add", "-A")
    return run(folder, sys.executable, "-m", "pre_commit", "run", hook)


def test_a_sound_drawing_may_be_committed(repository: Path) -> None:
    (repository / "a.tube").write_text(TIDY)
    done = checked(repository, "coldcheck")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "Passed" in done.stdout


def test_a_mistake_stops_the_commit_and_is_named(repository: Path) -> None:
    (repository / "a.tube").write_text(TIDY + "gnd --+[C1 10 uF 50 V]-- MID\n")
    done = checked(repository, "coldcheck")
    assert done.returncode == 1
    assert "capacitor.reversed" in done.stdout


def test_a_sheet_is_reviewed_where_it_is_used_also_when_it_is_gone(repository: Path) -> None:
    (repository / "notes.txt").write_text("not a drawing\n")
    (repository / "half.tube").write_text("IN --[R1 10k 1 W]-- gnd\n")
    use = 'sheet "half.tube" as H joining IN = MID\n'
    (repository / "a.tube").write_text(TIDY + use)
    done = checked(repository, "coldcheck")
    assert done.returncode == 0, done.stdout
    run(repository, "git", "commit", "-qm", "x", "--no-verify")
    (repository / "half.tube").unlink()
    done = checked(repository, "coldcheck")
    assert done.returncode == 1
    assert "half.tube" in done.stdout
    (repository / "half.tube").write_text("IN --[R1 10k 1 W]-- gnd --+[C1 10 uF 9 V]-- IN\n")
    done = checked(repository, "coldcheck")
    assert done.returncode == 1
    assert "H/C1" in done.stdout
    assert "1 of 1 drawing made from what changed" in done.stdout


def test_a_file_that_is_named_like_an_option_is_reviewed_as_a_file(repository: Path) -> None:
    """The ledger that its name asks for would let every finding of the other drawing stand."""
    (repository / "a.tube").write_text(TIDY + "gnd --+[C1 10 uF 50 V]-- MID\n")
    (repository / "--ledger=x.tube").write_text(TIDY.replace("10k", "10q"))
    done = checked(repository, "coldcheck")
    assert done.returncode == 1
    assert "capacitor.reversed" in done.stdout
    assert "ledger=x.tube" in done.stdout
    assert "10q" in done.stdout


def test_tidy_takes_no_option_from_a_name(repository: Path) -> None:
    (repository / "a.tube").write_text(TIDY.replace(" --", "   --"))
    (repository / "--check.tube").write_text(TIDY.replace(" --", "   --"))
    assert checked(repository, "coldcheck-tidy").returncode == 1
    assert (repository / "a.tube").read_text() == TIDY
    assert (repository / "--check.tube").read_text() == TIDY


def test_without_the_hyphens_such_a_name_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.tube").write_text(TIDY)
    (tmp_path / "--gate=danger.tube").write_text(TIDY)
    here = str(Path(sys.executable).with_name("coldcheck"))
    done = run(tmp_path, here, "review", "a.tube", "--gate=danger.tube")
    assert done.returncode == 3
    assert "put -- before the names of files" in done.stderr
    done = run(tmp_path, here, "review", "--", "a.tube", "--gate=danger.tube")
    assert done.returncode == 0
    assert "--gate=danger.tube" in done.stdout


def test_tidy_lays_out_and_stops_so_that_the_change_is_seen(repository: Path) -> None:
    (repository / "a.tube").write_text(TIDY.replace(" --", "   --"))
    done = checked(repository, "coldcheck-tidy")
    assert done.returncode == 1
    assert (repository / "a.tube").read_text() == TIDY
    assert checked(repository, "coldcheck-tidy").returncode == 0


def test_the_guide_names_the_hooks_there_are() -> None:
    guide = GUIDE.read_text(encoding="utf-8")
    ids = [t.split("id: ")[1] for t in HOOKS.read_text().splitlines() if "id: " in t]
    assert ids == ["coldcheck", "coldcheck-gate", "coldcheck-tidy"]
    for hook in ids:
        assert f"id: {hook}" in guide


def test_the_step_of_the_workflow_reports_and_keeps_the_status(tmp_path: Path) -> None:
    """The shell of the guide's workflow, run as the runner would, on a drawing with a mistake."""
    guide = GUIDE.read_text(encoding="utf-8")
    text = guide.split("<!-- workflow -->")[1].split("```yaml\n")[1].split("```")[0]
    workflow = yaml.safe_load(text)
    (step,) = [s for s in workflow["jobs"]["review"]["steps"] if s.get("id") == "review"]
    (tmp_path / "a.tube").write_text(TIDY + "gnd --+[C1 10 uF 50 V]-- MID\n")
    (tmp_path / "standing.ledger").write_text("")
    here = str(Path(sys.executable).parent)
    env = {**os.environ, "GITHUB_OUTPUT": str(tmp_path / "out"), "PATH": f"{here}:/usr/bin:/bin"}
    command = ["bash", "-eo", "pipefail", "-c", step["run"]]
    done = subprocess.run(
        command, cwd=tmp_path, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out").read_text() == "status=1\n"
    assert done.stdout.startswith("::error file=a.tube")
    assert (tmp_path / "review.sarif").exists()
    assert (tmp_path / "review.xml").exists()


def test_options_of_the_composite_step_may_stand_in_lines(tmp_path: Path) -> None:
    """As a block of YAML has them: what is in the second line counts as well."""
    action = yaml.safe_load((ROOT / ".github/actions/review/action.yml").read_text())
    (step,) = [s for s in action["runs"]["steps"] if s.get("id") == "review"]
    (tmp_path / "a.tube").write_text(TIDY + "gnd --+[C1 10 uF 50 V]-- MID\n")
    here = str(Path(sys.executable).parent)
    env = {
        **os.environ, "GITHUB_OUTPUT": str(tmp_path / "out"), "PATH": f"{here}:/usr/bin:/bin",
        "DRAWINGS": ".", "OPTIONS": "--no-cache\n--gate danger\n",
    }  # fmt: skip
    command = ["bash", "-eo", "pipefail", "-c", step["run"]]
    done = subprocess.run(
        command, cwd=tmp_path, env=env, capture_output=True, text=True, check=False
    )
    assert not (tmp_path / "out").exists(), done.stdout + done.stderr
    assert "capacitor.reversed" in done.stdout


def test_a_link_that_leads_elsewhere_brings_in_what_is_made_of_it(repository: Path) -> None:
    """No hook gives the name of a link."""
    for name, more in (("v1", ""), ("v2", "gnd --+[C1 10 uF 9 V]-- IN\n")):
        (repository / name).mkdir()
        (repository / name / "half.tube").write_text("IN --[R1 10k 1 W]-- gnd\n" + more)
    (repository / "parts").symlink_to("v1")
    (repository / "a.tube").write_text(TIDY + 'sheet "parts/half.tube" as H joining IN = MID\n')
    run(repository, "git", "add", "-A")
    run(repository, "git", "commit", "-qm", "x", "--no-verify")
    (repository / "parts").unlink()
    (repository / "parts").symlink_to("v2")
    done = checked(repository, "coldcheck")
    assert done.returncode == 1
    assert "H/C1" in done.stdout


@pytest.mark.parametrize("name", ["--ledger=x.tube", "--output=x.tube"])
def test_the_composite_step_takes_no_option_from_a_name(tmp_path: Path, name: str) -> None:
    action = yaml.safe_load((ROOT / ".github/actions/review/action.yml").read_text())
    (step,) = [s for s in action["runs"]["steps"] if s.get("id") == "review"]
    (tmp_path / name).write_text(TIDY + "gnd --+[C1 10 uF 50 V]-- MID\n")
    here = str(Path(sys.executable).parent)
    env = {
        **os.environ, "GITHUB_OUTPUT": str(tmp_path / "out"), "PATH": f"{here}:/usr/bin:/bin",
        "DRAWINGS": name, "OPTIONS": "--no-cache",
    }  # fmt: skip
    command = ["bash", "-eo", "pipefail", "-c", step["run"]]
    done = subprocess.run(
        command, cwd=tmp_path, env=env, capture_output=True, text=True, check=False
    )
    assert (tmp_path / "out").read_text() == "status=1\n", done.stderr
    assert "capacitor.reversed" in done.stdout


def test_the_composite_step_is_made_of_the_same(tmp_path: Path) -> None:
    action = yaml.safe_load((ROOT / ".github/actions/review/action.yml").read_text())
    (step,) = [s for s in action["runs"]["steps"] if s.get("id") == "review"]
    (tmp_path / "a.tube").write_text(TIDY)
    here = str(Path(sys.executable).parent)
    env = {
        **os.environ, "GITHUB_OUTPUT": str(tmp_path / "out"), "PATH": f"{here}:/usr/bin:/bin",
        "DRAWINGS": ".", "OPTIONS": "--gate warning --no-cache",
    }  # fmt: skip
    command = ["bash", "-eo", "pipefail", "-c", step["run"]]
    done = subprocess.run(
        command, cwd=tmp_path, env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert not (tmp_path / "out").exists()
    assert (tmp_path / "review.sarif").exists()


def test_the_composite_step_trusts_the_branch_a_pull_request_goes_to(tmp_path: Path) -> None:
    """The rule that the change turns off holds; without a base, as on a push, it is off."""
    action = yaml.safe_load((ROOT / ".github/actions/review/action.yml").read_text())
    (step,) = [s for s in action["runs"]["steps"] if s.get("id") == "review"]
    assert step["env"]["BASE"] == "${{ github.base_ref }}"
    (tmp_path / "a.tube").write_text(TIDY)
    run(tmp_path, "git", "init", "-q")
    run(tmp_path, "git", "add", "-A")
    run(tmp_path, "git", "commit", "-qm", "x")
    run(tmp_path, "git", "update-ref", "refs/remotes/origin/main", "HEAD")
    (tmp_path / "a.tube").write_text(TIDY + "gnd --+[C1 10 uF 50 V]-- MID\n")
    (tmp_path / "coldcheck.toml").write_text('[off]\n"capacitor.reversed" = "noise"\n')
    here = str(Path(sys.executable).parent)
    for base, expected in (("main", "status=1\n"), ("", None)):
        out = tmp_path / f"out{base}"
        env = {
            **os.environ, "GITHUB_OUTPUT": str(out), "PATH": f"{here}:/usr/bin:/bin",
            "DRAWINGS": ".", "OPTIONS": "--no-cache", "BASE": base,
        }  # fmt: skip
        command = ["bash", "-eo", "pipefail", "-c", step["run"]]
        done = subprocess.run(
            command, cwd=tmp_path, env=env, capture_output=True, text=True, check=False
        )
        assert (out.read_text() if out.exists() else None) == expected, done.stdout + done.stderr
        assert ("change.rule-off" in done.stdout) is bool(base)


def test_the_hook_of_a_push_trusts_the_default_branch(repository: Path) -> None:
    (repository / "a.tube").write_text(TIDY)
    run(repository, "git", "add", "-A")
    run(repository, "git", "commit", "-qm", "x")
    run(repository, "git", "update-ref", "refs/remotes/origin/HEAD", "HEAD")
    command = (sys.executable, "-m", "pre_commit", "run", "--hook-stage", "pre-push")
    assert run(repository, *command, "coldcheck-gate").returncode == 0
    (repository / "coldcheck.toml").write_text('gate = "danger"\n')
    run(repository, "git", "add", "-A")
    done = run(repository, *command, "coldcheck-gate")
    assert done.returncode == 1
    assert "change.wider-gate" in done.stdout
