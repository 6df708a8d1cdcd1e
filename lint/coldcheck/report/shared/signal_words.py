"""The signal words of ANSI Z535.6 and ISO 3864-2 with their standard colours.

The word is always printed; the colour only repeats it.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from rich.text import Text

if TYPE_CHECKING:
    from collections.abc import Mapping


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
