"""The parser's tables, worked out beforehand: building them from the grammar costs ten times more.

``python -m coldcheck.drawing.tables`` writes ``netlist.tables.json`` beside the grammar. The
tables are used only with the very lark version and grammar they were made from; otherwise the
parser is built from the grammar, which gives the same parser a little later.
"""

from __future__ import annotations

import hashlib
import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import lark

_PAIRS = "%pairs"
_NAME = "netlist.tables.json"


def grammar_text() -> str:
    """The grammar as shipped."""
    return files("coldcheck.grammar").joinpath("netlist.lark").read_text(encoding="utf-8")


def build(text: str) -> lark.Lark:
    """The parser of single statements, from the grammar's text (some 60 ms)."""
    return lark.Lark(
        text, start="statement", parser="lalr", lexer="contextual", maybe_placeholders=False
    )


def load() -> lark.Lark:
    """The parser from the stored tables if they fit, else from the grammar."""
    text = grammar_text()
    try:
        written = files("coldcheck.grammar").joinpath(_NAME).read_bytes()
        stored = json.loads(written, object_hook=_mapped)
        if stored["made-for"] == made_for(text):
            # Not a documented function, hence the fallback; the version is checked above.
            parser = lark.Lark._load_from_dict(stored["data"], stored["memo"])  # type: ignore[no-untyped-call]
            return parser if isinstance(parser, lark.Lark) else build(text)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        pass
    return build(text)


def made_for(text: str) -> str:
    """What the tables depend on, as a string."""
    digest = hashlib.sha256(text.encode()).hexdigest()[:16]
    return f"lark {lark.__version__}, grammar {digest}"


def tables() -> dict[str, Any]:
    """The tables of the shipped grammar, as plain data."""
    from lark.grammar import Rule
    from lark.lexer import TerminalDef

    text = grammar_text()
    data, memo = build(text).memo_serialize([TerminalDef, Rule])
    return {"made-for": made_for(text), "data": _encoded(data), "memo": _encoded(memo)}


def _encoded(value: Any) -> Any:
    """JSON has no integer keys: such mappings become lists of pairs."""
    if isinstance(value, dict):
        if all(isinstance(key, str) for key in value):
            return {key: _encoded(v) for key, v in value.items()}
        return {_PAIRS: [[key, _encoded(v)] for key, v in value.items()]}
    if isinstance(value, list | tuple):
        return [_encoded(v) for v in value]
    return value


def _mapped(value: dict[str, Any]) -> dict[Any, Any]:
    """What :func:`_encoded` made of a mapping, as it was."""
    return dict(value[_PAIRS]) if _PAIRS in value else value


def main() -> None:
    """Write the tables beside the grammar."""
    path = Path(str(files("coldcheck.grammar").joinpath(_NAME)))
    path.write_text(json.dumps(tables(), separators=(",", ":"), sort_keys=True) + "\n")


if __name__ == "__main__":
    main()
