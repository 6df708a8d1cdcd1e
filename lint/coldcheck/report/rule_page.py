"""The documentation of a rule as text, made from the rule's own metadata."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.lines import entries, paragraph, say
from coldcheck.report.plain import clean
from coldcheck.report.signal import panel

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from rich.console import Console

    from coldcheck.rules.model import Rule


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
    for name, text in drawings.items():
        say(console)
        say(console, f"{name.capitalize()}:", "bold")
        for line in text.splitlines():
            say(console, f"    {clean(line)}".rstrip())
    say(console)
    paragraph(console, f'To waive one finding: accept {rule.id} at PLACE because "..."', 2)


def render_list(rules: Iterable[Rule], console: Console) -> None:
    """Print all rules by family, with their level and title."""
    families: dict[str, list[Rule]] = {}
    for rule in rules:
        families.setdefault(rule.family, []).append(rule)
    width = max((len(r.id) for group in families.values() for r in group), default=0) + 2
    for number, (family, members) in enumerate(families.items()):
        if number:
            say(console)
        say(console, family.capitalize(), "bold")
        rows = ((r.id, f"{r.level}: {r.title}") for r in members)
        entries(console, rows, 2, width, label_style="")
