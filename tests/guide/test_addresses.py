"""No text that is published sends anybody to a place that is not meant: to install least of all."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
TEXTS = [
    *ROOT.glob("*.md"), *(ROOT / "samples").rglob("*.md"), *(ROOT / "grammar").rglob("*.md"),
    ROOT / "pyproject.toml", ROOT / ".pre-commit-hooks.yaml",
    *(ROOT / ".github").rglob("*.yml"),
]  # fmt: skip
PLACEHOLDER = "https://example.org/your/copy/of/coldcheck"
"""RFC 2606 keeps the name: nobody can put anything there."""


def found(pattern: str) -> set[str]:
    return {m for p in TEXTS for m in re.findall(pattern, p.read_text("utf-8"))}


def test_coldcheck_is_installed_from_nowhere_until_an_address_is_written() -> None:
    assert found(r"git\+(https?://[^\s\"'@]+)") == {PLACEHOLDER}
    assert found(r"repo: (\S+)") == {PLACEHOLDER}
    assert found(r"https?://example\.[^\s\"'`@,)]+") == {PLACEHOLDER}


def test_steps_of_workflows_are_of_known_owners_or_of_nobody() -> None:
    """An account's name has no underscore: what is to be written anew cannot exist as it is."""
    assert found(r"uses:\s+([A-Za-z0-9_.-]+)/") == {"actions", "github", "YOUR_ACCOUNT"}


def test_no_command_installs_a_package_of_that_name_that_somebody_else_may_own() -> None:
    """The project is on no index; ``pip install coldcheck`` would take whatever is called so."""
    said = {p: p.read_text("utf-8") for p in (ROOT / "lint").rglob("*.py")}
    assert [p for p, text in said.items() if "pip install 'coldcheck" in text] == []
    assert found(r"pip install (?:--\w+ )*['\"]?coldcheck\b") == set()
