"""Each change in a copy of the project, against the tests nearest to it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from tests.mutation.sites import Site, sites

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]
RECORDED = Path(__file__).parent / "recorded.toml"
RULES = ROOT / "lint" / "coldcheck" / "rules"
FAMILIES = tuple(sorted(p.name for p in RULES.iterdir() if (p / "__init__.py").exists()))
RULE = re.compile(r'^@rule\(\s*"([a-z.-]+)"', re.MULTILINE)
PYTEST = ("-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", "-p", "no:randomly")


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change of one module of a family."""

    family: str
    module: str
    site: Site
    told: str


def mutants(families: tuple[str, ...]) -> Iterator[Mutant]:
    """Every change of the rules of some families."""
    for family in families:
        for path in sorted((RULES / family).glob("*.py")):
            text = path.read_text("utf-8")
            for site in sites(text):
                yield Mutant(family, path.name, site, site.told(text))


class Copy:
    """A copy of the project that a change may be made in; the tests import from it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in ("tests", "samples", "grammar"):
            shutil.copytree(ROOT / name, folder / name)
        for name in ("README.md", "DEVELOPERS.md", "pyproject.toml"):
            shutil.copy(ROOT / name, folder / name)
        shutil.copytree(ROOT / "lint", folder / "lint")
        (folder / "lint" / "coldcheck" / "grammar").symlink_to(folder / "grammar")

    def survives(self, mutant: Mutant) -> bool:
        """Whether the nearest tests pass with the change in."""
        path = self.folder / "lint" / "coldcheck" / "rules" / mutant.family / mutant.module
        text = path.read_text("utf-8")
        try:
            path.write_text(mutant.site.changed(text), "utf-8")
            return self._passes(mutant.family, RULE.findall(text))
        finally:
            path.write_text(text, "utf-8")

    def sound(self, family: str) -> bool:
        """Whether the tests of a family pass with nothing changed."""
        return self._passes(family, [])

    def _passes(self, family: str, rules: list[str]) -> bool:
        named = " or ".join(rules) or family
        sides = ("tests/rules/test_thresholds.py", "-k", f"as_it_stands and ({named})")
        return (
            self._pytest("tests/verdict/test_pairs.py", "-k", named)
            and self._pytest(*sides)
            and self._pytest(f"tests/rules/{family}")
        )

    def _pytest(self, *asked: str) -> bool:
        paths = os.pathsep.join(str(self.folder / p) for p in ("lint", ""))
        told = {**os.environ, "PYTHONPATH": paths, "PYTHONDONTWRITEBYTECODE": "1"}
        command = (sys.executable, *PYTEST, *asked)
        done = subprocess.run(command, cwd=self.folder, env=told, capture_output=True, check=False)
        return done.returncode in (0, 5)  # 5: no test of that name


def recorded() -> dict[str, dict[str, object]]:
    """Family -> how many were made, and which of them no nearest test noticed."""
    return tomllib.loads(RECORDED.read_text("utf-8")) if RECORDED.exists() else {}


def record(families: dict[str, dict[str, object]]) -> None:
    """Write the record; families not asked for stay as they are."""
    lines = [
        "# Written by python -m tests.mutation --record: changes that no nearest test notices.",
        "",
    ]
    for name, held in sorted({**recorded(), **families}.items()):
        lines += [f"[{name}]", f"made = {held['made']}", "survived = ["]
        survived = held["survived"]
        assert isinstance(survived, list)
        lines += [f"    {_quoted(str(s))}," for s in survived]
        lines += ["]", ""]
    RECORDED.write_text("\n".join(lines), "utf-8")


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
