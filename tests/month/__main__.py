"""A month in a repository of drawings: ``python -m tests.month [--drawings 200] [--days 30]``.

Writes a scratch repository with generated drawings (a few with standing findings), records a
ledger, installs the hook through pre-commit, and goes through a month of changes: remarks, tidying,
renamed points, other values, a renamed file, a shared sheet, and mistakes planted as
``coldcheck.teach`` plants them. Each change has to be committed (the hook) and gated (the CI step).
The month is as it should be when exactly the bad changes were stopped, by both.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from datetime import date
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from typing import TYPE_CHECKING

from tests.benchmarks.many import write

from coldcheck.drawing import parse_drawing
from coldcheck.drawing.tidy import tidied
from coldcheck.rules.engine import review_drawing
from coldcheck.teach.clean import Clean
from coldcheck.teach.plants import plants

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

ROOT = Path(__file__).parents[2]
COLDCHECK = str(Path(sys.executable).with_name("coldcheck"))
KINDS = (
    "electrolytic turned round", "working voltage too low", "diode turned round",
    "grid return left out", "heater reference left out", "plate resistor left out",
    "heater winding of twice the voltage", "leads exchanged",
)  # fmt: skip
STANDING = "gnd --+[C9 10 uF 50 V]-- B1\n"


@dataclass(frozen=True)
class Change:
    """One day's change: what it is, and whether it has to be stopped."""

    what: str
    bad: bool
    make: Callable[[], None]


def main() -> int:
    """Live through the month; returns 0 when exactly the bad changes were stopped."""
    reader = argparse.ArgumentParser(prog="python -m tests.month")
    reader.add_argument("--drawings", type=int, default=200)
    reader.add_argument("--days", type=int, default=30)
    reader.add_argument("--seed", type=int, default=1)
    options = reader.parse_args()
    with tempfile.TemporaryDirectory() as name:
        month = Month(Path(name), random.Random(options.seed), options.drawings)
        month.begin()
        wrong = [c for c in month.days(options.days) if not month.lived(c)]
    print(f"{options.days} changes in {options.drawings} drawings, {len(wrong)} judged wrongly")
    return 1 if wrong else 0


class Month:
    """The scratch repository."""

    def __init__(self, folder: Path, chance: random.Random, count: int) -> None:
        self.folder, self.chance = folder, chance
        self.files = [Path(f) for f in write(folder, count)]

    def begin(self) -> None:
        """Standing findings, the ledger, the hook, the first commit."""
        for file in self.files[:: max(len(self.files) // 5, 1)]:
            file.write_text(file.read_text() + STANDING)
        hooks = (ROOT / ".pre-commit-hooks.yaml").read_text(encoding="utf-8")
        hook = hooks.split("- id: coldcheck-tidy")[0].replace(
            "language: python", "language: system"
        )
        hook = hook.replace("entry: coldcheck review", f"entry: {COLDCHECK} review --ledger ledger")
        body = "repos:\n  - repo: local\n    hooks:\n      " + hook.replace("\n", "\n      ")
        (self.folder / ".pre-commit-config.yaml").write_text(body.rstrip() + "\n")
        (self.folder / ".gitignore").write_text(".hooks/\n")
        self.run("git", "init", "-q")
        self.run(COLDCHECK, "review", ".", "--ledger", "ledger", "--update-ledger")
        self.run("git", "add", "-A")
        self.run("git", "commit", "-qm", "the collection", "--no-verify")
        self.run(sys.executable, "-m", "pre_commit", "install")

    def days(self, count: int) -> Iterator[Change]:
        """One change a day, about every third a bad one."""
        for day in range(count):
            file = self.chance.choice(self.files)
            yield self.bad(file) if day % 3 == 2 else self.good(file)

    def good(self, file: Path) -> Change:
        """A change that has to pass."""
        text = file.read_text()
        others = {
            "a remark": text + "# looked at again\n",
            "laid out": tidied(text),
            "a point renamed": re.sub(r"\bOUT\b", "NEXT", text),
            "another load": text.replace("R4 1M", f"R4 {self.chance.choice(('820k', '680k'))}"),
            "lines in another order": self.shuffled(text),
        }
        what = self.chance.choice([*others, "a drawing renamed"])
        if what == "a drawing renamed":
            return Change(f"{what}: {file.name}", False, lambda: self.rename(file))
        return Change(f"{what}: {file.name}", False, lambda: file.write_text(others[what]))  # type: ignore[arg-type,func-returns-value,return-value]

    def rename(self, file: Path) -> None:
        """Another name for a drawing; its standing findings go with it."""
        new = file.with_name(f"renamed-{file.name}")
        file.rename(new)
        self.files[self.files.index(file)] = new

    def shuffled(self, text: str) -> str:
        """The wires in another order; declarations stay where they are."""
        lines = text.splitlines()
        places = [n for n, t in enumerate(lines) if "--[" in t and not t.startswith(" ")]
        order = places[:]
        self.chance.shuffle(order)
        kept = dict(zip(places, [lines[n] for n in order], strict=True))
        return "\n".join(kept.get(n, t) for n, t in enumerate(lines)) + "\n"

    def bad(self, file: Path) -> Change:
        """A mistake planted in a drawing that has no standing finding."""
        while STANDING in file.read_text():
            file = self.chance.choice(self.files)
        text = file.read_text()
        clean = Clean.of(file.name, text, review_drawing(parse_drawing(text), date.today()))
        exhibit = self.chance.choice(list(plants(clean, KINDS)))
        what = f"{exhibit.kind} ({exhibit.plant.at[0]}): {file.name}"
        return Change(what, True, lambda: file.write_text(exhibit.plant.text))  # type: ignore[arg-type,func-returns-value,return-value]

    def lived(self, change: Change) -> bool:
        """Make the change, try to commit it and to pass the gate; undo it when it was stopped."""
        change.make()
        self.run("git", "add", "-A")
        gate = self.run(COLDCHECK, "review", ".", "--changed-since", "HEAD", "--ledger", "ledger",
                        "--report", "annotations")  # fmt: skip
        commit = self.run("git", "commit", "-qm", change.what)
        stopped = (commit.returncode != 0, gate.returncode == 1)
        right = stopped == (change.bad, change.bad)
        if commit.returncode:
            self.run("git", "reset", "-q", "--hard", "HEAD")
        mark = "as it should be" if right else f"WRONG {stopped}"
        print(f"  {'stopped' if stopped[1] else 'passed':8}{change.what}: {mark}")
        if not right:
            print(
                commit.stdout[-2000:], commit.stderr[-500:], gate.stdout[-1000:], gate.stderr[-500:]
            )
        return right

    def run(self, *command: str) -> subprocess.CompletedProcess[str]:
        """Run in the repository, with nobody's configuration."""
        env = {
            **os.environ, "GIT_CONFIG_GLOBAL": os.devnull, "OPENBLAS_NUM_THREADS": "1",
            "GIT_AUTHOR_NAME": "x", "GIT_AUTHOR_EMAIL": "x@x", "GIT_COMMITTER_NAME": "x",
            "GIT_COMMITTER_EMAIL": "x@x", "PRE_COMMIT_HOME": str(self.folder / ".hooks"),
            "XDG_CACHE_HOME": str(self.folder.parent / f"{self.folder.name}-cache"),
        }  # fmt: skip
        return subprocess.run(
            command, cwd=self.folder, env=env, capture_output=True, text=True, check=False
        )


if __name__ == "__main__":
    sys.exit(main())
