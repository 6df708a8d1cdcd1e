"""The reference pages of commands and interface are those the program gives today."""

from __future__ import annotations

import argparse
import re

import pytest

from coldcheck import api, extending
from coldcheck.cli import parser
from coldcheck.report.pages import commands, interface, shelf


@pytest.mark.parametrize(
    "module", [commands, interface, shelf], ids=["commands", "python", "tubes"]
)
def test_the_page_in_the_repository_is_current(module) -> None:
    written = module.PAGE.read_text(encoding="utf-8")
    assert written == module.page(), f"run python -m {module.__name__}"


def options() -> set[tuple[str, str]]:
    """Every option of every command that --help shows, found without the page's own functions."""
    (group,) = (a for a in parser()._actions if isinstance(a, argparse._SubParsersAction))
    shown = ((name, command.format_help()) for name, command in group.choices.items())
    return {(name, o) for name, text in shown for o in re.findall(r"^  (--[\w-]+)", text, re.M)}


def test_every_option_of_every_command_is_in_its_section() -> None:
    heads, *bodies = re.split(r"^## (\w+)$", commands.page(), flags=re.MULTILINE)
    sections = dict(zip(bodies[::2], bodies[1::2], strict=True))
    assert "141 whoever read" in heads
    found = options()
    assert ("review", "--touched-since") in found
    for name, option in found:
        assert re.search(rf"^\| `{option}[ `]", sections[name], re.MULTILINE), (name, option)
    assert not re.search("--changed-since|--write|--check", commands.page())


def test_every_name_of_the_interface_has_its_entry() -> None:
    text = interface.page()
    for name in (*api.__all__, *extending.__all__):
        assert f"### {name}\n" in text
    assert "read(path: str | Path, *, settings: Mapping[str, Any] | None = None) -> D" in text
    assert "* `solved: bool`: Whether the state was solved;" in text
    assert "* `[...](point: str) -> Reading`: The voltage of a net, point or lead" in text
    assert "sheets: Mapping[str, str] = {}, settings" in text
    assert "= {}, /, **more: str | float) -> Drawing`: The same drawing at other values" in text
    assert not re.search(r"`\._|`_\w+[:(]", text)  # nothing private
    assert "::" not in text
    assert ":class:" not in text
