"""A rectifier's AC against its sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from coldcheck.circuit.tubes import tube_type

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

TEXT = """mains 120 V 60 Hz
transformer T1
 primary pri 120 V 5 ohm
 winding ht {v} V ct {v} V 220 ohm
 winding fil 5 V 2 A 0.1 ohm
tube V3 5Y3GT heater T1.fil
T1.ht.1 -- V3.plate1
T1.ht.2 -- V3.plate2
T1.ht.ct -- gnd
V3:8 -- RES --[{first}]-- B1
B1 --[R2 10k 100 W]-- gnd
B1 --+[C2 10 uF 900 V]-- gnd
{more}
"""
CHOKE, CAPACITOR = "L1 10 H 200 ohm", "RES --[C1 4 uF 900 V film]-- gnd"


@pytest.mark.parametrize(
    ("name", "more"),
    [("supply-rms-capacitor-input", CAPACITOR), ("supply-rms-choke-input", "")],
)
@pytest.mark.parametrize(("share", "level"), [(0.99, None), (1.05, "advice"), (1.15, "notice")])
def test_both_kinds_of_filter(
    name: str, more: str, share: float, level: str | None, review: Callable[[str], Review]
) -> None:
    limit = tube_type("5Y3GT").rating(name).value
    looked = review(TEXT.format(v=round(share * limit, 1), first=CHOKE, more=more))
    assert looked.readable
    found = [f for f in looked.findings if f.rule == "supply.plate-supply-too-high"]
    assert [f.level for f in found] == ([level] if level else [])
    for f in found:
        assert f.limit.value == limit
        assert f.excess == pytest.approx(share, rel=1e-3)
