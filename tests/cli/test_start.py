from __future__ import annotations

import gc
import json
import subprocess
import sys

import pytest

from coldcheck import __version__
from coldcheck.cli import FAILED, GATES, OK, main, process
from coldcheck.judge.finding import LEVELS

HEAVY = ("numpy", "scipy", "lark", "rich", "pint", "networkx", "importlib.metadata", "dataclasses")

LOADED = """
import json, sys
from coldcheck.cli import main
status = main(json.loads(sys.argv[1]))
print(json.dumps([status, sorted(sys.modules)]), file=sys.stderr)
"""


@pytest.mark.parametrize(
    ("arguments", "status"),
    [
        (["--help"], OK),
        (["--version"], OK),
        (["review", "--help"], OK),
        ([], FAILED),
        (["review"], FAILED),
        (["review", "x.tube", "--gate", "grave"], FAILED),
    ],
)
def test_nothing_heavy_is_loaded_before_it_is_used(arguments, status):
    done = subprocess.run(
        [sys.executable, "-c", LOADED, json.dumps(arguments)],
        capture_output=True,
        text=True,
        check=True,
    )
    got, modules = json.loads(done.stderr.splitlines()[-1])
    assert got == status
    assert not [m for m in modules if m.startswith(HEAVY)]
    assert not [m for m in modules if m.startswith("coldcheck.") and m != "coldcheck.cli"]


def test_importing_the_package_loads_nothing():
    code = "import sys, coldcheck; print([m for m in sys.modules if m.startswith('coldcheck')])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "['coldcheck']"


def test_help_names_the_commands_and_the_exit_status(run):
    status, out, _ = run("--help")
    assert status == OK
    for word in ("review", "trace", "tubes", "why", "exit status", "held, or undecided"):
        assert word in out


def test_version(run):
    assert run("--version") == (OK, f"coldcheck {__version__}\n", "")


def test_the_gates_of_the_command_line_are_the_levels_of_the_rules():
    assert GATES == LEVELS


@pytest.mark.parametrize(
    "arguments",
    [
        ["frobnicate"],
        ["review", "x.tube", "--gate", "grave"],
        ["review", "x.tube", "--outp", "y"],
        ["trace", "x.tube"],
    ],
)
def test_wrong_usage_is_status_3_and_points_to_the_help(run, arguments):
    status, out, err = run(*arguments)
    assert (status, out) == (FAILED, "")
    assert err.splitlines()[-1].startswith("See coldcheck")


def test_usage_errors_do_not_pass_controls_on(run):
    _, _, err = run("review", "x.tube", "--\x1b[2J")
    assert "--?[2J" in err


def test_package_reviews_a_drawing(good):
    import coldcheck

    review = coldcheck.review(good)
    assert review.title == "Lamp Post: a divider on a bench supply"
    assert review.verdict() == "let through"


def test_main_takes_the_arguments_of_the_process(monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["coldcheck", "--version"])
    assert main() == OK
    assert capsys.readouterr().out.startswith("coldcheck ")


def test_the_process_ends_as_main_does_and_leaves_the_memory_to_the_system(monkeypatch, capsys):
    before = gc.get_threshold()
    monkeypatch.setattr(sys, "argv", ["coldcheck", "frobnicate"])
    try:
        with pytest.raises(SystemExit) as stop:
            process()
        assert stop.value.code == FAILED
        assert gc.get_freeze_count() > 0
        assert gc.isenabled()
    finally:
        gc.set_threshold(*before)
        gc.unfreeze()
    assert "See coldcheck" in capsys.readouterr().err
