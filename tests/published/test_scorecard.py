"""The scorecard: every row within its tolerance, no family worse than recorded, README current.

Not covered, because the tables give nothing the program predicts or too little to draw: rules of
thumb, types not on file, a maximum-signal screen current, a stage without a supply, the voltages of
the RCA charts (they give none), cold resistances, the thresholds of safety and the ratings.
"""

import io
import sys

import pytest
from tests.published import __main__ as command
from tests.published import score
from tests.published.catalogue import BASES, predict, rows

from coldcheck.circuit.tubes import tube_type
from coldcheck.solve.tubes import fit

ROWS = rows()
FAMILIES = {(line.family, line.basis): line for line in score.summary()}


MISSED = {
    "RCA-6SJ7-300-0.25-0.25-0.89eo": 0.65,
    "RCA-6SJ7-300-0.5-0.5-2eo": 0.74,
    "RCA-6SJ7-300-0.5-1-2.2eo": 0.75,
    "CH-96-6SL7GT-plate-current": 7.7,
}
"""Rows that miss their tolerance, and predicted over published.

With screens at 20 to 35 V the 6SJ7 draws a little too much: at 500 kohm the plate rests near 50 V,
where a tenth less current would be half as much swing again. The 6SL7GT is at the foot of its
curves, 0.02 mA by the plot and 0.15 by the law.
"""


@pytest.mark.parametrize("row", [r for r in ROWS if not r.doubtful], ids=lambda r: r.id)
def test_published_value(row):
    item = score.Scored(row, predict(row))
    assert item.within == (row.id not in MISSED), (
        f"published {row.answer}, predicted {item.predicted:.5g}: {row.source}"
    )


@pytest.mark.parametrize("row", [r for r in ROWS if r.id in MISSED], ids=lambda r: r.id)
def test_a_known_miss_is_no_worse_than_it_was(row):
    times = predict(row) / row.published
    assert abs(times - 1) <= 1.05 * abs(MISSED[row.id] - 1)


def test_every_known_miss_is_a_row():
    assert set(MISSED) <= {r.id for r in ROWS if not r.doubtful}


@pytest.mark.parametrize("row", [r for r in ROWS if r.doubtful], ids=lambda r: r.id)
def test_doubtful_value_has_the_right_size(row):
    if row.is_range:
        assert score.Scored(row, predict(row)).within
    else:
        assert predict(row) == pytest.approx(row.published, rel=float(row.tolerance))


def test_rows_are_told_apart_and_say_where_they_come_from():
    assert len({r.id for r in ROWS}) == len(ROWS)
    assert all(r.basis in BASES and r.source for r in ROWS)
    assert {r.confidence.split()[0] for r in ROWS} <= {"found", "memory", "derived"}
    assert {r.confidence.partition(" ")[2] for r in ROWS} <= {"", "H", "M-H", "M", "L"}


def test_at_least_150_values_were_not_fitted_to():
    """Without counting the 248 cells of the normalised rectifier either."""
    fair = [
        r
        for r in ROWS
        if r.basis != "in the fit" and not r.id.startswith(("normalised", "endless"))
    ]
    assert len(fair) >= 150


def test_no_family_is_worse_than_recorded():
    assert list(score.worse(score.summary())) == []


def test_a_worse_family_is_noticed():
    family, *rest = score.summary()
    grown = score.Line(
        family.family, family.basis, family.number, family.median + 0.2, family.worst + 0.2, "", ""
    )
    found = list(score.worse([grown, *rest]))
    assert [f"{family.family} ({family.basis}): {word}" in line for word, line in
            zip(("median", "worst"), found, strict=True)] == [True, True]  # fmt: skip
    assert any("no longer computed" in line for line in score.worse(rest))


@pytest.mark.parametrize(
    ("family", "basis", "median", "worst"),
    [
        ("rectifier tubes: DC", "held out", 2.0, 4.0),
        ("resistance-coupled: plate voltage", "held out", 5.0, None),
        ("resistance-coupled: cathode voltage", "held out", 8.0, None),
        ("self-bias: plate current", "held out", 5.0, None),
        ("self-bias: plate current", "left out", 5.0, None),
        ("resistance-coupled: gain", "held out", 5.0, None),
        ("shelf, triode: plate current", "left out", 5.0, None),
        ("shelf, pentode: plate current", "left out", 5.0, None),
        ("shelf, triode: transconductance", "left out", 6.0, None),
        ("shelf, pentode: transconductance", "left out", 6.0, None),
        ("shelf, triode: plate resistance", "left out", 12.0, None),
        ("shelf, pentode: screen current", "left out", 10.0, None),
    ],
)
def test_targets(family, basis, median, worst):
    """Only of figures no law was fitted to, and only of sources that are sure enough."""
    line = FAMILIES[family, basis]
    assert line.median <= median
    assert worst is None or line.worst <= worst


@pytest.mark.parametrize(
    "family",
    [
        "dividers and droppers",
        "heater windings",
        "AC on DC",
        "discharge after switch-off",
        "letter codes",
    ],
)
def test_arithmetic_comes_out_to_the_printed_digit(family):
    assert FAMILIES[family, "circuit"].digits == "all"


def test_nothing_called_held_out_was_fitted_to():
    """A self-bias row counts as held out only where the library has no point of that bias."""
    checked = 0
    for row in ROWS:
        if row.circuit == "self-bias" and row.basis == "held out":
            kind, given = tube_type(row.arguments["tube"]), row.arguments
            held = [p.volts for p in fit.points_of(kind, kind.sections[0].kind.value)]
            wanted = [given["plate"], given.get("screen", given["plate"]), -given["bias"]]
            volts = wanted if len(held[0]) == 3 else [wanted[0], wanted[2]]
            if row.id in (
                "stages-01-ik",
                "stages-02-vk",
            ):  # triode connection: all of the cathode current
                assert row.quantity != "plate current"
            else:
                assert pytest.approx(volts, rel=1e-3) not in held, row.id
            checked += 1
    assert checked >= 8


def test_a_point_left_out_changes_the_law():
    """Or it would not have been left out."""
    pairs = {r.id: predict(r) for r in ROWS if r.id.startswith("TP-") and r.id.endswith("-ia")}
    moved = [r for r in ROWS if r.id.removesuffix("-lo") in pairs and r.id.endswith("-ia-lo")]
    assert len(moved) >= 20
    for row in moved:
        assert predict(row) != pytest.approx(pairs[row.id.removesuffix("-lo")], rel=1e-6)


def numbers(line):
    cells = [c.strip() for c in line.strip("|").split("|")]
    return [(c, None) if not c.endswith(" %") else ("%", float(c[:-2])) for c in cells]


def test_the_readme_has_the_current_summary():
    """Words and counts to the letter; percentages to a tenth, as printed."""
    there = score.readme_part(score.README.read_text(encoding="utf-8")).splitlines()
    now = score.readme_table(score.scored()).splitlines()
    assert len(there) == len(now), "run python -m tests.published --readme"
    for old, new in zip(there, now, strict=True):
        assert [w for w, _ in numbers(old)] == [w for w, _ in numbers(new)]
        for (_, a), (_, b) in zip(numbers(old), numbers(new), strict=True):
            assert a == (b if b is None else pytest.approx(b, abs=0.11))


@pytest.fixture
def printed(monkeypatch):
    out = io.StringIO()
    monkeypatch.setattr(command, "Console", lambda: command_console(out))
    return out


def command_console(out):
    from rich.console import Console

    return Console(file=out, width=240, color_system=None)


def test_the_command_prints_every_value_and_every_family(monkeypatch, printed):
    monkeypatch.setattr(sys, "argv", ["published"])
    command.main()
    text = printed.getvalue()
    assert all(r.id in text for r in ROWS)
    assert all(line.family in text for line in score.summary())
