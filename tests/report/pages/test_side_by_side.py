"""Two drawings beside each other."""

from __future__ import annotations

from io import StringIO

from rich.console import Console

from coldcheck.report.pages.side_by_side import aligned, side_by_side


def printed(left: str, right: str, width: int = 60) -> list[str]:
    console = Console(file=StringIO(), width=width, color_system=None)
    side_by_side(console, left, right, ("wrong", "right"))
    return console.file.getvalue().splitlines()  # type: ignore[attr-defined,no-any-return]


def test_equal_lines_stand_beside_each_other_unmarked() -> None:
    assert printed("A -- B\n", "A -- B\n")[1:] == ["    A -- B                      A -- B"]


def test_lines_that_differ_are_marked_in_both() -> None:
    lines = printed("A -- B\nB -- gnd\n", "A -- B\nB --[R1 1k]-- gnd  # mended\n")
    assert lines[-1].split() == ["×", "B", "--", "gnd", "+", "B", "--[R1", "1k]--", "gnd"]


def test_a_line_only_one_side_has_leaves_the_other_empty() -> None:
    assert list(aligned(["a", "c"], ["a", "b   # mended", "c"])) == [
        ("a", "a"),
        (None, "b"),
        ("c", "c"),
    ]


def test_long_lines_wrap_under_themselves_and_lose_nothing() -> None:
    wire = "B1 --[R1 220k 1 W]-- LIFT --[R2 68k 1 W]-- gnd"
    lines = printed(wire, wire, 60)
    left = [line[4:29] for line in lines[1:]]
    assert " ".join(" ".join(left).split()) == wire
    assert all(line.startswith("        ") for line in lines[2:])
    assert max(map(len, lines)) <= 60


def test_markup_and_controls_in_a_drawing_are_only_text() -> None:
    lines = printed("[bold]A[/bold]\x1b[31m", "x")
    assert "[bold]A[/bold]\\x1b[31m" in "".join(lines)
