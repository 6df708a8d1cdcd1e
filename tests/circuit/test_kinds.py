"""The table of kinds says one thing only, and a kind that is added is asked after everywhere."""

from __future__ import annotations

import ast
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import coldcheck
from coldcheck.circuit.kinds import TRAITS, Contact, Holds, Ohms, Passage, Stamp, Suffers
from coldcheck.drawing.kinds import FORMS, PartKind
from coldcheck.solve.faults.fault import KINDS as FAULTS

SOURCE = Path(coldcheck.__file__).parent
ROOT = Path(__file__).parents[2]
EVERY = pytest.mark.parametrize("kind", PartKind)
ONE_WAY = (Stamp.JUNCTION, Stamp.THRESHOLD, Stamp.ZENER)


def test_every_kind_has_its_traits_and_every_kind_can_be_solved() -> None:
    assert list(TRAITS) == list(PartKind)
    assert Stamp.UNSOLVED not in {t.stamp for t in TRAITS.values()}


@EVERY
def test_what_conducts_like_metal_has_a_resistance_and_what_blocks_has_none(kind: PartKind) -> None:
    traits = TRAITS[kind]
    assert (traits.passage in (Passage.METAL, Passage.DRIVES)) == (traits.ohms is not Ohms.ABSENT)
    assert traits.one_way == (traits.stamp in ONE_WAY)


@EVERY
def test_a_contact_is_thrown_and_holds_a_net_only_when_closed(kind: PartKind) -> None:
    traits = TRAITS[kind]
    contact = traits.contact is not Contact.NONE
    assert contact == (Suffers.THROWN in traits.suffers)
    assert not contact or (traits.holds is Holds.CLOSED and traits.ohms is Ohms.NIL)


@EVERY
def test_a_value_that_is_needed_is_the_one_the_bracket_asks_for(kind: PartKind) -> None:
    traits = TRAITS[kind]
    assert not traits.needs_value or traits.unit is not None
    form = FORMS.get(kind)
    if form is not None and form.needs_value and traits.unit is not None:
        assert form.main == traits.unit


def test_what_a_part_can_suffer_the_solver_knows() -> None:
    assert {s.value for s in Suffers} <= set(FAULTS)


def test_parts_with_a_direction_are_drawn_with_one() -> None:
    assert {k for k, f in FORMS.items() if f.arrow} == {k for k, t in TRAITS.items() if t.one_way}


def _deciding(file: Path) -> set[str]:
    """Functions of a file that end a match over the kinds of parts with ``assert_never``."""
    found = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef):
            text = ast.unparse(node)
            if "assert_never" in text and "case PartKind." in text.replace("(PartKind", "PartKind"):
                found.add(f"{file.relative_to(SOURCE.parent).as_posix()}:{node.name}")
    return found


def _function_at(file: Path, line: int) -> str:
    tree = ast.parse(file.read_text(encoding="utf-8"))
    inside = [
        n for n in ast.walk(tree)
        if isinstance(n, ast.FunctionDef) and n.lineno <= line <= (n.end_lineno or n.lineno)
    ]  # fmt: skip
    return max(inside, key=lambda n: n.lineno).name


def test_the_type_checker_names_every_place_that_has_to_decide_on_a_new_kind(
    tmp_path: Path,
) -> None:
    """Add a member to a copy, and hold what mypy reports against every match there is."""
    copy = tmp_path / "coldcheck"
    shutil.copytree(SOURCE, copy, ignore=shutil.ignore_patterns("__pycache__", "*.toml"))
    kinds = copy / "drawing" / "kinds.py"
    text = kinds.read_text(encoding="utf-8")
    grown = text.replace('    SIGNAL = "signal"\n', '    SIGNAL = "signal"\n    NEW = "new"\n')
    assert grown != text
    kinds.write_text(grown, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--config-file", str(ROOT / "pyproject.toml"),
         "--no-error-summary", "--cache-dir", str(tmp_path / "cache"), str(copy)],
        capture_output=True, text=True, check=False, cwd=tmp_path,
    )  # fmt: skip
    pattern = r'(\S+?):(\d+): error: Argument 1 to "assert_never" .*PartKind\.NEW'
    told = re.findall(pattern, done.stdout)
    named = {f"{file}:{_function_at(tmp_path / file, int(line))}" for file, line in told}
    expected = {name for file in sorted(SOURCE.rglob("*.py")) for name in _deciding(file)}
    assert named == expected, done.stdout + done.stderr
    assert {"coldcheck/circuit/kinds.py:_traits", "coldcheck/drawing/kinds.py:form"} <= named
    other = [x for x in done.stdout.splitlines() if ": error:" in x and "PartKind.NEW" not in x]
    assert other == []


def _lists(file: Path) -> list[int]:
    """Lines on which three kinds or more are listed, other than as a case of a match."""
    found = []
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        held = [*node.keys, *node.values] if isinstance(node, ast.Dict) else []
        inside = held or getattr(node, "elts", ())
        kinds = [e for e in inside if e is not None and ast.unparse(e).startswith("PartKind.")]
        found += [node.lineno] if len(kinds) > 2 else []
    return found


def test_nobody_keeps_a_list_of_kinds_that_a_new_one_would_be_missing_from() -> None:
    vocabulary = SOURCE / "drawing" / "kinds.py"
    kept = {f: _lists(f) for f in sorted(SOURCE.rglob("*.py")) if f != vocabulary}
    assert len(kept) > 100
    assert {f: lines for f, lines in kept.items() if lines} == {}
    assert _lists(vocabulary)
