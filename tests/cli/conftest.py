"""Small drawings of our own; what the rules say of them is not under test here."""

from __future__ import annotations

import subprocess
import sys

import pytest

from coldcheck.cli import main

GOOD = """\
drawing "Lamp Post: a divider on a bench supply"
B1 --+[E1 24 V]-- gnd
B1 --[R1 10k 0.5 W]-- MID --[R2 10k 0.5 W]-- gnd
"""

# an electrolytic capacitor the wrong way round
BAD = GOOD + "gnd --+[C1 10 uF 50 V]-- MID\n"

UNREADABLE = GOOD + "MID --[R3 10q]-- gnd\nMID == gnd\n"


@pytest.fixture
def good(tmp_path):
    return written(tmp_path / "good.tube", GOOD)


@pytest.fixture
def bad(tmp_path):
    return written(tmp_path / "bad.tube", BAD)


@pytest.fixture
def unreadable(tmp_path):
    return written(tmp_path / "unreadable.tube", UNREADABLE)


def written(path, text):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return str(path)


@pytest.fixture
def run(capsys):
    """Run the command in this process; gives status, stdout, stderr."""

    def _run(*arguments):
        status = main([str(a) for a in arguments])
        out, err = capsys.readouterr()
        return status, out, err

    return _run


@pytest.fixture
def process():
    """Run the command as a process of its own, not on a terminal."""

    def _process(*arguments, env=None, **options):
        command = [sys.executable, "-m", "coldcheck", *map(str, arguments)]
        return subprocess.run(
            command,
            capture_output=True,
            text=True,
            encoding="utf-8",
            env=env,
            check=False,
            **options,
        )

    return _process


@pytest.fixture
def make(tmp_path):
    """Write the good drawing under a name."""
    return lambda name: written(tmp_path / name, GOOD)
