"""Switches of any positions and poles: which contacts are closed, and what that is called."""

from __future__ import annotations

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.circuit.throws import (
    switch_of,
    switches_of,
    thrown_text,
    throws_by_hand,
    turned,
)
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_states

LADDER = "\n".join(
    ["B --+[E1 100 V]-- gnd", "switch S1 2p4t at 2", "B -- S1.a.common", "OUT --[R9 1k]-- gnd",
     *(f"S1.a.{n} --[R{n} {n}k]-- OUT" for n in (1, 2, 3, 4)), "S1.b.common -- B",
     "S1.b.4 --[R5 1k]-- gnd"]
)  # fmt: skip


def test_the_contacts_of_a_rotary_switch_are_closed_one_at_a_time() -> None:
    circuit = build_circuit(parse_drawing(LADDER))
    own = [b for b in circuit.branches.values() if b.owner == "S1"]
    assert len(own) == 8
    for thrown, where in ((frozenset[str](), "2"), *((frozenset({turned("S1", n)}), str(n))
                                                     for n in (1, 3, 4))):  # fmt: skip
        closed = {b.name for b in own if b.closed_with(thrown)}
        assert closed == {f"S1.a.common-{where}", f"S1.b.common-{where}"}


def test_every_position_is_a_state_and_obeys_ohm() -> None:
    """100 V over n kohm and 1 kohm leaves 100 / (n + 1) V."""
    solved = solve_states(build_circuit(parse_drawing(LADDER)))
    positions = {"warm": 2, "standby S1 at 1": 1, "standby S1 at 3": 3, "standby S1 at 4": 4}
    assert set(positions) <= set(solved)
    for state, n in positions.items():
        assert solved[state].waves["OUT"].dc == pytest.approx(100 / (n + 1), rel=1e-4)
    assert solved["standby S1 at 4"].current("R5").dc == pytest.approx(0.1, rel=1e-3)


def test_a_toggle_keeps_its_name() -> None:
    circuit = build_circuit(parse_drawing("switch S1 4pdt\nA -- S1.d.2\nA --[S2 switch]-- gnd"))
    assert throws_by_hand(circuit) == ("S2", "S1") or throws_by_hand(circuit) == ("S1", "S2")
    assert "standby S1" in solve_states(circuit)


def test_words() -> None:
    assert thrown_text(("S1",)) == "S1 thrown"
    assert thrown_text(("S3 at 2", "S1", "S2")) == "S1 and S2 thrown and S3 at 2"
    assert (switch_of("S3 at 2"), switches_of(("S3 at 2", "S1"))) == ("S3", ("S1", "S3"))


def test_an_expectation_names_a_position() -> None:
    from coldcheck import review_text

    text = LADDER + "\nexpect OUT = 20 V within 1 V in standby S1 at 4"
    assert "intent.not-met" not in {f.rule for f in review_text(text).findings}
    told = review_text(text.replace("= 20 V", "= 40 V")).findings
    assert "intent.not-met" in {f.rule for f in told}
