"""``dataclass`` as the standard library's, for slotted classes made at a third of its cost.

A review loads two hundred of them before it has read anything. The library compiles up to seven
functions for each and reads every annotation, a seventh of the time a small review takes; here the
constructor alone is compiled, once for all classes whose fields are given alike, all classes share
the others, and a class without bases whose annotations are all fields is not analysed further. Its
:func:`dataclasses.fields` are the library's. Every other form is left to it.
"""

from __future__ import annotations

import dataclasses
from dataclasses import MISSING, FrozenInstanceError, field, fields
from functools import cache
from operator import attrgetter
from types import FunctionType
from typing import TYPE_CHECKING, Any, TypeVar, cast, dataclass_transform

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from dataclasses import Field
    from types import CodeType

    T = TypeVar("T")
    Values = Callable[[Any], object]


class _Factory:
    """Stands in a signature for what is made anew each time."""

    def __repr__(self) -> str:
        return "<factory>"


_FACTORY = _Factory()


@dataclass_transform(field_specifiers=(field,))
def dataclass(*, slots: bool, frozen: bool = False, **more: bool) -> Callable[[type[T]], type[T]]:
    """See the module; the arguments are those of :func:`dataclasses.dataclass`."""
    if more or not slots:
        return dataclasses.dataclass(slots=slots, frozen=frozen, **more)

    def made(cls: type[T]) -> type[T]:
        own = frozenset(cls.__dict__)
        built = _slotted(cls) if _plain(cls) else _by_library(cls)
        for name, shared in _shared(built, frozen=frozen).items():
            if name not in own:
                setattr(built, name, shared)
        return built

    return made


_by_library = dataclasses.dataclass(init=False, repr=False, eq=False, slots=True)


@_by_library
class _Model:
    """What the library makes of a class: its own marks are taken from here."""

    one: int


_ONE: Any = fields(cast("Any", _Model))[0]
_KIND = _ONE._field_type
_MARKS = {"__dataclass_params__": vars(_Model)["__dataclass_params__"]}
_NO_FIELD = ("ClassVar", "InitVar", "KW_ONLY", "typing.", "dataclasses.")


def _plain(cls: type[Any]) -> bool:
    """Whether every annotation of a class is a field, and no other class has a say in it."""
    body = dict(cls.__dict__)
    given = body.get("__annotations__", {}).values()
    return cls.__bases__ == (object,) and not any(
        not isinstance(a, str) or a.startswith(_NO_FIELD) for a in given
    )


def _slotted(cls: type[T]) -> type[T]:
    """The class with slots for its fields, and marked as the library marks them."""
    body = {k: v for k, v in cls.__dict__.items() if k not in ("__dict__", "__weakref__")}
    given = body.get("__annotations__", {})
    found = {name: _field(name, kind, body.pop(name, MISSING)) for name, kind in given.items()}
    names = {"__slots__": tuple(found), "__match_args__": _places(found.values())}
    built: Any = type(cls.__name__, (), {**body, **_MARKS, **names, "__dataclass_fields__": found})
    built.__qualname__ = cls.__qualname__
    return cast("type[T]", built)


def _places(found: Iterable[Field[Any]]) -> tuple[str, ...]:
    """What a pattern may give by place."""
    return tuple(f.name for f in found if f.init and not f.kw_only)


def _field(name: str, kind: object, default: Any) -> Field[Any]:
    """One field, from its annotation and what the class sets it to."""
    made: Any = default if isinstance(default, dataclasses.Field) else field(default=default)
    if made.default.__class__.__hash__ is None:
        raise ValueError(f"a default that can change, of {name}: use default_factory")
    made.name, made.type, made._field_type = name, kind, _KIND
    if made.kw_only is MISSING:
        made.kw_only = False
    return cast("Field[Any]", made)


def _shared(cls: type[Any], *, frozen: bool) -> dict[str, object]:
    """The methods of a class that are not its own."""
    values = _values([f.name for f in fields(cls) if f.compare])

    def same(self: object, other: object) -> bool:
        return (
            values(self) == values(other) if other.__class__ is self.__class__ else NotImplemented
        )

    def digest(self: object) -> int:
        return hash(values(self))

    both = {"__init__": _constructor(cls), "__eq__": same, "__repr__": _told}
    if not frozen:
        return {**both, "__hash__": None}
    kept = {"__getstate__": _state, "__setstate__": _restored}
    return {**both, **kept, "__hash__": digest, "__setattr__": _kept, "__delattr__": _kept}


def _values(names: list[str]) -> Values:
    """The values of some fields, as a tuple."""
    if len(names) > 1:
        return attrgetter(*names)
    return lambda record: tuple(getattr(record, name) for name in names)


def _constructor(cls: type[Any]) -> object:
    """``__init__``: each field is set past the ban on setting. Compiled once for all of a shape."""
    every = fields(cls)
    anew = [f.default_factory is not MISSING for f in every]
    shape = tuple(
        (f.init, f.kw_only, m, f.init or _has(f)) for f, m in zip(every, anew, strict=True)
    )
    code = _compiled(shape, hasattr(cls, "__post_init__"))
    names = {f"f{k}": f.name for k, f in enumerate(every)}
    code = code.replace(
        co_varnames=tuple(names.get(name, name) for name in code.co_varnames),
        co_consts=tuple(names.get(c, c) if isinstance(c, str) else c for c in code.co_consts),
    )
    known: dict[str, object] = {"_set": object.__setattr__, "_factory": _FACTORY}
    for k, f in enumerate(every):
        if anew[k]:
            known[f"_made{k}"] = f.default_factory
        elif not f.init:
            known[f"_default{k}"] = f.default
    given = [f for f in every if f.init and not f.kw_only and _has(f)]
    init: Any = FunctionType(code, known, "__init__", tuple(_start(f) for f in given))
    init.__kwdefaults__ = {f.name: _start(f) for f in every if f.init and f.kw_only and _has(f)}
    init.__qualname__, init.__module__ = f"{cls.__qualname__}.__init__", cls.__module__
    init.__annotations__ = {f.name: f.type for f in every if f.init} | {"return": None}
    return init


@cache
def _compiled(shape: tuple[tuple[bool, bool, bool, bool], ...], after: bool) -> CodeType:
    """The code of a constructor whose fields are called f0, f1 and so on.

    ``shape`` says of each whether it is given, by keyword alone, made anew, and set at all.
    """
    given, named, body = ["self"], ["*"], list[str]()
    for k, (init, keyword, made, starts) in enumerate(shape):
        value = f"_made{k}()" if made else f"_default{k}"
        if init:
            (named if keyword else given).append(f"f{k}")
            value = f"{value} if f{k} is _factory else f{k}" if made else f"f{k}"
        if starts:
            body.append(f"_set(self, 'f{k}', {value})")
    if after:
        body.append("self.__post_init__()")
    heads = ", ".join([*given, *(named if len(named) > 1 else [])])
    scope: dict[str, Any] = {}
    exec(f"def __init__({heads}):\n " + "\n ".join(body or ["pass"]), scope)
    code: CodeType = scope["__init__"].__code__
    return code


def _has(f: Field[Any]) -> bool:
    """Whether a field may be left out."""
    return f.default is not MISSING or f.default_factory is not MISSING


def _start(f: Field[Any]) -> object:
    """What stands in the signature of a field that may be left out."""
    return _FACTORY if f.default_factory is not MISSING else f.default


def _told(self: Any) -> str:
    said = ", ".join(f"{f.name}={getattr(self, f.name)!r}" for f in fields(self) if f.repr)
    return f"{type(self).__qualname__}({said})"


def _kept(self: object, name: str, *_value: object) -> None:  # noqa: ARG001 - as __setattr__
    raise FrozenInstanceError(f"cannot change field {name!r}")


def _state(self: Any) -> list[object]:
    return [getattr(self, f.name) for f in fields(self)]


def _restored(self: Any, state: list[object]) -> None:
    for f, value in zip(fields(self), state, strict=True):
        object.__setattr__(self, f.name, value)
