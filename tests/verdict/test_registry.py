"""The list of rules against the folder, and every rule's documentation."""

from __future__ import annotations

import importlib
import pkgutil
from typing import TYPE_CHECKING

import pytest

import coldcheck.rules
from coldcheck.anatomy.case import Case
from coldcheck.judge.rule import Rule
from coldcheck.verdict.check import faults_of
from coldcheck.verdict.registry import MODULES, RULES, rule_by_id

if TYPE_CHECKING:
    from types import ModuleType

NAMES = [r.id for r in RULES]


def modules() -> list[ModuleType]:
    found = pkgutil.walk_packages(coldcheck.rules.__path__, "coldcheck.rules.")
    return [importlib.import_module(i.name) for i in found if not i.ispkg]


def test_modules_that_have_rules_are_listed() -> None:
    assert {m.__name__ for m in modules() if hasattr(m, "RULES")} == {m.__name__ for m in MODULES}


def test_every_rule_object_in_the_folder_is_listed() -> None:
    found = {v.id for m in modules() for v in vars(m).values() if isinstance(v, Rule)}
    assert found == set(NAMES)


def test_identifiers_are_unique_and_belong_to_their_family() -> None:
    assert len(set(NAMES)) == len(NAMES)
    for module in MODULES:
        assert {r.family for r in module.RULES} == {module.__name__.split(".")[2]}


@pytest.mark.parametrize("name", NAMES)
def test_identifier_and_documentation_are_complete(name: str) -> None:
    assert faults_of(rule_by_id(name)) == []


def test_unknown_rule_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        rule_by_id("heater.nothing")


def test_case_gives_solved_states_by_kind(review) -> None:  # type: ignore[no-untyped-def]
    looked = review("B1 --+[E1 100 V]-- gnd\nB1 --[R1 10k 5 W]-- gnd\n")
    case = Case(looked.circuit, looked.solutions)
    assert [s.state.name for s in case.solved("warm")] == ["warm"]
    assert case.warm.wave("B1").dc == pytest.approx(100, rel=1e-6)
