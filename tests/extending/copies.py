"""A copy of the source tree that a section of DEVELOPERS.md is followed in, step by step."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
CODE = "lint/coldcheck"


def section(title: str) -> str:
    """What DEVELOPERS.md says below a heading."""
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    return text.split(f"## {title}\n")[1].split("\n## ")[0]


@dataclass(frozen=True, slots=True)
class Copy:
    """The tree in ``root``; whatever is changed or run has to be named in ``steps``."""

    root: Path
    steps: str

    def path(self, named: str) -> Path:
        """A file or folder as the steps name it: from the root, or from lint/coldcheck."""
        assert f"`{named}`" in self.steps, f"the steps do not name {named}"
        below = self.root / CODE / named
        return below if below.exists() else self.root / named

    def insert(self, named: str, before: str, text: str) -> None:
        """Put text before the only place in a file that matches."""
        path = self.path(named)
        whole = path.read_text("utf-8")
        (found,) = re.finditer(before, whole, re.MULTILINE)
        path.write_text(f"{whole[: found.start()]}{text}{whole[found.start() :]}", "utf-8")

    def write(self, folder: str, name: str, text: str) -> None:
        """A new file in a folder."""
        target = self.path(folder) / name
        target.parent.mkdir(exist_ok=True)
        target.write_text(text, "utf-8")

    def program(self, module: str, *arguments: str) -> str:
        """Run one of the programs that the steps name; what it printed."""
        assert re.search(rf"`python -m {re.escape(module)}\b", self.steps), module
        done = self.python("-m", module, *arguments)
        assert (done.returncode, done.stderr) == (0, "")
        return done.stdout

    def coldcheck(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """The command line of the copy."""
        return self.python("-m", "coldcheck", *arguments)

    def python(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """A process that has the copy and not the tree it was made of."""
        path = os.pathsep.join([str(self.root / "lint"), str(self.root)])
        home = self.root / "home"
        environment = {**os.environ, "PYTHONPATH": path, "XDG_CACHE_HOME": str(home)}
        return subprocess.run(
            [sys.executable, *arguments], cwd=self.root, env=environment, capture_output=True,
            text=True, encoding="utf-8", check=False,
        )  # fmt: skip


def copied(root: Path, title: str) -> Copy:
    """A copy for the steps of one section; grammar and samples stand where a wheel has them."""
    no_tests = shutil.ignore_patterns("tests")
    for name in ("lint", "grammar", "samples"):
        shutil.copytree(ROOT / name, root / name, ignore=no_tests)
    for name in ("README.md", "DEVELOPERS.md"):
        shutil.copy2(ROOT / name, root / name)
    for name in ("grammar", "samples"):
        (root / CODE / name).symlink_to(root / name, target_is_directory=True)
    return Copy(root, section(title))
