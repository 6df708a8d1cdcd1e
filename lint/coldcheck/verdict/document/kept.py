"""A document as JSON values and back, as it is kept in a file.

Read field by field by the types of :mod:`coldcheck.verdict.document.content`, so that nothing but
text, numbers and the words of our own enumerations comes in from a file.
"""

from __future__ import annotations

import types
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import lru_cache
from typing import Any, Literal, TypeAlias, Union, get_args, get_origin, get_type_hints

from coldcheck.anatomy.lift_room import Room
from coldcheck.drawing.model import Span
from coldcheck.judge.figure import Figure
from coldcheck.judge.finding import CERTAINTIES, LEVELS, Finding, NotJudged
from coldcheck.picture.board import Item
from coldcheck.picture.devices import Device
from coldcheck.picture.grid import Word
from coldcheck.picture.model import Picture
from coldcheck.sources.register import Citation
from coldcheck.verdict.document.content import Document

FORM = "coldcheck.document/2"

Reader: TypeAlias = Callable[[Any], Any]

_TYPES = (Mapping, Span, Figure, Finding, NotJudged, Citation, Room, Picture, Item, Device, Word)
_NAMES = {t.__name__: t for t in _TYPES} | {"Cell": tuple[int, int]}
"""What annotations name without its being imported where they stand."""


def to_json(document: Document) -> dict[str, Any]:
    """The document as JSON values."""
    return {"form": FORM, "document": _plain(document)}


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        kind: Any = type(value)
        inner = {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
        return list(inner.values()) if _of_numbers(kind) else inner
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(inner) for inner in value]
    return value.value if isinstance(value, Enum) else value


def from_json(data: Mapping[str, Any]) -> Document:
    """A document from JSON values. Raises KeyError, TypeError or ValueError for anything else."""
    if data["form"] != FORM:
        raise ValueError(f"not a document of form {FORM}")
    found = _reader(Document)(data["document"])
    assert isinstance(found, Document)
    if any(f.level not in LEVELS or f.certainty not in CERTAINTIES for f in found.findings):
        raise ValueError("a finding of no known level or certainty")
    return found


@lru_cache(maxsize=256)
def _reader(wanted: Any) -> Reader:
    """What reads a value of a type; every type of a document is one of these."""
    if is_dataclass(wanted) and isinstance(wanted, type):
        return _of_fields(wanted)
    if isinstance(wanted, type) and issubclass(wanted, Enum):
        return _member(wanted)
    origin, inner = get_origin(wanted), get_args(wanted)
    if origin in (Union, types.UnionType):
        every = _either(tuple(_reader(t) for t in inner if t is not type(None)))
        return _or_none(every) if type(None) in inner else every
    if origin is Literal:
        return _one_of(inner)
    if origin is tuple and inner[1:] == (...,):
        return _row(_reader(inner[0]))
    if origin is tuple:
        return _together(tuple(map(_reader, inner)))
    if origin is Mapping and inner[0] is str:
        return _table(_reader(inner[1]))
    if wanted in (str, int, float, bool, type(None)):
        return _scalar(wanted)
    raise TypeError(f"a document has no {wanted}")


@lru_cache(maxsize=256)
def _hints(wanted: Any) -> dict[str, Any]:
    """The types of the fields by name."""
    known = get_type_hints(wanted, localns=_NAMES)
    return {f.name: known[f.name] for f in fields(wanted)}


@lru_cache(maxsize=256)
def _of_numbers(wanted: Any) -> bool:
    """Whether a record has several fields and all are numbers: it is kept as a row of them.

    Four fifths of a document are the volts of points, and names take longer to read than these.
    """
    hints = _hints(wanted).values()
    return len(hints) > 1 and all(hint in (float, float | None) for hint in hints)


def _of_fields(wanted: Any) -> Reader:
    readers = [(name, _reader(hint)) for name, hint in _hints(wanted).items()]
    if _of_numbers(wanted):
        return _numbers(wanted, _together(tuple(reader for _, reader in readers)), len(readers))

    def read(value: Any) -> Any:
        if not isinstance(value, dict):
            raise TypeError(f"{wanted.__name__} expected, not {type(value).__name__}")
        return wanted(*[reader(value[name]) for name, reader in readers])

    return read


def _numbers(wanted: Any, together: Reader, count: int) -> Reader:
    """What reads a row of numbers, nearly always of as many floats."""

    def read(value: Any) -> Any:
        if type(value) is list and len(value) == count and {*map(type, value)} == {float}:
            return wanted(*value)
        return wanted(*together(value))

    return read


def _or_none(reader: Reader) -> Reader:
    return lambda value: None if value is None else reader(value)


def _either(readers: tuple[Reader, ...]) -> Reader:
    if len(readers) == 1:
        return readers[0]

    def read(value: Any) -> Any:
        for reader in readers:
            try:
                return reader(value)
            except (TypeError, KeyError, ValueError):
                continue
        raise TypeError(f"{type(value).__name__} is none of what may stand here")

    return read


def _one_of(words: tuple[Any, ...]) -> Reader:
    def read(value: Any) -> Any:
        if value not in words:
            raise ValueError(f"{value!r} is not one of {words}")
        return value

    return read


def _row(reader: Reader) -> Reader:
    def read(value: Any) -> Any:
        if not isinstance(value, list):
            raise TypeError(f"a list expected, not {type(value).__name__}")
        return tuple(map(reader, value))

    return read


def _together(readers: tuple[Reader, ...]) -> Reader:
    def read(value: Any) -> Any:
        if not isinstance(value, list) or len(value) != len(readers):
            raise TypeError(f"a list of {len(readers)} expected")
        return tuple(reader(item) for reader, item in zip(readers, value, strict=True))

    return read


def _member(wanted: type[Enum]) -> Reader:
    """Of an enumeration by its value; of directions that is a pair."""

    def read(value: Any) -> Any:
        return wanted(tuple(value) if isinstance(value, list) else value)

    return read


def _table(reader: Reader) -> Reader:
    def read(value: Any) -> Any:
        if not isinstance(value, dict):
            raise TypeError(f"an object expected, not {type(value).__name__}")
        return {key: reader(inner) for key, inner in value.items()}

    return read


def _scalar(wanted: type[Any]) -> Reader:
    def read(value: Any) -> Any:
        if wanted is float and type(value) is int:
            return float(value)
        if type(value) is not wanted:
            raise TypeError(f"{wanted.__name__} expected, not {type(value).__name__}")
        return value

    return read
