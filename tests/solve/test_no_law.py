"""A part of a kind the solver has no law for makes the circuit unsolved, never an open circuit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from coldcheck import review_text
from coldcheck.circuit import build_circuit
from coldcheck.circuit.kinds import TRAITS, Stamp
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.kinds import PartKind
from coldcheck.solve import solve_states

DRAWN = {
    PartKind.THERMISTOR: "A --[RT1 10]-- gnd",
    PartKind.RESISTOR: "A --[R1 1k]-- gnd",
    PartKind.CAPACITOR: "A --[C1 1u 50 V]-- gnd",
    PartKind.DIODE: "A --[D1 silicon]-> gnd",
    PartKind.JACK: "A --[J1]-- gnd",
    PartKind.SOURCE: "A --+[E2 12 V]-- gnd",
    PartKind.WINDING: "transformer T1\n    winding ht 6.3 V\nT1.ht.1 -- A\nT1.ht.2 -- gnd",
}
FED = "B --+[E1 12 V]-- gnd\nB --[R9 1k]-- A\n"


@pytest.mark.parametrize("kind", DRAWN)
def test_an_unknown_kind_is_refused_by_name(
    kind: PartKind, monkeypatch: pytest.MonkeyPatch
) -> None:
    circuit = build_circuit(parse_drawing(FED + DRAWN[kind]))
    assert circuit.problems == ()
    assert all(s.converged for s in solve_states(circuit).values())
    monkeypatch.setitem(TRAITS, kind, replace(TRAITS[kind], stamp=Stamp.UNSOLVED))
    name = next(b.name for b in circuit.branches.values() if b.kind is kind)
    for solution in solve_states(circuit).values():
        assert not solution.converged
        assert not solution.waves
        assert solution.reason == f"{name} is a {kind.value} of which no law is known"


def test_the_review_stops_at_such_a_part(monkeypatch: pytest.MonkeyPatch) -> None:
    traits = replace(TRAITS[PartKind.THERMISTOR], stamp=Stamp.UNSOLVED)
    monkeypatch.setitem(TRAITS, PartKind.THERMISTOR, traits)
    review = review_text(FED + DRAWN[PartKind.THERMISTOR])
    (finding,) = review.findings
    assert finding.rule == "drawing.not-supported"
    assert "RT1, a thermistor" in finding.message
    assert review.verdict() == "unreadable"
