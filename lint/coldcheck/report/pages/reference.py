"""The reference page of all rules in Markdown: ``python -m coldcheck.report.pages.reference``.

Written from the rules' own documentation, so it cannot say anything else; a test compares the
page in the repository with what this module writes today.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.report.pages.rule_page import documentation
from coldcheck.report.shared.markdown import own_words
from coldcheck.report.shared.plain import counted
from coldcheck.verdict.pairs import folder, pairs_of
from coldcheck.verdict.registry import RULES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.judge.rule import Rule

PAGE = "README.md"

_HEAD = """# Every rule, with its pair of drawings

Written by `python -m coldcheck.report.pages.reference` from the rules' documentation; do not edit.
`coldcheck why RULE` prints the same with the two drawings side by side and the review of each.
[catalogue.csv](catalogue.csv) says which rule answers which common mistake.

Levels are the signal words of ANSI Z535.6: danger, warning and caution where a person can be hurt,
notice where equipment is damaged or does not work; below them advice. The level of a finding may be
milder than its rule's where the text says so.
"""


def page() -> str:
    """The page as Markdown, a section a family, rules in the order of the registry."""
    families: dict[str, list[Rule]] = {}
    for rule in RULES:
        families.setdefault(rule.family, []).append(rule)
    parts = [_HEAD, f"{counted(len(RULES), 'rule')} in {len(families)} families.\n"]
    for family, rules in families.items():
        parts.append(f"## {family}\n")
        parts += [_section(rule) for rule in rules]
    return "\n".join(parts)


def _section(rule: Rule) -> str:
    lines = [f"### {rule.id}", "", f"**{rule.level}**: {own_words(rule.title)}.", ""]
    lines += [f"* *{label}*: {own_words(text)}" for label, text in documentation(rule)]
    lines.append(f"* *drawings*: {', '.join(_links(rule))}")
    return "\n".join([*lines, ""])


def _links(rule: Rule) -> Iterator[str]:
    for pair in pairs_of(rule.id):
        label = pair.case or "the pair"
        yield f"{label} ([wrong]({pair.name}/wrong.tube), [right]({pair.name}/right.tube))"


def main() -> None:
    """Write the page beside the pairs."""
    (folder() / PAGE).write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
