"""README.md: its length, its two commands, its drawing with the review that comes of it."""

from __future__ import annotations

import argparse
import re
import subprocess
from typing import TYPE_CHECKING

import pytest
from tests.readme.shown import README, ROOT, drawing, reviewed, shown

from coldcheck.cli import parser

if TYPE_CHECKING:
    from pathlib import Path

PAGES = [README, ROOT / "DEVELOPERS.md", *sorted((ROOT / "samples" / "guide").glob("*.md"))]
PAGES += [ROOT / "grammar/README.md", ROOT / "samples/README.md", *ROOT.glob("tests/*/README.md")]
TEXT = README.read_text("utf-8")


def test_it_is_short() -> None:
    assert len(TEXT.split()) <= 1500


def commands(mark: str) -> str:
    return re.search(rf"<!-- {mark} -->\n```sh\n(.*)\n```", TEXT)[1]


def test_the_two_commands_stand_where_they_are_looked_for() -> None:
    start = "python3 -m venv .venv && .venv/bin/pip install --quiet "
    assert commands("tests") == f"{start}-e '.[test]' && .venv/bin/python -m pytest -q -n auto"
    *_, reviewing = commands("review").split(" && ")
    assert commands("review") == f"{start}. && {reviewing}"
    program, command, sample = reviewing.split()
    assert (program, command) == (".venv/bin/coldcheck", "review")
    assert (ROOT / sample).is_file()


def test_the_runner_takes_its_command_from_there() -> None:
    awk = re.search(r"^command=\$\((awk .*)\)$", (ROOT / ".ci/run").read_text("utf-8"), re.M)[1]
    done = subprocess.run(["bash", "-c", awk], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.rstrip("\n") == commands("tests")


def settled(report: str) -> str:
    """A report without the size of what rounding left over, which is the machine's."""
    return re.sub(r"within \S+ pA", "within some pA", report)


def test_the_review_shown_is_that_of_the_drawing_shown() -> None:
    status, report = reviewed(drawing())
    assert settled(shown()) == settled(report), "run python -m tests.readme"
    assert f"the exit status is {status}:" in TEXT
    assert "capacitor.over-voltage" in report


def test_every_command_is_on_the_map() -> None:
    (group,) = (a for a in parser()._actions if isinstance(a, argparse._SubParsersAction))
    mapped = set(re.findall(r"^\| `coldcheck (\w+)", TEXT, re.MULTILINE))
    assert set(group.choices) <= mapped


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_link_leads_somewhere(page: Path) -> None:
    text = page.read_text("utf-8")
    for target in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", text):
        if "://" not in target:
            assert (page.parent / target).exists(), target


def test_the_top_level_is_what_it_is_said_to_be() -> None:
    names = subprocess.run(
        ["git", "ls-tree", "--name-only", "HEAD"], cwd=ROOT, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    if names.returncode:
        pytest.skip("no repository here")
    allowed = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "lint", "grammar",
               "tests", "samples"}  # fmt: skip
    assert {n for n in names.stdout.split() if not n.startswith(".")} <= allowed
