"""Each change in a fork of a process that has run the family's tests: the first to fail ends it."""

from __future__ import annotations

import os
import resource
from importlib import import_module
from typing import TYPE_CHECKING, NoReturn

import pytest
from tests.mutation.keeping import keep
from tests.mutation.study import ROOT, RULE, RULES
from tests.mutation.swapping import functions, swap_code, swap_limits

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import FunctionType, ModuleType

    from tests.mutation.study import Mutant

OFF = ("cacheprovider", "randomly", "xdist", "terminal")
OPTIONS = ("-s", *(word for name in OFF for word in ("-p", f"no:{name}")))
SHARED = ("rules/test_told.py", "rules/test_thresholds.py", "verdict/test_pairs.py")
WANTED = ("test_what_a_wrong_drawing_is_told", "as_it_stands", "test_right_is_clean")
"""Of the tests that look at every rule; what they say of a wrong drawing is in the first."""

MOST_SECONDS = 120
"""Of computing: on a busy machine a change that goes unnoticed may well take longer by the clock,
and would count as noticed."""

NOT_MADE = 3


class Family:
    """A plugin of pytest: when the tests of a family are collected and pass, tries the changes.

    ``left`` are those that no test notices. The process is of no other use afterwards.
    """

    def __init__(self, name: str, mutants: list[Mutant]) -> None:
        self.name, self.mutants = name, mutants
        self.left: list[str] = []
        self._failed: list[str] = []
        self._told: Callable[[str], None] = print
        self._outcomes = keep()
        self._modules: dict[str, tuple[ModuleType, list[FunctionType]]] = {}

    def run(self, told: Callable[[str], None]) -> None:
        """Try every change; ``told`` is given each that is left."""
        self._told = told
        paths = [ROOT / "tests" / name for name in (f"rules/{self.name}", *SHARED)]
        code = pytest.main([*OPTIONS, *map(str, paths)], plugins=[self])
        if code or self._failed:
            raise RuntimeError(f"{self.name}: {code!r}, with nothing changed {self._failed}")

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Keep what is near the family."""
        items[:] = [i for i in items if i.path.parent.name == self.name or self._of_a_rule(i)]

    def _of_a_rule(self, item: pytest.Item) -> bool:
        return f"[{self.name}." in item.name and any(w in item.name for w in WANTED)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """What fails, in this process or in a fork."""
        if report.failed:
            self._failed.append(f"{report.nodeid}: {report.longreprtext}")

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """In place of running the tests once."""
        if self._passes(session.items) and self._survives(None, session.items):
            self._modules = {m.module: self._module(m.module) for m in self.mutants}
            for mutant in self.mutants:
                if self._survives(mutant, session.items):
                    self.left.append(mutant.name)
                    self._told(mutant.name)
        return True

    def _module(self, file: str) -> tuple[ModuleType, list[FunctionType]]:
        module = import_module(f"coldcheck.rules.{self.name}.{file.removesuffix('.py')}")
        return module, functions(module)

    def _passes(self, items: list[pytest.Item]) -> bool:
        """Run tests until one fails; what they share is made anew."""
        for item, after in zip(items, [*items[1:], None], strict=True):
            item._initrequest()
            item.ihook.pytest_runtest_protocol(item=item, nextitem=after)
            if self._failed:
                return False
        return True

    def _survives(self, mutant: Mutant | None, items: list[pytest.Item]) -> bool:
        child = os.fork()
        if child == 0:
            self._tried(mutant, items)
        _, status = os.waitpid(child, 0)
        code = os.waitstatus_to_exitcode(status)
        if code == NOT_MADE or (mutant is None and code):
            what = "a second run" if mutant is None else mutant.name
            raise RuntimeError(f"{what} could not be made")
        return code == 0  # one that never ends is noticed as well

    def _tried(self, mutant: Mutant | None, items: list[pytest.Item]) -> NoReturn:
        """In the fork: change, run, end; nothing of the parent is undone."""
        code = NOT_MADE
        try:
            resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            os.dup2(1, 2)
            ordered = items if mutant is None else self._changed(mutant, items)
            code = 1
            code = 0 if self._passes(ordered) else 1
        finally:
            os._exit(code)

    def _changed(self, mutant: Mutant, items: list[pytest.Item]) -> list[pytest.Item]:
        """Put the change in; the tests, the nearest first."""
        module, known = self._modules[mutant.module]
        text = (RULES / self.name / mutant.module).read_text("utf-8")
        self._outcomes.changed = module.__name__
        if mutant.site.kind == "limit":
            swap_limits(module, mutant.site.changed(text), mutant.site.line)
        else:
            swap_code(module, known, text, mutant.site.changed(text))
        own, rules = f"test_{mutant.module}", RULE.findall(text)
        return sorted(
            items, key=lambda i: (i.path.name != own, not any(r in i.name for r in rules))
        )
