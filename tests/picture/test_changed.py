"""What is marked between two pictures: the parts and leads somebody changed, and no others."""

from __future__ import annotations

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.compare.nets import paired
from coldcheck.drawing import parse_drawing
from coldcheck.picture.changed import Changed, Twins, changed
from coldcheck.picture.draw import picture_of

STAGE = """\
tube V1 12AX7
B1 --+[E1 250 V]-- gnd
B1 --[R1 100k]-- V1A.plate --[C1 22 nF]-- OUT
OUT --[R4 1M]-- gnd
V1A.cathode --[R2 1k5]-- gnd
V1A.cathode --+[C2 25 uF 25 V]-- gnd
V1A.grid --[R3 1M]-- gnd
V1B.grid -- V1B.cathode -- gnd
chassis --[R9 10 ohm]-- gnd
"""


def marks(
    old: str,
    new: str,
    renamed: dict[str, str] | None = None,
    differing: tuple[frozenset[str], frozenset[str]] = (frozenset(), frozenset()),
) -> tuple[Changed, Changed]:
    circuits = [build_circuit(parse_drawing(text, "a.tube")) for text in (old, new)]
    twins = Twins(paired(*circuits), renamed or {}, differing)
    return changed(picture_of(circuits[0]), picture_of(circuits[1]), twins)


def edited(*edits: tuple[str, str]) -> str:
    text = STAGE
    for old, new in edits:
        assert text.count(old) == 1
        text = text.replace(old, new)
    return text


def test_the_same_has_no_marks() -> None:
    assert marks(STAGE, STAGE) == (Changed(), Changed())


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("V1A.grid --[R3 1M]-- gnd", "gnd --[R3 1M]-- V1A.grid"),
        ("B1 --+[E1 250 V]-- gnd", "gnd --[E1 250 V]+-- B1"),
        ("V1A.cathode --+[C2 25 uF 25 V]-- gnd", "gnd --[C2 25 uF 25 V]+-- V1A.cathode"),
    ],
)
def test_written_from_the_other_end_it_is_the_same(old: str, new: str) -> None:
    assert marks(STAGE, edited((old, new))) == (Changed(), Changed())


def test_a_capacitor_turned_has_both_its_leads_marked() -> None:
    one, two = marks(
        STAGE, edited(("V1A.cathode --+[C2", "V1A.cathode --[C2"), ("25 V]--", "25 V]+--"))
    )
    assert one.leads == two.leads == {("C2", "a"), ("C2", "b")}
    assert not one.parts | two.parts


def test_a_lead_on_another_point_is_ringed_in_both() -> None:
    one, two = marks(STAGE, edited(("V1A.grid --[R3 1M]-- gnd", "V1A.grid --[R3 1M]-- B1")))
    assert one == two == Changed(leads=frozenset({("R3", "b")}))


def test_a_part_more_is_framed_there_and_its_point_underlaid_here() -> None:
    one, two = marks(edited(("V1A.grid --[R3 1M]-- gnd\n", "V1A.grid --[C7 1 nF]-- IN\n")), STAGE)
    assert one == Changed(frozenset({"C7"}), nets=frozenset({"V1A.grid"}))
    assert two == Changed(frozenset({"R3"}), nets=frozenset({"V1A.grid"}))


def test_a_part_that_only_has_another_name_is_not_marked() -> None:
    new = edited(("[R3 1M]", "[R33 1M]"))
    assert marks(STAGE, new, {"R3": "R33"}) == (Changed(), Changed())
    assert marks(STAGE, new)[1].parts == {"R33"}


def test_another_value_is_framed_in_both() -> None:
    differing = (frozenset({"R1", "nothing drawn"}), frozenset({"R1"}))
    one, two = marks(STAGE, edited(("100k", "47k")), differing=differing)
    assert one == two == Changed(frozenset({"R1"}))


def test_a_bridge_between_two_points_marks_the_leads_of_the_lesser() -> None:
    one, two = marks(STAGE, STAGE + "OUT -- gnd\n")
    assert one.leads == two.leads == {("C1", "b"), ("R4", "a")}


def test_earth_joined_to_the_chassis_is_framed() -> None:
    one, two = marks(STAGE, STAGE + "earth -- chassis\n")
    assert one == Changed()
    assert two == Changed(frozenset({"earth"}))


def test_a_pin_wired_in_one_only_is_ringed_there() -> None:
    plain = "tube V1 6V6GT\nB1 --+[E1 250 V]-- gnd\nB1 --[R1 1k]-- V1.plate\nB1 --[R2 1k]-- X\n"
    one, two = marks(plain, plain + "X -- V1:6\n")
    assert two.leads == {("V1", "V1:6")}
    assert one.leads == set()
