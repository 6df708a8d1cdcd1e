"""The signal words of ANSI Z535.6 and ISO 3864-2 with their standard colours.

The word is always printed; the colour only repeats it.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from rich.text import Text

from coldcheck.judge.finding import LEVELS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.judge.finding import Finding

# Screen approximations of the safety colours of ANSI Z535.1 (from memory): safety red, orange,
# yellow and blue with the lettering the standard prescribes. Advice is no signal word.
STYLES: Mapping[str, str] = MappingProxyType(
    {
        "danger": "bold #ffffff on #c8102e",
        "warning": "bold #000000 on #ff7900",
        "caution": "bold #000000 on #ffd100",
        "notice": "bold #ffffff on #005eb8",
        "advice": "bold",
    }
)


def panel(level: str) -> Text:
    """The signal word as a small panel: a blank, the word in capitals, a blank."""
    return Text().append(f" {level.upper()} ", style=STYLES[level])


def gravest_first(findings: tuple[Finding, ...]) -> list[Finding]:
    """Findings in the order a reader needs them: by level, causes first, as the drawing goes."""
    return sorted(
        findings,
        key=lambda f: (
            *(-LEVELS.index(f.level), not f.is_cause),
            *(f.span.file, f.span.line, f.span.column, f.rule),
        ),
    )
