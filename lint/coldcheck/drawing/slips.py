"""Common slips of the pen, recognised from the text around the place the parser stopped at."""

from __future__ import annotations

import re
from difflib import get_close_matches
from typing import TYPE_CHECKING

from coldcheck.drawing.kinds import KIND_WORDS
from coldcheck.drawing.lines import FORMS, KEYWORDS
from coldcheck.drawing.unsaid import unsaid_word
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable


@dataclass(frozen=True, slots=True)
class Slip:
    """A hint; ``found``, ``expected``, ``start`` and ``end`` replace the parser's where given."""

    hint: str = ""
    found: str = ""
    expected: str = ""
    start: int | None = None
    end: int | None = None


_DASHES = "—–−‐‑─"
_INVISIBLE = "\u200b\u200c\u200d\u2060\ufeff\u00ad"


def hint_for(text: str, at: int) -> Slip:
    """Return the first slip that explains why parsing stopped at offset ``at``."""
    for look in _LOOKS:
        slip = look(text, at)
        if slip is not None:
            return slip
    return Slip()


def _open_quote(text: str, _at: int) -> Slip | None:
    if text.count('"') % 2 == 0:
        return None
    start = text.rindex('"')
    return Slip("close it before the end of the line", "a double quote that is never closed",
                'a second "', start, len(text))  # fmt: skip


def _curly_quote(text: str, at: int) -> Slip | None:
    return Slip('write plain double quotes "') if text[at : at + 1] in tuple("“”„‘’") else None


_RENAMED = {"ul": "taps"}
"""Words the language had once -> what is written now."""


def _renamed(text: str, at: int) -> Slip | None:
    """A word that was the language's and has another name now."""
    for match in re.finditer(r"[a-z]+", text[: at + 8]):
        if match.start() <= at < match.end() + 1 and (now := _RENAMED.get(match[0])):
            return Slip(f"this is now written {now}", f'"{match[0]}"', f'"{now}"',
                        match.start(), match.end())  # fmt: skip
    return None


def _keyword(text: str, at: int) -> Slip | None:
    """A first word that is nearly a keyword, or is one and is used as a point."""
    match = re.match(r"\s*([A-Za-z]+)", text)
    if match is None or match.end() > at:
        return None
    word, rest = match[1], text[match.end() :].lstrip()
    if word in KEYWORDS:
        if rest.startswith(("--", "<-")):
            return Slip(
                f'"{word}" begins a statement: give the point another name',
                f'"{word}"', "the name of a point", match.start(1), match.end(1),
            )  # fmt: skip
        return None
    if not rest or rest.startswith(("-", "<", "+", "[", "=", "—", "–", "−")):
        return None
    if known := unsaid_word(word):
        return Slip(known.instead, f'"{word}", {known.called}', "a statement or a wire",
                    match.start(1), match.end(1))  # fmt: skip
    if word.lower() in KIND_WORDS:
        return Slip(f"a part with two leads stands on a wire: A --[X1 {word} ...]-- B",
                    f'"{word}"', "a statement or a wire", match.start(1), match.end(1))  # fmt: skip
    close = get_close_matches(word.lower(), sorted(KEYWORDS), n=1, cutoff=0.7)
    if not close:
        return None
    return Slip(f'did you mean "{close[0]}"?', f'"{word}"', "a statement or a wire",
                match.start(1), match.end(1))  # fmt: skip


def _tube_without_type(text: str, _at: int) -> Slip | None:
    match = re.match(r"\s*tube\s+\w+\s+(heater)\b", text)
    if match is None:
        return None
    return Slip("name the type first: tube V1 12AX7 heater ...", '"heater"', "the tube's type",
                match.start(1), match.end(1))  # fmt: skip


def _brackets(text: str, at: int) -> Slip | None:
    before = text[:at]
    if before.count("[") > before.count("]"):
        name = re.match(r"\[\s*(\w+)", text[before.rindex("[") :])
        who = f" of {name[1]}" if name else ""
        return Slip(f"close the bracket{who} with ]")
    after = text[at:]
    close, opening = after.find("]"), after.find("[")
    if close >= 0 and (opening < 0 or close < opening):
        return Slip("open the part with [, as in --[R1 10k]--")
    if text[at : at + 1] in ("(", "{"):
        return Slip("parts are written in square brackets: --[R1 10k]--")
    return None


def _wire(text: str, at: int) -> Slip | None:
    char = text[at : at + 1]
    rest = text[at:]
    if char and char in _DASHES:
        return Slip("a wire is two plain hyphens: --")
    if rest.startswith("-->") or (char == ">" and text[:at].endswith("--")):
        return Slip("a diode's arrow is ]->")
    if rest.startswith("--") and re.search(r"--\s+$", text[:at]):
        return Slip("name the point between two wires, or draw one wire")
    if text[:at].endswith("<-") and char == "-":
        return Slip("a diode's arrow is <-[")
    if char == "-" and (rest[1:2] == "-" or text[:at].endswith("--")):
        return Slip("a wire is exactly two hyphens: --")
    if char == "-" and not text.lstrip().startswith("expect"):
        return Slip("a wire is two hyphens: --")
    if char == "=" and not text.lstrip().startswith("expect"):
        return Slip("a wire is two hyphens: --")
    if char == "+" and re.search(r"\w$", text[:at]):
        return Slip("set a name such as B+ off with a space: B+ --")
    return None


def _end_of_wire(text: str, at: int) -> Slip | None:
    if at >= len(text.rstrip()) and text.rstrip().endswith(("--", "->")):
        return Slip("write the point the wire goes to")
    return None


def _accept(text: str, _at: int) -> Slip | None:
    if re.match(r"\s*accept\b", text) and not re.search(r"\bbecause\b", text):
        return Slip('a waiver needs its reason: because "..."')
    return None


def _comment(text: str, at: int) -> Slip | None:
    if text.startswith(("//", ";", "/*", "'"), at):
        return Slip("a comment begins with #")
    return None


def _lead(text: str, at: int) -> Slip | None:
    first = re.match(r"\s*(\w+)", text)
    between = re.search(r"\w\s+$", text[:at]) and text[at : at + 1].isalnum()
    if between and first and first[1] not in KEYWORDS:
        return Slip("names have no spaces; a lead is written V1A.plate")
    return None


def _letters(text: str, at: int) -> Slip | None:
    char = text[at : at + 1]
    if char.isalpha() and not char.isascii():
        return Slip("names are made of the letters A to Z, digits and _")
    if char and char in _INVISIBLE:
        return Slip("delete the invisible character and write the name again")
    return None


def _no_beginning(text: str, _at: int) -> Slip | None:
    if text.lstrip().startswith(("[", "--", "->", "<-", "+")):
        return Slip("a wire begins at a point: A --[R1 10k]-- B")
    return None


def _form(text: str, _at: int) -> Slip | None:
    first = re.match(r"\s*(\w+)", text)
    form = FORMS.get(first[1], "") if first else ""
    return Slip(f"the form is: {form}") if form else None


_LOOKS: tuple[Callable[[str, int], Slip | None], ...] = (
    _open_quote, _curly_quote, _renamed, _keyword, _tube_without_type, _accept, _brackets, _wire,
    _end_of_wire, _comment, _lead, _letters, _no_beginning, _form,
)  # fmt: skip
