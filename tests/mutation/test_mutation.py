"""The changes are the right ones; the record is of families there are."""

from __future__ import annotations

import ast
from typing import TYPE_CHECKING

import pytest
from tests.mutation import study
from tests.mutation.sites import sites

if TYPE_CHECKING:
    from pathlib import Path

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


def test_the_record_is_of_families_there_are(tmp_path: Path, monkeypatch) -> None:
    assert set(study.recorded()) <= set(study.FAMILIES)
    monkeypatch.setattr(study, "RECORDED", tmp_path / "recorded.toml")
    study.record({"grid": {"made": 2, "survived": ['a "b" \\ c']}})
    study.record({"tube": {"made": 1, "survived": []}})
    assert study.recorded()["grid"] == {"made": 2, "survived": ['a "b" \\ c']}
    assert set(study.recorded()) == {"grid", "tube"}
