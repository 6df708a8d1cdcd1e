"""The TextMate grammar for highlighting, made of the language's own tables.

``python -m coldcheck.serve.textmate`` writes ``coldcheck.tmLanguage.json`` beside the grammar of
the language; a test compares the file with what this module makes today.
"""

from __future__ import annotations

import json
import re
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coldcheck.circuit.model import LANDMARKS
from coldcheck.drawing.kinds import KIND_WORDS, SAFETY_CLASSES, WORDS
from coldcheck.drawing.values import PREFIXES, UNITS
from coldcheck.serve.words import MEASURES

if TYPE_CHECKING:
    from collections.abc import Iterable

NAME = "coldcheck.tmLanguage.json"
CLAUSES = (
    "tolerance", "dot", "insulation", "impedance", "coupling", "heater", "series", "parallel", "ct",
    "taps", "tap", "ganged", "gapped", "ungapped", "at", "plugged", "unplugged", "like", "base",
    "synchronous",
    "pins", "below", "above", "between", "and", "within", "in", "because", "cell", "gate",
    "until", "as", "joining", "to", "contacts", "delay", "released", "heatsink",
)  # fmt: skip
"""The words inside statements; a test compares them with the grammar's."""

LAYOUT = r"(?:[sd]|[1-9]\d?)p(?:[sd]|[1-9]\d?)t|lin|linear|log|audio|antilog|reverse-log"
_DECLARING = (
    "transformer",
    "primary",
    "winding",
    "output",
    "reverb",
    "pot",
    "switch",
    "relay",
    "bridge",
    "optocoupler",
    "thyristor",
    "triac",
    "vibrator",
    "ballast",
    "plug",
    "connector",
    "jack",
)
_PLAIN = ("drawing", "mains", "signal", "sheet")
_NAME = r"[A-Za-z0-9_]+"
_TYPE = r'[^\s\[\]"<>=:#]+'
_SIGNS = {"u": "uµμ"}
_ALONE = ("k", "K", "M", "meg", "u", "n", "p")


def grammar() -> dict[str, Any]:
    """The grammar as plain data."""
    return {
        "name": "coldcheck drawing",
        "scopeName": "source.coldcheck",
        "fileTypes": ["tube"],
        "patterns": [_include(n) for n in ("comment", "statements", "part", "wire")],
        "repository": {
            "comment": _match("#.*$", "comment.line.number-sign"),
            "string": _match('"[^"]*(?:"|$)', "string.quoted.double"),
            "statements": {"patterns": list(_statements())},
            "inside": {"patterns": [_include(n) for n in _INSIDE]},
            "part": _part(),
            "wire": {"patterns": [_include(n) for n in _WIRE]},
            "operator": _match(r"--|->|<-|[=:,]|(?<=\s)-(?=\s)", "keyword.operator.wire"),
            "plus": _match(r"(?<![A-Za-z0-9_])\+", "keyword.operator.plus"),
            "landmark": _match(rf"(?<![\w./])(?:{_either(LANDMARKS)})(?![\w./:+])",
                               "constant.language.landmark"),
            "clause": _match(rf"(?<![\w./-])(?:{_either(CLAUSES)})(?![\w./:-])",
                             "keyword.other.clause"),
            "layout": _match(rf"(?<![\w.])(?:{LAYOUT})(?!\w)", "storage.modifier.layout"),
            "lamp": _match(r"(?<=\s)#\d{1,4}(?=[\s\]])", "support.type.part"),
            "date": _match(r"(?<=until )[^\s\"]+", "constant.numeric.date"),
            "value": _value(_NUMBER + "|" + _CODE),
            "number": _value(_NUMBER),
            "unknown": _match(r"(?<!\S)\?(?=[\s\]]|$)", "constant.language.unknown"),
            "point": _point(),
            "kind": _match(rf"(?<![\w-])(?:{_either(KIND_WORDS)})(?![\w-])", "storage.type.kind"),
            "class": _match(rf"(?i)(?<!\w)(?:[xX][12]/)?(?:{_either(SAFETY_CLASSES)})(?!\w)",
                            "storage.modifier.class"),
            "word": _match(rf"(?<![\w-])(?:{_either(WORDS - set(KIND_WORDS))})(?![\w-])",
                           "storage.modifier.word"),
            "model": _match(r'(?<!\S)[^\s\[\]"<>=:#]+', "support.type.part"),
        },
    }  # fmt: skip


_WIRE = ("string", "plus", "operator", "landmark", "point")
_INSIDE = (
    *("comment", "string", "date", "clause", "layout", "unknown", "number", "operator"),
    *("landmark", "point"),
)


def _statements() -> Iterable[dict[str, Any]]:
    yield _statement(("tube", "transistor", "regulator"), rf"(?:\s+({_NAME}))?(?:\s+({_TYPE}))?",
                     "entity.name.part", "support.type.tube")  # fmt: skip
    yield _statement(("type",), rf"(?:\s+({_TYPE}))?(?:\s+(like)(?:\s+({_TYPE}))?)?",
                     "support.type.tube", "keyword.other.clause", "support.type.tube")  # fmt: skip
    yield _statement(_DECLARING, rf"(?:\s+({_NAME}))?", "entity.name.part")
    yield _statement(("rating",), r"(?:\s+([a-z-]+))?", "support.constant.rating")
    yield _statement(("accept",), r"(?:\s+([\w-]+\.[\w-]+))?", "entity.name.rule")
    measures = rf"(?:\s+({_either(MEASURES)})(?=\s))?"
    yield _statement(("expect",), measures, "keyword.other.measure")
    yield _statement(_PLAIN, "")


def _statement(words: Iterable[str], rest: str, *scopes: str) -> dict[str, Any]:
    """A line that begins with one of some words, to its end."""
    named = ("keyword.control.statement", *scopes)
    return {
        "begin": rf"^\s*({_either(words)})(?=\s|$){rest}",
        "beginCaptures": {str(n): {"name": _scope(s)} for n, s in enumerate(named, 1)},
        "end": "$",
        "name": _scope("meta.statement"),
        "patterns": [_include("inside")],
    }


def _part() -> dict[str, Any]:
    """A bracket: the part's name, its fields."""
    return {
        "begin": rf"(\[)\s*({_NAME})?",
        "beginCaptures": {
            "1": {"name": _scope("punctuation.section.part.begin")},
            "2": {"name": _scope("entity.name.part")},
        },
        "end": r"(\])|$",
        "endCaptures": {"1": {"name": _scope("punctuation.section.part.end")}},
        "name": _scope("meta.part"),
        "patterns": [
            _include(n)
            for n in (*("lamp", "unknown", "value", "class", "kind"), *("word", "model"))
        ],
    }


_NUMBER = r"[-+−]?(?:\d+[RrkKMunpmVµμ]\d+|\d+(?:\.\d*)?|\.\d+)"
_CODE = r"[Rrunpµμ]\d+"
"""Codes that begin with their letter; outside a bracket ``R47`` is the name of a part."""


def _value(number: str) -> dict[str, Any]:
    """A number or a letter code (4k7), and the unit behind it."""
    return {
        "match": rf"(?<![\w.])±?({number})(?:\s*({_units()}))?(?![\w.])",
        "captures": {
            "1": {"name": _scope("constant.numeric.value")},
            "2": {"name": _scope("keyword.other.unit")},
        },
    }


def _units() -> str:
    """Prefix and unit, a unit that is a sign, volts marked AC or DC, or a prefix by itself."""
    words = [u for u in UNITS if u != "%"]
    prefixes = [_SIGNS.get(p, p) for p in PREFIXES if len(p) == 1]
    long = [p for p in PREFIXES if len(p) > 1]
    prefix = f"(?:{_either(long)}|[{''.join(prefixes)}])?"
    marked = r"V\s?(?:ac|AC|rms|RMS|dc|DC)"
    return rf"{prefix}(?:{marked}|{_either(words)}|[ΩΩ])|%|{_either(_ALONE)}"


def _point() -> dict[str, Any]:
    """A point with its sheet before it, its lead or pin behind it."""
    return {
        "match": rf"((?:{_NAME}/)*)({_NAME}(?:[+-][0-9]*(?=[\s,]|$))?)"
        rf"((?:\.{_NAME})*)((?::{_NAME})?)",
        "captures": {
            "1": {"name": _scope("entity.name.section.sheet")},
            "2": {"name": _scope("variable.other.point")},
            "3": {"name": _scope("variable.other.member.lead")},
            "4": {"name": _scope("constant.numeric.pin")},
        },
    }


def _match(pattern: str, scope: str) -> dict[str, Any]:
    return {"match": pattern, "name": _scope(scope)}


def _include(name: str) -> dict[str, Any]:
    return {"include": f"#{name}"}


def _scope(name: str) -> str:
    return f"{name}.coldcheck"


def _either(words: Iterable[str]) -> str:
    """Alternatives, the longest first: an engine takes the first that fits."""
    return "|".join(re.escape(w) for w in sorted(words, key=lambda w: (-len(w), w)))


def text() -> str:
    """The file as it is written."""
    return json.dumps(grammar(), indent=1, ensure_ascii=False) + "\n"


def main() -> None:
    """Write the file beside the grammar."""
    path = Path(str(files("coldcheck.grammar").joinpath(NAME)))
    path.write_text(text(), encoding="utf-8")


if __name__ == "__main__":
    main()
