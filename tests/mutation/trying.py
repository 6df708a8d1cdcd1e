"""Temporary."""

from __future__ import annotations

import os
import signal
import sys
from importlib import import_module
from typing import TYPE_CHECKING, NoReturn

import pytest
from tests.mutation.keeping import Outcomes, keep
from tests.mutation.study import ROOT, RULE, RULES, Mutant
from tests.mutation.swapping import functions, swap_code, swap_limits

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import FunctionType, ModuleType

OPTIONS = ("-q", "-s", "-p", "no:cacheprovider", "-p", "no:randomly", "-p", "no:xdist")
MOST_SECONDS = 120
NOT_MADE = 3


class Family:
    """A plugin of pytest: once the tests of a family are collected and pass, tries the changes."""

    def __init__(
        self, name: str, mutants: list[Mutant], told: Callable[[Mutant, bool], None]
    ) -> None:
        self.name, self.mutants, self.told = name, mutants, told
        self.failed: list[str] = []
        self._outcomes: Outcomes = keep()
        self._modules: dict[str, tuple[ModuleType, list[FunctionType]]] = {}

    def run(self) -> None:
        """In this process, which is of no further use."""
        files = (f"rules/{self.name}", "rules/test_told.py", "rules/test_thresholds.py")
        paths = [str(ROOT / "tests" / f) for f in (*files, "verdict/test_pairs.py")]
        pytest.main([*OPTIONS, *paths], plugins=[self])

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = [i for i in items if self._is_near(i)]

    def _is_near(self, item: pytest.Item) -> bool:
        if item.path.parent.name == self.name:
            return True
        wanted = ("test_what_a_wrong", "test_right_is_clean", "as_it_stands")
        return f"[{self.name}." in item.name and any(w in item.name for w in wanted)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.append(report.nodeid)

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = session.items
        self._pass(items)
        if self.failed:
            raise RuntimeError(f"with nothing changed: {self.failed}")
        for name in {m.module for m in self.mutants}:
            path = RULES / self.name / name
            module = import_module(f"coldcheck.rules.{self.name}.{path.stem}")
            self._modules[name] = module, functions(module)
        for mutant in self.mutants:
            self.told(mutant, self._survives(mutant, items))
        return True

    def _pass(self, items: list[pytest.Item]) -> bool:
        """Run tests until one fails; session fixtures are made anew."""
        for item, after in zip(items, [*items[1:], None], strict=True):
            item._initrequest()
            item.ihook.pytest_runtest_protocol(item=item, nextitem=after)
            if self.failed:
                return False
        return True

    def _survives(self, mutant: Mutant, items: list[pytest.Item]) -> bool:
        child = os.fork()
        if child == 0:
            self._tried(mutant, items)
        _, status = os.waitpid(child, 0)
        code = os.waitstatus_to_exitcode(status)
        if code == NOT_MADE:
            raise RuntimeError(f"{mutant.name} could not be made")
        return code == 0  # one that never ends is noticed as well

    def _tried(self, mutant: Mutant, items: list[pytest.Item]) -> NoReturn:
        code = NOT_MADE
        try:
            signal.alarm(MOST_SECONDS)
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            os.dup2(1, 2)
            text = (RULES / self.name / mutant.module).read_text("utf-8")
            self._change(mutant, text)
            code = 1
            code = 0 if self._pass(self._nearest_first(mutant, text, items)) else 1
        finally:
            os._exit(code)

    def _change(self, mutant: Mutant, text: str) -> None:
        module, known = self._modules[mutant.module]
        self._outcomes.changed = module.__name__
        if mutant.site.kind == "limit":
            swap_limits(module, mutant.site.changed(text), mutant.site.line)
        else:
            swap_code(module, known, text, mutant.site.changed(text))

    def _nearest_first(
        self, mutant: Mutant, text: str, items: list[pytest.Item]
    ) -> list[pytest.Item]:
        own, rules = f"test_{mutant.module}", RULE.findall(text)
        return sorted(
            items, key=lambda i: (i.path.name != own, not any(r in i.name for r in rules))
        )


def main() -> None:
    from tests.mutation.study import mutants

    family = sys.argv[1]
    out = os.fdopen(os.dup(1), "w")
    left = []

    def told(m: Mutant, s: bool) -> None:
        if s:
            left.append(m)
            print(m.name, file=out, flush=True)

    some = [
        m for m in mutants((family,)) if not sys.argv[2:] or any(a in m.name for a in sys.argv[2:])
    ]
    Family(family, some, told).run()
    print(f"{family}: {len(left)} of {len(some)}", file=out, flush=True)


if __name__ == "__main__":
    main()
