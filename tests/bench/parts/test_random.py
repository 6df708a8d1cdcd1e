"""Random drawings: each has its parts list, its leads and its ladder; no rule asks for more."""

from __future__ import annotations

from xml.etree import ElementTree as ET

from hypothesis import assume, given, settings
from tests.fuzz.strategies import drawings

from coldcheck.anatomy.case import Case
from coldcheck.anatomy.worked import worked_out
from coldcheck.bench.ladder.ladder import ladder
from coldcheck.bench.parts.parts import parts_list
from coldcheck.bench.parts.ratings import ASKED
from coldcheck.bench.parts.wires import wires
from coldcheck.drawing.reader import parse_drawing
from coldcheck.drawing.rerated import rerated
from coldcheck.judge.finding import Finding
from coldcheck.report.ladder import svg
from coldcheck.report.parts import csv, html
from coldcheck.settings.apply import circuit_of
from coldcheck.settings.model import DEFAULTS
from coldcheck.solve import solve_states
from coldcheck.verdict.registry import rule_by_id
from coldcheck.verdict.review import Review
from coldcheck.verdict.running import run_rules

RULES = [rule_by_id(name) for name in sorted({r for rules in ASKED.values() for r in rules})]


@settings(max_examples=25)
@given(drawings())
def test_every_readable_drawing_has_them(text) -> None:
    drawing = parse_drawing(text, "random.tube")
    assume(not drawing.problems)
    circuit = circuit_of(drawing)
    assume(not circuit.problems)
    case = Case(circuit, solve_states(circuit))
    ET.fromstring(svg.render(ladder(case)))
    leads = wires(circuit)
    boxes = {*circuit.thyristors, *circuit.vibrators}  # listed as one, with all its leads
    parts = {n for n, b in circuit.branches.items() if b.part and not boxes & {*b.throws}}
    listed = {p.name for p in leads}
    # What is within a can, as a ballast's sections are, is listed as one.
    assert listed >= {n for n in parts if n.rpartition(".")[0] not in listed} | boxes
    csv.render_wires(leads)
    review = Review("random.tube", "", circuit, (), (), case.solutions, drawing.lines, True,
                    worked_out(case))  # fmt: skip
    found = parts_list(review, DEFAULTS)
    assert "<script" not in html.render(found)
    if not any(True for _ in case.solved()):
        return  # nothing is advised where nothing is solved
    rows = {row.item.name: row for group in found.groups for row in group.rows}
    bought = {name: row.advice.buy for name, row in rows.items()}
    again = Case(circuit_of(rerated(drawing, bought)), case.solutions)
    for outcome in run_rules(again, RULES):
        if isinstance(outcome, Finding):
            objected = [rows[n] for n in outcome.at if n in rows]
            mine = [r for r in objected if outcome.rule in ASKED[r.item.sort]]
            assert all(r.advice.besides for r in mine), outcome
