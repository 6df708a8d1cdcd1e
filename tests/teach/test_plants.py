"""Every kind of mistake is planted somewhere, can be read, and says what it did."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldcheck.drawing import parse_drawing
from coldcheck.teach.clean import Clean
from coldcheck.teach.plant import Planted
from coldcheck.teach.plants import KINDS, plants
from coldcheck.verdict.engine import review_drawing

SAMPLES = Path(__file__).parents[2] / "samples"
NAMES = ("harbour-light", "breakwater", "galley", "ballast", "sluice-gate")
WHERE = {
    "heater reference left out": ("T1.warm",),
    "k lost": ("R1", "R8", "R9", "R3", "R6", "R4", "R5"),
    "grid return left out": ("R5", "R6"),
    "bleeder left out": ("R9",),
    "electrolytic turned round": ("C1", "C2", "C3", "C9", "C7"),
    "speaker left out": ("LS1",),
}
"""What a reader of harbour-light.tube finds with a pencil. R5 and R6 are the one return of V2's
grid, R9 the lower half of the only divider across the supply. C5 holds 1.4 V, too little to mind.
"""


def prepared(name: str) -> Clean:
    text = (SAMPLES / f"{name}.tube").read_text(encoding="utf-8")
    return Clean.of(name, text, review_drawing(parse_drawing(text, name)))


@pytest.fixture(scope="module")
def exhibits() -> list[object]:
    return [e for name in NAMES for e in plants(prepared(name))]


def test_every_kind_applies_somewhere(exhibits) -> None:  # type: ignore[no-untyped-def]
    assert {e.kind for e in exhibits} == set(KINDS)
    assert len(exhibits) > 150


def test_every_plant_can_be_read_and_differs(exhibits) -> None:  # type: ignore[no-untyped-def]
    for exhibit in exhibits:
        text = exhibit.plant.text
        assert parse_drawing(text).problems == (), exhibit.name
        assert text != (SAMPLES / f"{exhibit.sample}.tube").read_text(encoding="utf-8")
        assert exhibit.plant.at
        assert exhibit.plant.rules
        assert exhibit.plant.what


@pytest.mark.parametrize("kind", WHERE)
def test_where_a_kind_applies_in_one_sample(clean: Clean, kind: str) -> None:
    assert {e.plant.at[0] for e in plants(clean, (kind,))} == set(WHERE[kind])


def test_an_output_beside_a_parked_grid_is_no_coupling_to_it() -> None:
    """The spare half's grid is on gnd, where the load of the output ends: no grid stands behind."""
    text = (
        "tube V1 12AX7\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 100k]-- V1A.plate\n"
        "V1A.cathode --[R2 1k5]-- gnd\nV1A.grid --[R3 1M]-- gnd\n"
        "V1A.plate --[C1 22 nF 400 V]-- OUT --[R4 1M]-- gnd\n"
        "V1B.plate -- V1B.cathode -- V1B.grid -- gnd\n"
    )
    clean = Clean.of("stage", text, review_drawing(parse_drawing(text)))
    assert not list(plants(clean, ("coupling capacitor shorted", "wire to a grid left out")))
    driven = text.replace("V1B.plate -- V1B.cathode -- V1B.grid -- gnd", "V1B.grid -- OUT")
    driven += "V1B.cathode --[R5 1k5]-- gnd\nB1 --[R6 100k]-- V1B.plate\n"
    clean = Clean.of("stages", driven, review_drawing(parse_drawing(driven)))
    (found,) = plants(clean, ("coupling capacitor shorted",))
    assert found.plant.at == ("C1",)


@pytest.mark.parametrize(("kind", "count"), [("12AX7", 0), ("6SN7GTB", 1)])
def test_twice_the_heater_voltage_is_no_mistake_where_the_type_takes_it(
    kind: str, count: int
) -> None:
    text = (
        "mains 230 V 50 Hz\ntransformer T1\n    primary pri 230 V 10 ohm\n"
        f"    winding warm 6.3 V ct 1 A\nT1.warm.ct -- gnd\ntube V1 {kind} heater T1.warm\n"
        "line --[F1 fuse 0.2 A]-- T1.pri.1\nT1.pri.2 -- neutral\n"
    )
    clean = Clean.of("warm", text, review_drawing(parse_drawing(text)))
    assert len(list(plants(clean, ("heater winding of twice the voltage",)))) == count


def test_what_counts_as_found() -> None:
    plant = Planted(("R1",), "", "", ("resistor.over-power",), ("V1",))
    assert plant.found_by("resistor.over-power", ("R1",))
    assert plant.found_by("resistor.over-power", ("V1.plate",))
    assert not plant.found_by("resistor.over-power", ("R2",))
    assert not plant.found_by("grid.no-return", ("R1",))
    assert Planted(("R1",), "", "", ("*",)).found_by("grid.no-return", ("R1",))
