"""The page on notebooks, run as a reader would: line by line, and in a notebook without a head."""

from __future__ import annotations

import doctest
import json
import os
import re
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "samples" / "guide" / "notebook.md"
PYTHON = ROOT / "samples" / "guide" / "python.md"
EXAMPLES = doctest.DocTestParser().get_examples(PAGE.read_text("utf-8"))
FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE


def test_what_the_page_shows_is_what_comes_of_it(monkeypatch) -> None:
    pytest.importorskip("pandas")
    monkeypatch.chdir(ROOT)
    assert len(EXAMPLES) > 30
    failed, tried = doctest.testfile(str(PAGE), module_relative=False, optionflags=FLAGS)
    assert (failed, tried) == (0, len(EXAMPLES))


def test_the_head_of_the_reference_runs(monkeypatch) -> None:
    monkeypatch.chdir(ROOT)
    (code,) = re.findall(r"```python\n(import .*?)```", PYTHON.read_text("utf-8"), re.DOTALL)
    exec(code, {})


def notebook() -> str:
    """The examples that do not fail on purpose, a cell each; then each kind of thing shown."""
    shown = ("amp", "warm", "warm.parts", "warm.tubes", "swept", "hot.review()", "frame")
    cells = [e.source.rstrip("\n") for e in EXAMPLES if e.exc_msg is None]
    made = [
        {"cell_type": "code", "execution_count": None, "id": f"c{k}", "metadata": {},
         "outputs": [], "source": source}
        for k, source in enumerate([*cells, *shown])
    ]  # fmt: skip
    kernel = {"kernelspec": {"name": "python3", "display_name": "Python", "language": "python"}}
    return json.dumps({"cells": made, "metadata": kernel, "nbformat": 4, "nbformat_minor": 5})


RUN = """
import sys, nbformat, nbclient
notebook = nbformat.read(sys.argv[1], 4)
patient = {"timeout": None, "startup_timeout": 600}
nbclient.NotebookClient(notebook, kernel_name="python3", **patient).execute()
nbformat.write(notebook, sys.argv[1])
"""


@pytest.mark.skipif(
    any(find_spec(name) is None for name in ("nbclient", "ipykernel", "pandas")),
    reason="nbclient, ipykernel and pandas are installed by the extra 'test'",
)
def test_a_notebook_of_the_page_runs_without_a_head(tmp_path) -> None:
    """In a process of its own: what a kernel warns of is no concern of the suite."""
    file = tmp_path / "page.ipynb"
    file.write_text(notebook(), encoding="utf-8")
    places = {f"JUPYTER_{what}_DIR": str(tmp_path / what) for what in ("RUNTIME", "DATA", "CONFIG")}
    env = {**os.environ, **places, "IPYTHONDIR": str(tmp_path / "ipython")}
    subprocess.run([sys.executable, "-c", RUN, str(file)], cwd=ROOT, env=env, check=True)
    cells = json.loads(file.read_text("utf-8"))["cells"]
    assert not [o for c in cells for o in c["outputs"] if o["output_type"] == "error"]
    amp, warm, parts, tubes, swept, review, frame = map(html, cells[-7:])
    assert "<td>270 ohm</td>" in amp
    assert "<td>271.4</td>" in warm
    assert "<th>W</th>" in parts
    assert "<td>6V6GT</td>" in tubes
    assert "R7 from 150 to 470 ohm: 5 values" in swept
    assert "held" in review
    assert "<table" in frame


def html(cell) -> str:
    (shown,) = cell["outputs"]
    return "".join(shown["data"]["text/html"])
