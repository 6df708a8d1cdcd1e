"""A circuit with another value is that of the changed text, for every value of every sample."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from coldcheck.circuit.valued import valued
from coldcheck.drawing import read_drawing
from coldcheck.drawing.reader import parse_drawing, with_sheets
from coldcheck.drawing.valued import MAINS, SHARE, amount_of, values
from coldcheck.drawing.values import SYMBOLS, BadValue, parse_amount
from coldcheck.settings.apply import circuit_of

SAMPLES = Path(__file__).parents[2] / "samples"
NAMES = sorted(p.stem for p in SAMPLES.glob("*.tube"))


def rewritten(text, name, value, new):
    """The text with another value written in it, found word by word."""
    if value.unit == SHARE:
        return re.sub(rf"^(pot {name} .*at )\S+ %", rf"\g<1>{new} %", text, flags=re.M)
    if name == MAINS:
        return re.sub(r"^mains \S+ V", f"mains {new} V", text, flags=re.M)
    inside = re.search(rf"\[({re.escape(name)} [^\]]*)\]", text)
    words = inside[1].split()
    for at, many in ((i, k) for i in range(1, len(words)) for k in (2, 1)):
        if reads(" ".join(words[at : at + many]), value):
            words[at : at + many] = [f"{new:.12f}", SYMBOLS[value.unit]]
            break
    return f"{text[: inside.start(1)]}{' '.join(words)}{text[inside.end(1) :]}"


def reads(text, value):
    try:
        amount = parse_amount(text, value.unit)
    except BadValue:
        return False
    return amount.unit == value.unit and amount.number == pytest.approx(value.number)


def told(circuit):
    """What a circuit says, but for the columns of its text."""
    mains = circuit.mains and (circuit.mains.voltage.m_as("volt"), circuit.mains.frequency)
    drawn = circuit.graph.edges(data="branch", keys=True)
    edges = {key: ({a, b}, told_of(branch)) for a, b, key, branch in drawn}
    return [told_of(b) for b in circuit.branches.values()], edges, mains


def told_of(branch):
    value = branch.value and f"{branch.value.to_base_units():.10g}"
    rating = branch.rating and str(branch.rating)
    ends = (branch.a, branch.b, branch.plus)
    return (branch.name, branch.kind.value, ends, branch.owner, value, f"{branch.resistance}",
            branch.closed, rating)  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_each_value_of_a_sample(name) -> None:
    path = SAMPLES / f"{name}.tube"
    text, drawing = path.read_text("utf-8"), read_drawing(path)
    circuit, tried = circuit_of(drawing), 0
    for key, value in values(drawing).items():
        if "/" in key:
            continue  # written in a sheet
        new = 35.0 if value.unit == SHARE else float(f"{1.37 * value.number:.12f}")
        changed = rewritten(text, key, value, new)
        assert changed != text, key
        built = circuit_of(with_sheets(parse_drawing(changed, str(path)), path))
        assert not built.problems
        made = valued(circuit, {key: amount_of(value, new)})
        assert told(made) == told(built), key
        now = values(made.drawing)[key], values(built.drawing)[key]
        assert now[0].number == pytest.approx(now[1].number)
        tried += 1
    assert tried >= 8


def test_a_sheet_s_instances_have_values_of_their_own() -> None:
    circuit = circuit_of(read_drawing(SAMPLES / "twin-quay.tube"))
    known = values(circuit.drawing)
    made = valued(circuit, {"L/R5": amount_of(known["L/R5"], "470 ohm")})
    ohms = [made.branches[n].value.m_as("ohm") for n in ("L/R5", "R/R5")]
    assert ohms == [470, known["R/R5"].number]
    assert circuit.branches["L/R5"].value.m_as("ohm") == known["L/R5"].number
