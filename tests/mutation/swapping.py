"""A change put into a module that is imported: the code of its functions, its thresholds."""

from __future__ import annotations

import ast
import gc
import sys
from types import CodeType, FunctionType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import ModuleType


def functions(module: ModuleType) -> list[FunctionType]:
    """Those whose code is in a module, also in a rule, a class or a table."""
    found = (f for f in gc.get_objects() if type(f) is FunctionType)
    return [f for f in found if f.__code__.co_filename == module.__file__]


def swap_code(module: ModuleType, known: list[FunctionType], text: str, changed: str) -> None:
    """Give each function the code it has in the changed text."""
    pairs = zip(_codes(module, text), _codes(module, changed), strict=True)
    new = {was: becomes for was, becomes in pairs if was != becomes}
    old = [f for f in known if f.__code__ in new]
    if not old:
        raise RuntimeError(f"{module.__name__} is not as its file says")
    for function in old:
        function.__code__ = new[function.__code__]


def _codes(module: ModuleType, text: str) -> Iterator[CodeType]:
    yield from _within(compile(text, str(module.__file__), "exec", dont_inherit=True))


def _within(code: CodeType) -> Iterator[CodeType]:
    for const in code.co_consts:
        if isinstance(const, CodeType):
            yield const
            yield from _within(const)


def swap_limits(module: ModuleType, text: str, line: int) -> None:
    """Do the statement at a line of the changed text over, and put what it makes everywhere."""
    (statement,) = [
        s
        for s in ast.parse(text).body
        if isinstance(s, ast.Assign) and s.lineno <= line <= (s.end_lineno or s.lineno)
    ]
    names = {n.id for t in statement.targets for n in ast.walk(t) if isinstance(n, ast.Name)}
    old = {id(vars(module)[n]): n for n in names}
    space = dict(vars(module))
    exec(compile(ast.Module([statement], []), str(module.__file__), "exec"), space)
    for holder in _holders():
        for key, value in list(holder.items()):
            if id(value) in old:
                holder[key] = space[old[id(value)]]


def _holders() -> Iterator[dict]:
    """The names of every module of the project, and the tables among them."""
    spaces = [vars(m) for n, m in list(sys.modules.items()) if n.startswith(("coldcheck", "tests"))]
    yield from {
        id(t): t for s in spaces for t in (s, *(v for v in s.values() if type(v) is dict))
    }.values()
