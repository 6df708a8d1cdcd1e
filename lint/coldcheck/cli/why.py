"""``coldcheck why``: what a rule looks for and why."""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import OK
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import show

if TYPE_CHECKING:
    from argparse import Namespace

    from coldcheck.rules.model import Rule

# Where the pairs of small drawings are in a working copy; a wheel does not carry them.
_SAMPLES = Path(__file__).resolve().parents[3] / "samples" / "mistakes"


def run(options: Namespace) -> int:
    """Print the list of rules, or the page of one; an unknown rule is asked wrongly."""
    from coldcheck.report import rule_page
    from coldcheck.rules.registry import RULES

    if options.rule is None:
        show(lambda console: rule_page.render_list(RULES, console))
        return OK
    rule = _find(options.rule, RULES)
    show(lambda console: rule_page.render(rule, console, drawings(rule.id, _SAMPLES)))
    return OK


def _find(wanted: str, rules: tuple[Rule, ...]) -> Rule:
    by_id = {rule.id: rule for rule in rules}
    if wanted in by_id:
        return by_id[wanted]
    near = get_close_matches(wanted, by_id, n=3, cutoff=0.5)
    inside = [i for i in by_id if wanted and wanted in i]
    hint = ", ".join(dict.fromkeys((*near, *inside[:3])))
    raise AskedWrongly(
        f"there is no rule {wanted}; " + (f"near it: {hint}" if hint else "see coldcheck why")
    )


def drawings(identifier: str, folder: Path) -> dict[str, str]:
    """The wrong and the right drawing of a rule, as far as they are in reach."""
    found = {}
    for side in ("wrong", "right"):
        path = folder / identifier / f"{side}.tube"
        if path.is_file():
            found[side] = path.read_text(encoding="utf-8")
    return found
