"""The changes are the right ones; the record is of families there are."""

from __future__ import annotations

import ast
import importlib
import sys
from typing import TYPE_CHECKING

import pytest
from tests.mutation import study
from tests.mutation.__main__ import elsewhere
from tests.mutation.keeping import kept, uses
from tests.mutation.sites import sites
from tests.mutation.swapping import functions, swap_code, swap_limits

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

TEXT = '''
LIMIT = Threshold("limit", 60.0, "V", PRACTICE)
STOCK = (1.0, 2.0)


def judge(x):
    """No 1 < 2 in here."""
    return -x if 0 < x <= LIMIT.value and x is not None and x not in STOCK else x
'''


def test_limits_go_up_and_down_by_a_tenth_and_nothing_else_at_module_level() -> None:
    made = [(s.line, s.new) for s in sites(TEXT) if s.kind == "limit"]
    assert made == [(2, "54.0"), (2, "66.0")]


def test_each_comparison_and_sign_is_turned_once() -> None:
    turned = [s.changed(TEXT).splitlines()[7].strip() for s in sites(TEXT) if s.kind != "limit"]
    rest = "LIMIT.value and x is not None and x not in STOCK else x"
    assert turned == [
        f"return x if 0 < x <= {rest}",
        f"return -x if 0 >= x <= {rest}",
        f"return -x if 0 < x > {rest}",
        "return -x if 0 < x <= LIMIT.value and x is None and x not in STOCK else x",
        "return -x if 0 < x <= LIMIT.value and x is not None and x in STOCK else x",
    ]


@pytest.mark.parametrize("family", study.FAMILIES)
def test_every_change_of_a_family_is_still_a_module(family: str) -> None:
    made = list(study.mutants((family,)))
    assert made
    texts = {m.module: (study.RULES / family / m.module).read_text("utf-8") for m in made}
    for mutant in made:
        changed = mutant.site.changed(texts[mutant.module])
        assert changed != texts[mutant.module]
        ast.parse(changed)


@pytest.mark.parametrize("family", study.FAMILIES)
def test_what_is_called_equivalent_is_still_there_and_has_a_reason(family: str) -> None:
    made = {m.name for m in study.mutants((family,))}
    named = study.equivalent().get(family, {})
    assert set(named) <= made
    assert all(len(why.split()) > 3 for why in named.values())
    assert not set(named) & set(study.survived(family))


def test_families_called_equivalent_are_families() -> None:
    assert set(study.equivalent()) <= set(study.FAMILIES)


MODULE = """
from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE

LIMIT = Threshold("invented", 10.0, "V", PRACTICE)
ABOVE = {"it": lambda x: x > LIMIT.value}


class Judge:
    @property
    def negative(self):
        return -1


def outer(xs):
    def key(x):
        return -x
    return sorted(xs, key=key)


def kept(low):
    def inside(x):
        return x > low
    return inside


OVER_TWO = kept(2)
"""


@pytest.fixture(name="module")
def fixture_module(tmp_path: Path, monkeypatch) -> ModuleType:
    path = tmp_path / "invented_rule.py"
    path.write_text(MODULE, "utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.delitem(sys.modules, "invented_rule", raising=False)
    return importlib.import_module("invented_rule")


def test_every_function_gets_the_changed_code(module: ModuleType) -> None:
    """Methods, functions in tables, in functions, and those that a call has left behind."""
    said = lambda: (  # noqa: E731
        *(
            module.Judge().negative,
            module.outer([1, 2]),
            module.ABOVE["it"](11),
            module.OVER_TWO(3),
        ),
    )
    assert said() == (-1, [2, 1], True, True)
    known = functions(module)
    for site in (s for s in sites(MODULE) if s.kind != "limit"):
        swap_code(module, known, MODULE, site.changed(MODULE))
        assert said() != (-1, [2, 1], True, True)
        swap_code(module, known, site.changed(MODULE), MODULE)
        assert said() == (-1, [2, 1], True, True)


def test_a_module_that_is_not_as_its_text_cannot_be_changed(module: ModuleType) -> None:
    (site, *_) = [s for s in sites(MODULE) if s.kind != "limit"]
    moved = f"\n{MODULE}"
    with pytest.raises(RuntimeError, match="invented_rule is not as its file says"):
        swap_code(module, functions(module), moved, site.changed(moved))


def test_a_changed_limit_is_put_wherever_it_is_held(module: ModuleType, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "coldcheck.invented", module)
    monkeypatch.setattr(study, "HELD", {"a": module.LIMIT}, raising=False)
    (up, *_) = [s for s in sites(MODULE) if s.new == "11.0"]
    swap_limits(module, up.changed(MODULE), up.line)
    assert (module.LIMIT.value, study.HELD["a"].value) == (11.0, 11.0)
    assert not module.ABOVE["it"](10.5)


def test_what_was_asked_is_kept_and_what_a_module_uses_is_known() -> None:
    asked = []
    once = kept(lambda x: asked.append(x) or object())
    thing: list[int] = []
    assert once(thing) is once(thing)
    assert once("a") is not once("b")
    assert len(asked) == 3
    assert "coldcheck.rules.touch.shock" in uses("coldcheck.rules.touch.terminal")
    assert "coldcheck.rules.touch.terminal" not in uses("coldcheck.rules.touch.shock")


def test_a_module_recorded_leaves_what_is_of_others(monkeypatch) -> None:
    made = list(study.mutants(("grid",)))
    one, other = made[0], next(m for m in made if m.module != made[0].module)
    names = [one.name, other.name, "gone.py: and not made any more"]
    monkeypatch.setattr(study, "survived", lambda _: names)
    assert elsewhere("grid", made, one.module) == [other.name]
    assert elsewhere("grid", made, None) == []


def test_the_record_is_of_families_there_are(tmp_path: Path, monkeypatch) -> None:
    assert set(study.recorded()) <= set(study.FAMILIES)
    monkeypatch.setattr(study, "RECORDED", tmp_path / "recorded.toml")
    study.record({"grid": {"made": 2, "survived": ['a "b" \\ c']}})
    study.record({"tube": {"made": 1, "survived": []}})
    assert study.recorded()["grid"] == {"made": 2, "survived": ['a "b" \\ c']}
    assert set(study.recorded()) == {"grid", "tube"}
