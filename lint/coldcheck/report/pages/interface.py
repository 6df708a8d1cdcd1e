"""The reference page of the Python interface: ``python -m coldcheck.report.pages.interface``.

Written from the signatures and docstrings of :mod:`coldcheck.api` and :mod:`coldcheck.extending`;
a test compares the page in the repository with what this module writes today.
"""

from __future__ import annotations

import inspect
import re
from dataclasses import MISSING, fields, is_dataclass
from enum import Enum
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from coldcheck import api, extending
from coldcheck.verdict.pairs import folder

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from types import ModuleType

PAGE = folder().parent / "guide" / "python.md"

_HEAD = """# From Python

Written by `python -m coldcheck.report.pages.interface` from the docstrings; do not edit.

```python
import coldcheck

found = coldcheck.review("samples/harbour-light.tube")
found.verdict()
found.warm["RES"].dc  # volts to gnd; .ac_rms .low .high .samples
found.states["cold"]["RES"].high
found.findings, found.not_judged

amp = coldcheck.read("samples/harbour-light.tube")
amp.warm.parts["R7"].watts.dc
amp.with_values(R7="330 ohm").warm.tubes["V2"].plate_ma
amp.sweep(R7=[220, 270, 330]).tubes["V2"].plate_w
```

[In a notebook](notebook.md) shows it at work.
"""
_ROLE = re.compile(r":\w+:`~?([^`]+)`")
_FIELD = re.compile(r"^(?P<names>\w+(?:, \w+)*)\n(?P<text>(?: {4}.+\n?)+)", re.MULTILINE)


def page() -> str:
    """The page as Markdown: the interface, then what packages of rules and tubes build on."""
    parts = [_HEAD, *_module(api, "## Working and reviewing"), *_module(extending, "## Extending")]
    return "\n".join(parts).rstrip() + "\n"


def _module(module: ModuleType, head: str) -> Iterator[str]:
    yield f"{head}\n\n`{module.__name__}`\n\n{prose(module.__doc__)}\n"
    for name in sorted(module.__all__):
        yield _entry(name, getattr(module, name))


def _entry(name: str, thing: Any) -> str:
    if inspect.isclass(thing):
        lines = [f"### {name}", "", *_class(thing)]
    elif callable(thing):
        signed = f"{name}{_signature(thing)}"
        lines = [f"### {name}", "", "```python", signed, "```", "", prose(inspect.getdoc(thing))]
    else:
        lines = [f"### {name}", "", f"`{thing}`"]
    return "\n".join(lines).rstrip() + "\n"


def _class(kind: type) -> Iterator[str]:
    said, fields_said = _parted(inspect.getdoc(kind) or "")
    yield prose(said)
    yield ""
    if issubclass(kind, Enum):
        yield from (f"* `{kind.__name__}.{member.name}`" for member in kind)
    if is_dataclass(kind):
        yield from _fields(kind, fields_said)
    yield from _members(kind)


def _parted(text: str) -> tuple[str, dict[str, str]]:
    """A class's docstring, and what it says of its fields: ``name`` with indented lines below."""
    found = {
        name: _line(entry["text"])
        for entry in _FIELD.finditer(text)
        for name in entry["names"].split(", ")
    }
    return _FIELD.sub("", text).strip(), found


def _fields(kind: Any, said: dict[str, str]) -> Iterator[str]:
    for one in fields(kind):
        if one.init and not one.name.startswith("_"):
            given = one.default is not MISSING or one.default_factory is not MISSING
            told = f": {said[one.name]}" if one.name in said else ""
            yield f"* `{one.name}: {one.type}`{', optional' if given else ''}{told}"


def _members(kind: type) -> Iterator[str]:
    for name, member in vars(kind).items():
        told = not name.startswith("_") or name == "__getitem__"
        text = inspect.getdoc(member) if told else None
        if isinstance(member, property) and told:
            yield f"* `.{name}`: {_line(text)}"
        elif inspect.isfunction(member) and told:
            shown = "[...]" if name == "__getitem__" else f".{name}"
            yield f"* `{shown}{_signature(member)}`: {_line(text)}"


def _signature(function: Any) -> str:
    signature = inspect.signature(function)
    words: list[str] = []
    for one in signature.parameters.values():
        if one.kind is one.KEYWORD_ONLY and "*" not in words:
            words.append("*")
        if one.name != "self":
            stars = "**" if one.kind is one.VAR_KEYWORD else ""
            words.append(f"{stars}{one.name}: {one.annotation}{_default(one.default)}")
            if one.kind is one.POSITIONAL_ONLY:
                words.append("/")
    return f"({', '.join(words)}) -> {signature.return_annotation}"


def _default(value: object) -> str:
    if value is inspect.Parameter.empty:
        return ""
    if isinstance(value, MappingProxyType):
        return f" = {dict(value)}"
    return f" = {value if isinstance(value, Enum) else repr(value)}"


def _line(text: str | None) -> str:
    return " ".join(_plain(text or "").split())


def _plain(text: str) -> str:
    return _ROLE.sub(r"`\1`", text).replace("``", "`")


def prose(text: str | None) -> str:
    """A docstring as Markdown: roles as code, literal blocks as they are."""
    return "\n".join(_lines(inspect.cleandoc(text or "").splitlines()))


def _lines(lines: Sequence[str]) -> Iterator[str]:
    """The lines of a docstring; a block after ``::`` is indented, as code is in Markdown too."""
    for line in lines:
        code = line.startswith("    ")
        yield line if code else _plain(re.sub("::$", ":", line))


def main() -> None:
    """Write the page into the guide."""
    PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
