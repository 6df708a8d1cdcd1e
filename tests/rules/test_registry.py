"""The list of rules against the folder, and every rule's documentation."""

from __future__ import annotations

import importlib
import pkgutil

import pytest

import coldcheck.rules
from coldcheck.rules.check import faults_of
from coldcheck.rules.model import Case
from coldcheck.rules.registry import FAMILIES, RULES, rule_by_id

NAMES = [r.id for r in RULES]
LISTS = ("registry", "engine")


def test_families_are_the_modules_that_have_rules() -> None:
    found = set()
    for info in pkgutil.iter_modules(coldcheck.rules.__path__):
        module = importlib.import_module(f"coldcheck.rules.{info.name}")
        # A large family is spread over modules named after it: heater_stress, tube_ratings.
        if hasattr(module, "RULES") and "_" not in info.name and info.name not in LISTS:
            found.add(module.__name__)
    assert found == {f.__name__ for f in FAMILIES}


def test_every_rule_object_in_the_folder_is_listed() -> None:
    from coldcheck.rules.model import Rule

    found = set()
    for info in pkgutil.iter_modules(coldcheck.rules.__path__):
        module = importlib.import_module(f"coldcheck.rules.{info.name}")
        found |= {v.id for v in vars(module).values() if isinstance(v, Rule)}
    assert found == set(NAMES)


def test_identifiers_are_unique_and_belong_to_their_family() -> None:
    assert len(set(NAMES)) == len(NAMES)
    for family in FAMILIES:
        name = family.__name__.rpartition(".")[2]
        assert {r.family for r in family.RULES} == {name}


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
