"""Readings of a faulty set: solved apart from the puzzle, and one answer that fits."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_state
from coldcheck.solve.faults.fault import OPEN
from coldcheck.teach.choices import Degree, Ground
from coldcheck.teach.lesson import against, is_fault
from coldcheck.teach.neutral import bare
from coldcheck.teach.puzzle import Bench, Puzzle, Reading, apart, puzzles_of, worded

SAMPLE = Path(__file__).parents[2] / "samples" / "harbour-light.tube"
TEXT = bare(SAMPLE.read_text(encoding="utf-8"), promises=False)


@pytest.fixture(scope="module")
def bench() -> Bench:
    return Bench.of(TEXT, "harbour-light")


@pytest.fixture(scope="module", params=list(Degree), ids=[d.value for d in Degree])
def some(bench: Bench, request: pytest.FixtureRequest) -> list[Puzzle]:
    return list(puzzles_of(bench, 2, 4, request.param))


def test_the_readings_are_those_of_the_drawing_without_the_part(bench: Bench) -> None:
    """The part is taken out of the text, and that drawing solved as any other."""
    clean = Ground.of("harbour-light", TEXT).clean
    seen = 0
    for puzzle in puzzles_of(bench, 1, 12, Degree.FAIR):
        text = clean.opened(puzzle.fault.part) if puzzle.fault.kind == OPEN else None
        if text is None:
            continue
        circuit = build_circuit(parse_drawing(text, "opened"))
        solution = solve_state(circuit)
        for reading in puzzle.readings:
            wave = solution.wave(circuit.points[reading.point])
            if wave is not None and reading.read is not None:
                assert wave.dc == pytest.approx(reading.read, rel=0.01, abs=0.1)
                seen += 1
    assert seen > 20


def test_what_is_read_differs_from_the_sound_set_and_from_every_other_answer(
    some: list[Puzzle],
) -> None:
    assert len(some) == 4
    for puzzle in some:
        assert any(apart(r.sound, r.read) for r in puzzle.readings)
        assert len(set(puzzle.choices)) == 4
        for fault, row in zip(puzzle.choices, puzzle.others, strict=True):
            read = [r.read for r in puzzle.readings]
            differs = any(apart(a, b) for a, b in zip(row, read, strict=True))
            assert differs == (fault != puzzle.fault)


def test_the_key_tells_of_every_wrong_answer_what_speaks_against_it(some: list[Puzzle]) -> None:
    for puzzle in some:
        told = against(puzzle)
        assert len(told) == 3
        assert not any(f"With {puzzle.fault.name} " in words for words in told)


def test_the_same_seed_gives_the_same_and_none_comes_twice(bench: Bench) -> None:
    once, again = (list(puzzles_of(bench, 9, 6, Degree.FAIR)) for _ in range(2))
    assert [(p.fault, p.choices) for p in once] == [(p.fault, p.choices) for p in again]
    assert len({p.fault for p in once}) == 6


def test_the_answer_is_taken_by_number_and_by_name(some: list[Puzzle]) -> None:
    for puzzle in some:
        assert is_fault(puzzle, str(puzzle.answer))
        assert is_fault(puzzle, puzzle.fault.name.lower())
        assert not is_fault(puzzle, str(puzzle.answer % 4 + 1))


def test_a_set_whose_fuse_would_blow_is_no_puzzle(bench: Bench) -> None:
    assert not any(x.part == "C1" and x.kind == "short" for x in bench.faulty)


@pytest.mark.parametrize(
    ("a", "b", "told"),
    [
        (100.0, 114.0, False), (100.0, 118.0, True), (0.0, 0.9, False), (0.0, 1.1, True),
        (None, 5.0, False), (-5.0, 5.0, True),
    ],
)  # fmt: skip
def test_readings_apart_by_more_than_parts_spread(
    a: float | None, b: float | None, told: bool
) -> None:
    assert apart(a, b) is told
    assert apart(b, a) is told


def test_readings_as_one_writes_them() -> None:
    assert [worded(v) for v in (None, -0.01, 1.304, 263.62)] == [
        "none steady", "0 V", "1.30 V", "263.6 V",
    ]  # fmt: skip
    assert Reading("B1", 1.0, None).read is None


def test_a_drawing_that_cannot_be_read_or_solved_is_no_bench() -> None:
    with pytest.raises(ValueError, match="could not be read"):
        Bench.of("B1 --[R1\n", "broken")
