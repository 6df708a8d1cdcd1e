"""What is changed in which family, and the record of what nothing noticed."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict

from tests.mutation.sites import Site, sites

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]
RECORDED = Path(__file__).parent / "recorded.toml"
EQUIVALENT = Path(__file__).parent / "equivalent.toml"
RULES = ROOT / "lint" / "coldcheck" / "rules"
FAMILIES = tuple(sorted(p.name for p in RULES.iterdir() if (p / "__init__.py").exists()))
RULE = re.compile(r'^@rule\(\s*"([a-z.-]+)"', re.MULTILINE)


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
