"""A scratch repository of drawings with a ledger, a hook and a gate; what becomes of a change."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from tests.benchmarks.many import write

if TYPE_CHECKING:
    import random

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "samples"
COLDCHECK = str(Path(sys.executable).with_name("coldcheck"))
STANDING = "gnd --+[C90 10 uF 50 V]-- B1\n"
"""An electrolytic turned round and underrated, as an old collection may hold."""

GATE = """\
#!/bin/sh
exec {coldcheck} review . --touched-since main --trusting main --ledger ledger \\
    --report annotations --report sarif=../review.sarif
"""
SHEETED = 10
EACH_SAMPLE = 4
STANDING_ONES = 15


@dataclass(frozen=True)
class Fate:
    """What became of a change: the statuses of hook and gate, and what they said."""

    hook: int
    gate: int
    said: str


class Repository:
    """``count`` drawings: one-stage sets, copies of the samples, and some that share a sheet."""

    def __init__(self, folder: Path, chance: random.Random, count: int) -> None:
        self.folder, self.chance = folder, chance
        singles = [p for p in sorted(SAMPLES.glob("*.tube")) if "\nsheet " not in p.read_text()]
        copies = [p for p in singles for _ in range(EACH_SAMPLE)][: max(count // 4, 0)]
        shared = min(SHEETED, count // 10)
        self.stages = [Path(f) for f in write(folder, count - len(copies) - shared)]
        self.copies = [self._copy(p, n) for n, p in enumerate(copies)]
        self.sharing = [self._sharing(n) for n in range(shared)]
        self.standing = self.stages[:: max(len(self.stages) // STANDING_ONES, 1)]
        for file in self.standing:
            file.write_text(file.read_text() + STANDING)

    def _copy(self, sample: Path, number: int) -> Path:
        """A sample under another title."""
        text = re.sub(r'(?m)^drawing "([^"]*)"', rf'drawing "\1, no. {number}"', sample.read_text())
        path = self.folder / f"{sample.stem}-{number:02d}.tube"
        path.write_text(text)
        return path

    def _sharing(self, number: int) -> Path:
        """A drawing that uses the channel's sheet twice."""
        if not number:
            shutil.copytree(SAMPLES / "sheets", self.folder / "sheets")
        path = self.folder / f"quay-{number}.tube"
        path.write_text((SAMPLES / "twin-quay.tube").read_text() + f"# set {number}\n")
        return path

    @property
    def drawings(self) -> list[Path]:
        """All of them, without the sheets."""
        return [*self.stages, *self.copies, *self.sharing]

    @property
    def tip(self) -> str:
        """The commit that main stands at."""
        return self.run("git", "rev-parse", "main").stdout

    @property
    def sheet(self) -> Path:
        """The shared sheet."""
        return self.folder / "sheets" / "quay-channel.tube"

    def begin(self) -> None:
        """The ledger of what stands, the hook, the gate's script, the first commit."""
        (self.folder / ".pre-commit-config.yaml").write_text(_hook())
        (self.folder / ".gitignore").write_text(".hooks/\n")
        script = self.folder / "gate.sh"
        script.write_text(GATE.format(coldcheck=COLDCHECK))
        script.chmod(0o755)
        self.run("git", "init", "-q", "-b", "main")
        first = self.run(COLDCHECK, "review", ".", "--ledger", "ledger", "--update-ledger")
        if first.returncode:
            raise SystemExit(first.stdout[-3000:] + first.stderr)
        self.run("git", "add", "-A")
        self.run("git", "commit", "-qm", "the collection", "--no-verify")
        self.run(sys.executable, "-m", "pre_commit", "install")

    def submit(self, what: str) -> Fate:
        """Commit what lies in the folder on a branch, run the gate, merge it where both pass."""
        self.run("git", "checkout", "-qb", "change")
        self.run("git", "add", "-A")
        if not self.run("git", "diff", "--cached", "--name-only").stdout:
            raise AssertionError(f"nothing changed: {what}")
        hook = self.run("git", "commit", "-qm", what)
        if hook.returncode:  # what would the gate have said?
            self.run("git", "add", "-A")
            self.run("git", "commit", "-qm", what, "--no-verify")
        gate = self.run("./gate.sh")
        self.run("git", "checkout", "-q", "main")
        if not hook.returncode and not gate.returncode:
            self.run("git", "rebase", "-q", "main", "change")
            self.run("git", "checkout", "-q", "main")
            self.run("git", "merge", "-q", "--ff-only", "change")
        self.run("git", "branch", "-qD", "change")
        said = (hook.stdout + hook.stderr)[-1500:] + "\n" + (gate.stdout + gate.stderr)[-1500:]
        return Fate(hook.returncode, gate.returncode, said)

    def run(self, *command: str) -> subprocess.CompletedProcess[str]:
        """Run in the repository, with nobody's configuration."""
        env = {
            **os.environ, "GIT_CONFIG_GLOBAL": os.devnull, "OPENBLAS_NUM_THREADS": "1",
            "GIT_AUTHOR_NAME": "x", "GIT_AUTHOR_EMAIL": "x@x", "GIT_COMMITTER_NAME": "x",
            "GIT_COMMITTER_EMAIL": "x@x", "PRE_COMMIT_HOME": str(self.folder / ".hooks"),
            "XDG_CACHE_HOME": str(self.folder.parent / "cache"),
        }  # fmt: skip
        return subprocess.run(
            command, cwd=self.folder, env=env, capture_output=True, text=True, check=False
        )


def _hook() -> str:
    """Our own hook, with the program that is installed here."""
    hooks = (ROOT / ".pre-commit-hooks.yaml").read_text(encoding="utf-8")
    hook = hooks.split("- id: coldcheck-tidy")[0].replace("language: python", "language: system")
    hook = hook.replace("entry: coldcheck review", f"entry: {COLDCHECK} review --ledger ledger")
    return "repos:\n  - repo: local\n    hooks:\n      " + hook.rstrip().replace("\n", "\n      ")
