"""The documentation of a rule as text, made from the rule's own metadata."""

from __future__ import annotations

from difflib import ndiff
from typing import TYPE_CHECKING

from coldcheck.report.lines import entries, paragraph, say
from coldcheck.report.plain import clean
from coldcheck.report.signal import panel

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from rich.console import Console

    from coldcheck.rules.model import Rule

_WIDTH = 33


def render(rule: Rule, console: Console, drawings: Mapping[str, str]) -> None:
    """Print one rule; ``drawings`` maps ``wrong`` and ``right`` to the text of a drawing."""
    head = panel(rule.level)
    head.append(f"  {rule.id}", style="bold")
    say(console, head)
    paragraph(console, rule.title, 2)
    say(console)
    parts = (
        ("why", rule.why),
        ("criterion", rule.criterion),
        ("needs", rule.needs),
        ("states", rule.states),
        ("source", rule.source),
    )
    entries(console, parts, 2, 11)
    _drawings(console, drawings.get("wrong", ""), drawings.get("right", ""))
    say(console)
    paragraph(console, f'To waive one finding: accept {rule.id} at PLACE because "..."', 2)


def _drawings(console: Console, wrong: str, right: str) -> None:
    """The wrong drawing in full, then only what the right one has in its place."""
    if not wrong:
        return
    _listing(console, "Wrong:", wrong.splitlines())
    mended = [x for x in ndiff(wrong.splitlines(), right.splitlines()) if x[0] in "-+"]
    if right:
        _listing(console, "Right (- taken out, + put in):", mended)


def _listing(console: Console, title: str, lines: Iterable[str]) -> None:
    say(console)
    say(console, title, "bold")
    for line in lines:
        say(console, f"    {clean(line)}".rstrip())


def render_list(rules: Iterable[Rule], console: Console) -> None:
    """Print all rules by family, with their level and title."""
    families: dict[str, list[Rule]] = {}
    for rule in rules:
        families.setdefault(rule.family, []).append(rule)
    for number, (family, members) in enumerate(families.items()):
        if number:
            say(console)
        say(console, family.capitalize(), "bold")
        rows = ((r.id, f"{r.level}: {r.title}") for r in members)
        entries(console, rows, 2, _WIDTH, label_style="")
