"""Tube data of a project: the checks that keep a readable file from failing in the solver."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.circuit.tubes import DATA, DataProblem, known_types, load_type, tube_type
from coldcheck.circuit.tubes_checks import LAW_PARAMETERS, electrodes
from coldcheck.circuit.tubes_folder import data_files, read_files
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.solve.tubes.laws import amplifying_law

OWN = (DATA / "12AX7.toml").read_text("utf-8").replace('"12AX7"', '"HOUSE"')
ALSO = 'also = ["ECC83", "7025", "12AX7A", "12AX7WA"]'


def written(folder: Path, **files: str) -> list[Path]:
    for name, text in files.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return data_files(folder)


def test_types_are_found_by_every_accepted_name(tmp_path: Path) -> None:
    types, problems = read_files(written(tmp_path, HOUSE=OWN.replace(ALSO, 'also = ["old-one"]')))
    assert not problems
    assert set(types) == {"HOUSE", "OLDONE"}
    assert types["OLDONE"] is types["HOUSE"]
    assert types["HOUSE"].rating("plate-voltage").value == 300


def test_all_problems_of_all_files_are_told_with_file_and_key(tmp_path: Path) -> None:
    bad = OWN.replace('group = "amplifying"', 'group = "lamps"')
    files = written(tmp_path, HOUSE=OWN, A=bad, B="name = ", C=OWN, HOUSE2=OWN)
    types, problems = read_files(files)
    told = {(Path(p.origin).name, p.key) for p in problems}
    assert told == {("A.toml", "group"), ("B.toml", "(file)"), ("C.toml", "name"),
                    ("HOUSE2.toml", "name")}  # fmt: skip
    assert "HOUSE" in types


def test_a_name_claimed_twice_and_a_file_that_is_no_text(tmp_path: Path) -> None:
    files = written(tmp_path, HOUSE=OWN, OTHER=OWN.replace('"HOUSE"', '"OTHER"'))
    (tmp_path / "LATIN.toml").write_bytes(b'name = "\xe9"')
    _, problems = read_files([*files, tmp_path / "LATIN.toml"])
    assert {(Path(p.origin).name, p.key) for p in problems} == {
        ("OTHER.toml", "also"), ("LATIN.toml", "(file)")}  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("tail-part = ", "tail-share = ", "section A.law.parameters"),
        ('form = "triode"', 'form = "rectifier"', "section A.law.form"),
        ('7 = "A.grid"', '7 = "nc"', "pins"),
        ('8 = "A.cathode"', '8 = "nc"', "pins"),
        ('4 = "h1"', '4 = "nc"', "pins"),
        ('9 = "tap"', '9 = "nc"', "pins"),
        ('names = ["A", "B"]', 'names = "AB"', "section 1.names"),
        ('rating-system = "design-centre"', "rating-system = 7", "rating-system"),
        ('kind = "triode"', 'kind = "pentode"', "pins"),
    ],
)
def test_what_would_only_fail_in_the_solver_is_refused(old: str, new: str, key: str) -> None:
    assert old in OWN
    with pytest.raises(DataProblem) as caught:
        load_type(OWN.replace(old, new), "HOUSE.toml")
    assert caught.value.key == key


@pytest.mark.parametrize("form", LAW_PARAMETERS)
def test_the_parameters_asked_for_are_those_the_laws_read(form: str) -> None:
    """Each form's list is enough for the law, and none of it can be left out."""
    whole = dict.fromkeys(LAW_PARAMETERS[form], 1.0)
    if form in ("rectifier", "regulator"):
        return _one_way(form)
    law = amplifying_law(form, whole)
    assert law is not None
    assert set(law.electrodes) - {"grid3"} <= set(electrodes(SectionKind(form)))
    for name in whole:
        with pytest.raises(KeyError):
            amplifying_law(form, {k: v for k, v in whole.items() if k != name})
    return None


def _one_way(form: str) -> None:
    kinds = [tube_type(n) for n in known_types()]
    sections = [s for k in kinds for s in k.sections if s.law and s.law.form == form]
    assert sections
    for section in sections:
        assert set(section.law.parameters) == set(LAW_PARAMETERS[form])


ODD = st.one_of(
    st.none(), st.booleans(), st.integers(-3, 3), st.floats(), st.text(max_size=3),
    st.lists(st.one_of(st.integers(), st.text(max_size=2), st.lists(st.text(max_size=1)))),
    st.dictionaries(st.sampled_from(["value", "unit", "source", "x"]), st.integers(), max_size=2),
)  # fmt: skip


def places(data: Any, here: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inside = data.items() if isinstance(data, dict) else enumerate(data)
    found = []
    for key, value in inside:
        found.append((*here, key))
        if isinstance(value, (dict, list)):
            found += places(value, (*here, key))
    return found


PLACES = {n: places(tomllib.loads((DATA / f"{n}.toml").read_text("utf-8")))
          for n in ("12AX7", "0D3", "5AR4", "6V6GT")}  # fmt: skip


@given(data=st.data())
@settings(max_examples=300)
def test_whatever_stands_in_a_file_it_is_read_or_refused(data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(sorted(PLACES)))
    where = data.draw(st.sampled_from(PLACES[name]))
    value = data.draw(ODD)
    tree = tomllib.loads((DATA / f"{name}.toml").read_text("utf-8"))
    at = tree
    for key in where[:-1]:
        at = at[key]
    if value is None and isinstance(at, dict):
        del at[where[-1]]
    else:
        at[where[-1]] = value
    with patch("coldcheck.circuit.tubes_parse.tables", lambda _text: tree):
        refused = _refusal()
    assert refused is None or (refused.key and refused.reason)


def _refusal() -> DataProblem | None:
    try:
        load_type("", "x.toml")
    except DataProblem as problem:
        return problem
    return None
