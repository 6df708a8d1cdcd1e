"""Edits of a clean drawing: what is written changes, and only that."""

from __future__ import annotations

from difflib import ndiff
from typing import TYPE_CHECKING

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.teach.clean import Clean
from coldcheck.verdict.engine import review_drawing

if TYPE_CHECKING:
    from coldcheck.drawing.model import Drawing


def changes(clean: Clean, text: str | None) -> list[str]:
    assert text is not None
    return [t.rstrip() for t in ndiff(clean.lines, text.splitlines()) if t[0] in "-+"]


def read(text: str | None) -> Drawing:
    drawing = parse_drawing(text or "?")
    assert drawing.problems == ()
    return drawing


def test_a_part_alone_on_its_line_is_left_out_with_it(clean: Clean) -> None:
    assert changes(clean, clean.opened("C7")) == ["- V2.cathode --+[C7 25 uF 50 V]-- gnd"]


def test_a_part_in_a_chain_leaves_two_chains(clean: Clean) -> None:
    text = clean.opened("R1")
    assert changes(clean, text)[1:] == ["+ V3:8 -- RES --[L1 8 H 250 ohm]-- B1"]
    circuit = build_circuit(read(text))
    assert circuit.net("B1") != circuit.net("B2")


def test_a_shorted_part_is_a_wire(clean: Clean) -> None:
    circuit = build_circuit(read(clean.shorted("C4")))
    assert circuit.net("V1A.plate") == circuit.net("DRV")
    assert "C4" not in circuit.branches


def test_a_turned_electrolytic_has_its_plus_at_the_other_end(clean: Clean) -> None:
    assert "+ RES --[C1 20 uF 500 V]+-- gnd" in changes(clean, clean.turned("C1"))
    assert build_circuit(read(clean.turned("C1"))).branches["C1"].plus == "gnd"


def test_a_turned_diode_conducts_the_other_way() -> None:
    text = "A --[D1 1N4007]-> B\nB --[R1 10k]-- gnd\nA --+[E1 10 V]-- gnd\n"
    bench = Clean.of("x", text, review_drawing(parse_drawing(text)))
    circuit = build_circuit(read(bench.turned("D1")))
    assert (circuit.branches["D1"].a, circuit.branches["D1"].b) == ("B", "A")


def test_what_cannot_be_turned_or_is_not_written_gives_nothing(clean: Clean) -> None:
    part = clean.links["R1"][0].links[clean.links["R1"][1]]
    assert clean.turned("R1") is None
    assert part is not None
    assert clean.part_replaced(part, "no such text", "x") is None


def test_a_path_is_missed_where_it_is_gone(clean: Clean) -> None:
    without = clean.opened("R6") or ""
    assert clean.without_path(without, "V2.grid")
    assert not clean.without_path(without, "V2.cathode")


def test_nothing_is_planted_in_what_cannot_be_read() -> None:
    bad = "B1 --[R1 10k\n"
    with pytest.raises(ValueError, match="could not be read"):
        Clean.of("bad", bad, review_drawing(parse_drawing(bad)))
