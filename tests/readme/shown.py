"""The drawing and the review that README.md shows: ``python -m tests.readme`` writes the review."""

from __future__ import annotations

import os
import re
from pathlib import Path
from tempfile import TemporaryDirectory

from coldcheck.cli import main

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
START, END = "<!-- shown -->\n", "<!-- end of shown -->"


def drawing() -> str:
    """The one drawing of the README."""
    (text,) = re.findall(r"```tube\n(.*?)```", README.read_text("utf-8"), re.DOTALL)
    return text


def reviewed(text: str) -> tuple[int, str]:
    """Status and report of ``coldcheck review stage.tube``."""
    before = Path.cwd()
    with TemporaryDirectory() as folder:
        try:
            os.chdir(folder)
            Path("stage.tube").write_text(text, encoding="utf-8")
            status = main(["review", "stage.tube", "--no-cache", "--output", "report"])
            return status, Path("report").read_text("utf-8")
        finally:
            os.chdir(before)


def shown() -> str:
    """The report that stands in the README."""
    part = README.read_text("utf-8").partition(START)[2].partition(END)[0]
    return part.removeprefix("```text\n").removesuffix("```\n")


def write() -> None:
    """Put today's report into the README."""
    head, start, rest = README.read_text("utf-8").partition(START)
    _, end, tail = rest.partition(END)
    report = reviewed(drawing())[1]
    README.write_text(f"{head}{start}```text\n{report}```\n{end}{tail}", encoding="utf-8")
