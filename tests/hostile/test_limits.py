"""Nothing a drawing holds takes a review down: it ends, with a finding that names the limit."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import hostile_drawings as hostile
import pytest

from coldcheck.circuit.limits import LARGEST, MOST_PROBLEMS, TOO_LARGE
from coldcheck.drawing import parse_drawing
from coldcheck.settings.apply import circuit_of
from coldcheck.verdict.engine import review_drawing, review_file

if TYPE_CHECKING:
    from pathlib import Path

    from coldcheck.verdict.review import Review

SUPPLY = hostile.SUPPLY


def reviewed(text: str) -> Review:
    return review_drawing(parse_drawing(text, "hostile.tube"), date(2026, 1, 1))


def parts(count: int) -> str:
    return SUPPLY + "".join(f"B1 --[R{n} 100k]-- gnd\n" for n in range(count - 1))


def points(count: int) -> str:
    return "".join(f"P{n} -- V{n // 4}A.plate\n" for n in range(count)) + hostile.tubes(count // 10)


MANY = {
    "parts": lambda n: parts(n),
    "points": lambda n: SUPPLY + "".join(f"transformer T{k}\n    primary p 120 V\n" + "".join(
        f"    winding w{i} 6.3 V\n" for i in range(10)) for k in range(n // 22 + 1)),
    "tubes": lambda n: SUPPLY + "".join(f"tube V{k} 6C4\n" for k in range(n)),
    "tubes beside values that are not known": lambda n: f"{SUPPLY}B1 --[R1 ?]-- gnd\n" + "".join(
        f"tube V{k} 6C4\n" for k in range(n)),
    "capacitors": lambda n: SUPPLY + "".join(f"B1 --[C{k} 1 uF]-- gnd\n" for k in range(n)),
    "rectifying parts": lambda n: SUPPLY + "".join(
        f"B1 --[D{k} 1N4007]-> gnd\n" for k in range(n)),
    "switch contacts": lambda n: "".join(f"switch S{k} spst at 1\n" for k in range(n)),
    "windings": lambda n: "transformer T1\n    primary p 120 V\n" + "".join(
        f"    winding w{k} 6.3 V\n" for k in range(n - 1)),
    "signal sources": lambda n: "".join(f"signal IN{k} 1 V 1 kHz\n" for k in range(n)),
    "expectations": lambda n: SUPPLY + "expect B1 = 250 V within 1 V\n" * n,
    "waivers": lambda n: SUPPLY + 'accept supply.no-bleeder at B1 because "so"\n' * n,
}  # fmt: skip


@pytest.mark.parametrize("what", LARGEST)
def test_each_limit_tells_itself_at_the_first_thing_beyond_it(what: str) -> None:
    text = MANY[what](LARGEST[what] + 1)
    looked = reviewed(text)
    assert looked.verdict() == "unreadable"
    assert not looked.solutions
    told = [f for f in looked.findings if f.rule == TOO_LARGE and what in f.message]
    assert len(told) == 1, [(f.rule, f.message) for f in looked.findings][:5]
    assert f"at most {LARGEST[what]}" in told[0].message
    assert 1 <= told[0].span.line <= len(looked.lines)
    assert "circuit" in told[0].remedy


@pytest.mark.parametrize("what", [w for w in LARGEST if w != "points"])
def test_at_the_limit_nothing_is_said(what: str) -> None:
    circuit = circuit_of(parse_drawing(MANY[what](LARGEST[what])))
    assert [p for p in circuit.problems if p.rule == TOO_LARGE and what in p.found] == []


REFUSED = ("complete", "parallel", "short ladder", "tubes", "switches", "rectifiers",
           "transformers", "waivers", "expectations", "signals", "types like types")  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_too_large_is_refused_before_it_is_solved(name: str) -> None:
    looked = reviewed(hostile.MADE[name]())
    assert TOO_LARGE in {f.rule for f in looked.findings}
    assert not looked.solutions


@pytest.mark.parametrize("name", ["misspelt", "same name"])
def test_thousands_of_problems_are_told_as_some_hundreds(name: str) -> None:
    looked = reviewed(hostile.MADE[name]())
    assert len(looked.findings) == MOST_PROBLEMS + 1
    (rest,) = [f for f in looked.findings if f.rule == TOO_LARGE]
    assert "more places that cannot be read" in rest.message


@pytest.mark.parametrize("name", ["parallel chain", "grid with tubes"])
def test_meshes_are_worked_out(name: str) -> None:
    looked = reviewed(hostile.MADE[name]())
    assert looked.readable
    assert looked.solutions["warm"].converged
    assert [n for n in looked.not_judged if n.kind.broken] == []


@pytest.mark.parametrize("name", hostile.NAMES)
def test_one_bad_line_is_told_where_it_is(name: str) -> None:
    looked = reviewed(hostile.one_line(hostile.NAMES[name]))
    assert [n for n in looked.not_judged if n.kind.broken] == []
    if not looked.readable:
        assert 2 <= looked.findings[0].span.line <= 4
        assert all(len(f.message) < 4_500 for f in looked.findings)


def test_carriage_returns_alone_are_read_and_among_other_line_ends_refused() -> None:
    """A program that shows a change may have what follows one in the same line."""
    text = hostile.one_line(hostile.NAMES["carriage returns"])
    (problem,) = reviewed(text).findings
    assert (problem.span.line, problem.message.partition(";")[0]) == (
        2, "found a carriage return alone, among other line ends",
    )  # fmt: skip
    assert reviewed(text.replace("\n", "\r")).readable


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("zero byte", "a zero byte"),
        ("not utf-8", "a byte that is not UTF-8"),
        ("utf-16", "text in UTF-16"),
        ("surrogates", "a byte that is not UTF-8"),
        ("too big", "a file that is too big"),
        ("too many statements", "more than 20000 statements"),
    ],
)
def test_bytes_that_are_no_drawing(name: str, told: str, tmp_path: Path) -> None:
    file = tmp_path / "hostile.tube"
    file.write_bytes(hostile.BYTES[name])
    looked = review_file(file)
    assert looked.verdict() == "unreadable"
    assert any(told in f.message for f in looked.findings)


def test_nothing_outside_the_project_is_opened(tmp_path: Path) -> None:
    (tmp_path / "secret.tube").write_text("the secret\n", "utf-8")
    inside = tmp_path / "project"
    inside.mkdir()
    (inside / ".git").mkdir()
    (inside / "link.tube").symlink_to(tmp_path / "secret.tube")
    for path in ("../secret.tube", str(tmp_path / "secret.tube"), "link.tube", "/dev/zero"):
        file = inside / "drawing.tube"
        file.write_text(f'B1 -- gnd\nsheet "{path}" as L joining B1\n', "utf-8")
        looked = review_file(file)
        assert looked.verdict() == "unreadable", path
        assert "the secret" not in str(looked.findings), path
        assert not any("the secret" in line for lines in looked.sheets.values() for line in lines)
