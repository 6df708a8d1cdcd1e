"""What is recommended is enough: no rule asks for more, and no figure contradicts a finding.

The drawings are every sample, and the wrong half of every pair whose rule holds a part against a
rating written on it.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import pytest

from coldcheck.anatomy.case import Case
from coldcheck.bench.parts.items import Sort
from coldcheck.bench.parts.parts import parts_list
from coldcheck.bench.parts.ratings import ASKED
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.rerated import rerated
from coldcheck.judge.figure import Figure
from coldcheck.judge.finding import Finding
from coldcheck.settings.apply import circuit_of
from coldcheck.settings.model import DEFAULTS
from coldcheck.solve import solve_states
from coldcheck.verdict.engine import review_drawing, review_file
from coldcheck.verdict.registry import rule_by_id
from coldcheck.verdict.running import run_rules

SAMPLES = Path(__file__).parents[3] / "samples"
TODAY = date(2026, 6, 1)
ASKING = sorted({rule for rules in ASKED.values() for rule in rules})
WRONG = [p for r in ASKING for p in sorted((SAMPLES / "mistakes" / r).rglob("wrong.tube"))]
DRAWINGS = [*sorted(SAMPLES.glob("*.tube")), *WRONG]


def name(path):
    return path.relative_to(SAMPLES).as_posix()


@cache
def listed(path):
    review = review_file(path, TODAY)
    return review, parts_list(review, DEFAULTS)


def rows(path):
    return {row.item.name: row for group in listed(path)[1].groups for row in group.rows}


@cache
def rebuilt(path):
    """The drawing with the ratings recommended written on it, solved anew."""
    bought = {n: row.advice.buy for n, row in rows(path).items()}
    circuit = circuit_of(rerated(listed(path)[0].circuit.drawing, bought))
    return Case(circuit, solve_states(circuit))


def raised(case):
    """What the rules say before findings are merged, folded and waived."""
    return [f for f in run_rules(case, [rule_by_id(r) for r in ASKING]) if isinstance(f, Finding)]


NO_RATING_DOES = {
    # Another part, another class, another resistor: the remedy stands in the list.
    "mistakes/capacitor.balancing-too-high/wrong.tube": {"C1", "C2"},
    "mistakes/capacitor.over-voltage/half-shared/wrong.tube": {"C2"},
    "mistakes/capacitor.series-unbalanced/wrong.tube": {"C1", "C2"},
    "mistakes/capacitor.series-unbalanced/middles-apart/wrong.tube": {"C1", "C2"},
    "mistakes/mains.capacitor-class/wrong.tube": {"C1"},
    "mistakes/mains.capacitor-to-chassis/wrong.tube": {"C1"},
    "mistakes/mains.capacitor-to-chassis/jack/wrong.tube": {"C2"},
    "mistakes/resistor.photocell-overload/wrong.tube": {"LDR1"},
    "mistakes/supply.fuse-too-small/stroke/wrong.tube": {"F2"},
}


def test_there_is_a_pair_for_every_rule_asked() -> None:
    assert {p.parts[p.parts.index("mistakes") + 1] for p in WRONG} == set(ASKING)
    assert len(DRAWINGS) > 30


@pytest.mark.parametrize("path", DRAWINGS, ids=name)
def test_built_with_what_is_recommended_no_rule_asks_for_more(path) -> None:
    found, again = rows(path), rebuilt(path)
    left = {
        at
        for finding in raised(again)
        for at in finding.at
        if at in found and finding.rule in ASKED[found[at].item.sort]
    }
    told = {n for n, row in found.items() if row.advice.besides}
    assert left <= told
    assert told == NO_RATING_DOES.get(name(path), set())


@pytest.mark.parametrize("path", DRAWINGS, ids=name)
def test_no_figure_is_less_than_that_of_a_finding(path) -> None:
    """Volts, watts or amperes that a finding is about are in the list, or more is."""
    review, _ = listed(path)
    for finding in raised(review.worked.case):
        row = rows(path).get(finding.at[0])
        if row is None or finding.rule not in ASKED[row.item.sort] or finding.limit is None:
            continue
        key = next(
            (k for k in ("peak", "power", "used", "inverse_peak") if k in finding.evidence), ""
        )
        said = finding.evidence.get(key)
        if not isinstance(said, Figure) or row.item.sort is Sort.CONTROL:
            continue
        unit = {"V": row.uses.volts, "W": row.uses.watts, "A": row.uses.amps}[said.unit]
        assert unit is not None, (finding.rule, finding.at)
        assert unit.figure.value >= said.value * (1 - 1e-9), (finding.rule, finding.message)


@pytest.mark.parametrize("path", DRAWINGS, ids=name)
def test_a_part_that_a_rule_objects_to_is_recommended_larger(path) -> None:
    """Or told what to do: a fuse may also be too large."""
    review, _ = listed(path)
    for finding in raised(review.worked.case):
        row = rows(path).get(finding.at[0])
        if row is None or finding.rule not in ASKED[row.item.sort] or row.advice.besides:
            continue
        buy, stated = row.advice.buy, row.item.stated
        pairs = zip(
            (buy.volts, buy.watts, buy.amps), (stated.volts, stated.watts, stated.amps), strict=True
        )
        larger = any(b is not None and (s is None or b > s) for b, s in pairs)
        assert larger or finding.rule == "mains.fuse-too-large", finding.message


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.tube")), ids=name)
def test_a_sample_built_so_is_as_clean_as_before(path) -> None:
    """Whatever else a rule makes of other ratings: charge, drains, intent."""
    before, after = (
        {(o.rule, o.at) for o in run_rules(case) if isinstance(o, Finding)}
        for case in (listed(path)[0].worked.case, rebuilt(path))
    )
    assert after <= before


def test_as_it_is_written_by_hand() -> None:
    """The lines of a drawing changed as somebody would who reads the list."""
    path = SAMPLES / "mistakes" / "capacitor.over-voltage" / "wrong.tube"
    found = rows(path)["C1"]
    assert found.uses.volts.state == "cold"
    old = found.item.written
    assert old.endswith(f"{found.item.stated.volts:g} V")
    new = f"{old.removesuffix(f' {found.item.stated.volts:g} V')} {found.advice.buy.volts:g} V"
    text = path.read_text("utf-8").replace(f"[{old}]", f"[{new}]")
    again = review_drawing(parse_drawing(text, "t.tube"), TODAY)
    assert [f.rule for f in review_file(path, TODAY).findings] == ["capacitor.over-voltage"]
    assert again.findings == ()


def test_a_rule_that_the_house_turned_off_is_not_asked() -> None:
    path = SAMPLES / "mistakes" / "resistor.over-power" / "wrong.tube"
    review = review_file(path, TODAY)
    (name,) = {f.at[0] for f in review.findings if f.rule == "resistor.over-power"}
    quiet = replace(DEFAULTS, off={"resistor.over-power": "the house buys by another table"})
    one, other = (
        next(r for g in parts_list(review, s).groups for r in g.rows if r.item.name == name)
        for s in (DEFAULTS, quiet)
    )
    assert one.advice.buy.watts > one.item.stated.watts
    assert other.advice.buy.watts == other.item.stated.watts
