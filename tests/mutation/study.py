"""Each change in a copy of the project, against the tests nearest to it."""

from __future__ import annotations

import importlib
import os
import re
import shutil
import signal
import sys
import tomllib
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, TypedDict

import pytest
from tests.mutation.sites import Site, sites

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]
RECORDED = Path(__file__).parent / "recorded.toml"
EQUIVALENT = Path(__file__).parent / "equivalent.toml"
RULES = ROOT / "lint" / "coldcheck" / "rules"
FAMILIES = tuple(sorted(p.name for p in RULES.iterdir() if (p / "__init__.py").exists()))
RULE = re.compile(r'^@rule\(\s*"([a-z.-]+)"', re.MULTILINE)
PYTEST = ("-x", "-q", "-p", "no:cacheprovider", "-p", "no:randomly", "-p", "no:xdist")
PAIRS = ("tests/verdict/test_pairs.py", "-k")
TOLD = ("tests/rules/test_told.py", "-k")
SIDES = ("tests/rules/test_thresholds.py", "-k")
FOUNDATIONS = (
    "scipy.sparse.linalg", "coldcheck.anatomy.worked", "coldcheck.anatomy.suspects",
    "coldcheck.judge.rule", "coldcheck.circuit.build", "coldcheck.solve",
)  # fmt: skip
MOST_SECONDS = 300


class Recorded(TypedDict):
    """How many changes were made in a family, and which of them no nearest test noticed."""

    made: int
    survived: list[str]


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change of one module of a family."""

    family: str
    module: str
    site: Site
    told: str

    @property
    def name(self) -> str:
        """What the record calls it."""
        return f"{self.module}: {self.told}"


def mutants(families: tuple[str, ...]) -> Iterator[Mutant]:
    """Every change of the rules of some families; one of the same words as another is numbered."""
    for family in families:
        for path in sorted((RULES / family).glob("*.py")):
            text, before = path.read_text("utf-8"), Counter[str]()
            for site in sites(text):
                told = site.told(text)
                before[told] += 1
                nth = f" #{before[told]}" if before[told] > 1 else ""
                yield Mutant(family, path.name, site, told + nth)


def equivalent() -> dict[str, dict[str, str]]:
    """Family -> what no drawing can tell apart, by its name -> why; not made."""
    return tomllib.loads(EQUIVALENT.read_text("utf-8")) if EQUIVALENT.exists() else {}


class Copy:
    """A copy of the project that a change may be made in; the tests import from it.

    Used in a process of its own: it imports what the rules stand on from the copy once, and each
    change is tried in a fork of it, so that only rules and tests are imported anew.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in ("tests", "samples", "grammar", "lint"):
            shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("*.pyc"))
        for name in ("README.md", "DEVELOPERS.md", "pyproject.toml"):
            shutil.copy(ROOT / name, folder / name)
        (folder / "lint" / "coldcheck" / "grammar").symlink_to(folder / "grammar")

    def enter(self) -> None:
        """Import from the copy, in its folder, from now on."""
        os.chdir(self.folder)
        sys.path[:0] = [str(self.folder / "lint"), str(self.folder)]
        for name in [n for n in sys.modules if n.partition(".")[0] in ("coldcheck", "tests")]:
            del sys.modules[name]
        importlib.invalidate_caches()
        for name in FOUNDATIONS:
            importlib.import_module(name)
        import coldcheck  # the copy's: tests/mutation would say nothing of another

        if not Path(coldcheck.__file__).is_relative_to(self.folder):
            raise RuntimeError(coldcheck.__file__)
        if any(n.startswith(("coldcheck.rules.", "tests.rules")) for n in sys.modules):
            raise RuntimeError("rules are imported before they are changed")

    def survives(self, mutant: Mutant) -> bool:
        """Whether the nearest tests pass with the change in."""
        path = self.folder / "lint" / "coldcheck" / "rules" / mutant.family / mutant.module
        text, when = path.read_text("utf-8"), path.stat()
        try:
            path.write_text(mutant.site.changed(text), "utf-8")
            return self._passes(mutant.family, path.stem, RULE.findall(text))
        finally:
            path.write_text(text, "utf-8")
            os.utime(path, ns=(when.st_atime_ns, when.st_mtime_ns))  # what is compiled stays good

    def sound(self, family: str) -> bool:
        """Whether the tests of a family pass with nothing changed."""
        return self._passes(family, "", [], keep=True)

    def _passes(self, family: str, module: str, rules: list[str], *, keep: bool = False) -> bool:
        named = " or ".join(rules) or family
        own = f"tests/rules/{family}/test_{module}.py"
        return (
            (not Path(own).exists() or _forked(keep, own))
            and _forked(keep, *TOLD, named)
            and _forked(keep, *PAIRS, named)
            and _forked(keep, *SIDES, f"as_it_stands and ({named})")
            and _forked(keep, f"tests/rules/{family}", "--ignore", own)
        )


def _forked(keep: bool, *asked: str) -> bool:
    """Whether tests pass in a fork; one that never ends is noticed as well.

    ``keep``: what is compiled is kept. With a change in, it is not: it is changed back.
    """
    child = os.fork()
    if child == 0:
        _tried(keep, asked)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status) in (0, 5)  # 5: no test of that name


def _tried(keep: bool, asked: tuple[str, ...]) -> NoReturn:
    """In the fork: run the tests and end, whatever happens; nothing of the parent is undone."""
    code = 1
    try:
        sys.dont_write_bytecode = not keep
        signal.alarm(MOST_SECONDS)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        os.dup2(1, 2)
        code = int(pytest.main([*PYTEST, *asked]))
    finally:
        os._exit(code)


def recorded() -> dict[str, Recorded]:
    """Family -> what was made of it."""
    return tomllib.loads(RECORDED.read_text("utf-8")) if RECORDED.exists() else {}


def survived(family: str) -> list[str]:
    """The changes of a family that the record has."""
    held = recorded().get(family)
    return held["survived"] if held else []


def record(families: dict[str, Recorded]) -> None:
    """Write the record; families not asked for stay as they are."""
    lines = [
        "# Written by python -m tests.mutation --record: changes that no nearest test notices.",
        "",
    ]
    for name, held in sorted({**recorded(), **families}.items()):
        lines += [f"[{name}]", f"made = {held['made']}", "survived = ["]
        lines += [f"    {_quoted(s)}," for s in held["survived"]]
        lines += ["]", ""]
    RECORDED.write_text("\n".join(lines), "utf-8")


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
