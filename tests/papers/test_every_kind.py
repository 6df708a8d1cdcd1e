"""One type of every description on file, wired plainly to a bench supply: reviewed and charted."""

from __future__ import annotations

import pytest

from coldcheck.bench.chart.chart import chart_of
from coldcheck.circuit.leads import lead_key
from coldcheck.circuit.tubes import known_types, tube_type
from coldcheck.drawing import parse_drawing
from coldcheck.verdict.engine import review_drawing
from coldcheck.verdict.ruling import Verdict

ONE_EACH = sorted(
    {
        (t.description, t.cathode, t.pins_known, all(s.law for s in t.sections)): t.name
        for t in map(tube_type, known_types())
    }.values()
)


def plainly(name: str) -> str:
    """Plates and screens fed through resistors, grids and cathodes returned, the heater on its own
    source."""
    kind = tube_type(name)
    lines = ["B --+[E1 150 V]-- gnd", f"tube V1 {name}"]
    first, last = ("f1", "f2") if kind.cathode == "filament" else ("h1", "h2")
    if kind.heaters:
        volts = kind.heaters[0].volts.value
        lines += [f"H --+[E2 {volts:g} V]-- gnd", f"H -- V1.{first}", f"V1.{last} -- gnd"]
    leads = {
        lead_key("V1", kind, s.name, e): e
        for s in kind.sections for e in s.electrodes if e not in ("f1", "f2")
    }  # fmt: skip
    lines += [_wired(n, lead, electrode) for n, (lead, electrode) in enumerate(leads.items(), 1)]
    return "\n".join(lines) + "\n"


def _wired(number: int, lead: str, electrode: str) -> str:
    if electrode.startswith(("plate", "target")):
        return f"B --[R{number} 47k 5 W]-- {lead}"
    if electrode in ("screen", "grid2"):
        return f"B --[R{number} 100k 2 W]-- {lead}"
    return f"{lead} --[R{number} {'1k 5 W' if electrode == 'cathode' else '1M'}]-- gnd"


@pytest.mark.parametrize("name", ONE_EACH)
def test_it_can_be_wired_reviewed_and_charted(name: str) -> None:
    review = review_drawing(parse_drawing(plainly(name)))
    assert review.readable, [f.message for f in review.findings]
    assert not review.broken
    assert all(s.converged for s in review.solutions.values())
    if not all(s.law for s in tube_type(name).sections):
        assert review.verdict() is not Verdict.LET_THROUGH
    assert chart_of(review.circuit).rows()
