"""Expectations of what is not there."""

from __future__ import annotations

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

TEXT = (
    "transformer T1\n    winding warm 6.3 V 1 A\ntube V1 12AX7 heater T1.warm\ntube V3 5Y3GT\n"
    "tube V4 NOSUCH\nB1 --[R1 10k]-- V1A.plate\nV1A.grid --[R2 1M]-- gnd\nsignal IN 1 V\n"
    "IN --[C1 1u]-- V1A.grid\nB1 --[R3 1k]-- V3:8\npot P1 10k\n"
)


def problems(line: str) -> list[tuple[str, str, str]]:
    circuit = build_circuit(parse_drawing(f"{TEXT}expect {line}\n"))
    last = len(TEXT.splitlines()) + 1
    return [(p.rule, p.found, p.hint) for p in circuit.problems if p.span.line == last]


@pytest.mark.parametrize(
    "line",
    [
        "B1 - V1A.plate below 5 V", "current R1 below 1 A", "current V1A.a below 1 A",
        "current V3 below 1 A", "current T1.warm below 1 A", "current V1.heater below 1 A",
        "dissipation P1 below 1 W", "dissipation V1 below 1 W", "gain V1A above 1",
        "gain IN to V1A.plate above 1", "gain R2 above 1", "ripple B1 below 1 V",
        "drain C1 below 1 s", "drain B1 below 1 s", "chassis = 0 V within 1 V",
        "current V4 below 1 A", "current V4.plate below 1 A",
    ],
)  # fmt: skip
def test_what_is_there(line: str) -> None:
    assert problems(line) == []


@pytest.mark.parametrize(
    ("line", "rule", "found", "hint"),
    [
        ("B1 - B9 below 1 V", "drawing.unknown-name", "B9", "did you mean B1?"),
        ("current R9 below 1 A", "drawing.unknown-name", "R9", "did you mean R3?"),
        ("current T1 below 1 A", "drawing.unknown-name", "T1", "say T1.warm"),
        ("current V3.plate1 below 1 A", "drawing.unknown-lead", "V3.plate1", "say V3"),
        ("current V1.plate below 1 A", "drawing.unknown-lead", "V1.plate", "V1A.plate or"),
        ("current V1A.h1 below 1 A", "drawing.unknown-lead", "V1A.h1", "V1A.plate, V1A.grid or"),
        ("current V1:1 below 1 A", "drawing.unknown-lead", "V1:1", ""),
        ("dissipation V1A.grid below 1 W", "drawing.unknown-lead", "V1A.grid", "V1A.plate"),
        ("gain V1 above 1", "drawing.unknown-name", "V1", "say V1A or V1B"),
        ("gain OUT to V1A above 1", "drawing.unknown-name", "OUT", ""),
        ("gain IN to OUT above 1", "drawing.unknown-name", "OUT", ""),
        ("drain R1 below 1 s", "drawing.unknown-lead", "R1", "on the wire"),
        ("drain C9 below 1 s", "drawing.unknown-name", "C9", ""),
        ("ripple B9 below 1 V", "drawing.unknown-name", "B9", "did you mean B1?"),
    ],
)
def test_what_is_not(line: str, rule: str, found: str, hint: str) -> None:
    (problem,) = problems(line)
    assert problem[:2] == (rule, found)
    assert hint in problem[2]
