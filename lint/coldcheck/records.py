"""``dataclass`` as the standard library's, for slotted classes made at a third of its cost.

A review loads two hundred of them before it has read anything. The library compiles up to seven
functions for each, a tenth of the time a small review takes; here one is compiled, the constructor,
and all classes share the others. What it analyses (:func:`dataclasses.fields`, ``replace``,
``__match_args__``) is left to it, and so is every form that is not just frozen or slotted.
"""

from __future__ import annotations

import dataclasses
from dataclasses import MISSING, FrozenInstanceError, field, fields
from operator import attrgetter
from typing import TYPE_CHECKING, Any, TypeVar, dataclass_transform

if TYPE_CHECKING:
    from collections.abc import Callable

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
        built = dataclasses.dataclass(init=False, repr=False, eq=False, slots=True)(cls)
        for name, shared in _shared(built, frozen=frozen).items():
            if name not in own:
                setattr(built, name, shared)
        return built

    return made


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
    """``__init__``, compiled: each field is set past the ban on setting."""
    known: dict[str, object] = {"_set": object.__setattr__, "_factory": _FACTORY}
    given, named, body = ["self"], ["*"], []
    for f in fields(cls):
        made, default = f"_made_{f.name}()", f"_default_{f.name}"
        known[f"_made_{f.name}"], known[default] = f.default_factory, f.default
        value, start = f.name, f.name
        if f.default_factory is not MISSING:
            value = f"{made} if {f.name} is _factory else {f.name}" if f.init else made
            start = f"{f.name}=_factory"
        elif f.default is not MISSING:
            value, start = f.name if f.init else default, f"{f.name}={default}"
        elif not f.init:
            continue
        body.append(f"_set(self, {f.name!r}, {value})")
        if f.init:
            (named if f.kw_only else given).append(start)
    if hasattr(cls, "__post_init__"):
        body.append("self.__post_init__()")
    heads = ", ".join([*given, *(named if len(named) > 1 else [])])
    exec(f"def __init__({heads}):\n " + "\n ".join(body or ["pass"]), known)
    init: Any = known["__init__"]
    init.__qualname__, init.__module__ = f"{cls.__qualname__}.__init__", cls.__module__
    init.__annotations__ = {f.name: f.type for f in fields(cls) if f.init} | {"return": None}
    return init


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
