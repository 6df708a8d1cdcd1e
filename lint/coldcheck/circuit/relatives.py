"""Types on file that a type is related to by the way tubes were named, never by the look of it.

American names of the 1930s on begin with the heater's volts; what follows is the tube, up to the
digits that count its elements, and letters after them are its issue: 12SQ7 is a 6SQ7 with another
heater, 6SQ7GT a later bulb. European names begin with a letter for the heater: ECL82, PCL82 and
UCL82 are one tube. (Common practice.) Names with a single letter (6L6, 25L6) do not keep to it.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

_AMERICAN = re.compile(r"(?P<heater>\d{1,3})(?P<tube>[A-Z]+\d+)(?P<issue>[A-Z]*)")
_EUROPEAN = re.compile(r"(?P<heater>[EPUHX])(?P<tube>[A-Z]{1,3}\d{2,3})(?P<issue>)")
_LETTERS = 2
"""A name with fewer letters between the numbers says nothing of a tube with another heater."""


def relatives(name: str, names: Iterable[str]) -> tuple[str, ...]:
    """The names that are of the same tube: other issues of it, else those with another heater."""
    own = _parts(name)
    if own is None:
        return ()
    parts = {n: p for n in names if (p := _parts(n)) is not None and p[1] == own[1]}
    issues = [n for n, (heater, _) in parts.items() if heater == own[0] and n != name]
    if issues:
        return tuple(sorted(issues, key=lambda n: (len(n), n)))
    letters = sum(c.isalpha() for c in own[1])
    others = parts if letters >= _LETTERS else ()
    return tuple(sorted((n for n in others if n != name), key=lambda n: (len(n), n)))


def _parts(name: str) -> tuple[str, str] | None:
    """What a name says of the heater, and of the tube."""
    found = _AMERICAN.fullmatch(name) or _EUROPEAN.fullmatch(name)
    return None if found is None else (found["heater"], found["tube"])


def hint(name: str, names: Iterable[str]) -> str:
    """What to say of a type that is not on file, or an empty text."""
    found = relatives(name, names)[:3]
    own = _parts(name)
    if not found or own is None:
        return ""
    first = _parts(found[0])
    same = first is not None and first[0] == own[0]
    what = "another issue of it" if same else "by its name the same electrodes at another heater"
    return f"on file: {', '.join(found)}, {what}"
