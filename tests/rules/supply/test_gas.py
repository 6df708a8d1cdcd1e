"""Mercury-vapour rectifiers, alone and in parallel."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tests.rules.conftest import PAIRS

from coldcheck.circuit import build_circuit
from coldcheck.circuit.tubes import DATA, load_type, tube_type
from coldcheck.drawing import parse_drawing
from coldcheck.rules.supply.gas import gas_rectifiers

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

ONE = """mains 120 V 60 Hz
transformer T1
primary pri 120 V 4 ohm
winding fil {filament}
winding ht 350 V ct 350 V 200 mA 80 ohm
T1.ht.ct --{tap}-- gnd
"""
T83 = "tube V1 83 heater T1.fil\nT1.ht.1 -- V1.plate1\nT1.ht.2 -- V1.plate2\nV1.f2 -- RAW\n"
T866 = (
    "tube V1 866A heater T1.fil\ntube V2 866A heater T1.fil\nT1.ht.1 -- V1.plate\n"
    "T1.ht.2 -- V2.plate\nV1.f2 -- RAW\n"
)
SHARED = T866.replace("ht.1 -- ", "ht.1 --[R8 56 ohm 5 W]-- ").replace(
    "ht.2 -- ", "ht.2 --[R9 56 ohm 5 W]-- "
)
CAPACITOR = "RAW --+[C1 8 uF 800 V]-- gnd\nRAW --[R1 22k 50 W]-- gnd\n"
CHOKE = "RAW --[L1 20 H 100 ohm]-- B1\nB1 --+[C1 8 uF 800 V]-- gnd\nB1 --[R1 10k 50 W]-- gnd\n"
SWITCH = "[S1 switch]"
FUSE = "[F9 fuse 0.5 A]"


@pytest.mark.parametrize(
    ("tubes", "tap", "load", "level"),
    [
        (T866, FUSE, CAPACITOR, "caution"),
        (T866, FUSE, CHOKE, "caution"),  # no delay
        (T866, SWITCH, CAPACITOR, "caution"),
        (T866, SWITCH, CHOKE, None),
        (T866, SWITCH, CHOKE + "RAW --[C9 0.95 uF 800 V]-- gnd\n", None),
        (T866, SWITCH, CHOKE + "RAW --[C9 1.05 uF 800 V]-- gnd\n", "caution"),
        # Resistors that share the current part the plates from the winding.
        (SHARED, FUSE, CHOKE, "caution"),
        # The sheet of an 83 has a rating with a capacitor first (memory).
        (T83, FUSE, CAPACITOR, "advice"),
        (T83, SWITCH, CHOKE, None),
    ],
)
def test_choke_first_and_a_delay(
    tubes: str, tap: str, load: str, level: str | None, review: Callable[[str], Review]
) -> None:
    filament = "5 V 4 A" if tubes is T83 else "2.5 V 12 A"
    looked = review(ONE.format(filament=filament, tap=tap) + tubes + load)
    assert [n for n in looked.not_judged if n.kind.broken] == []
    found = [f for f in looked.findings if f.rule == "supply.mercury-rectifier"]
    assert [f.level for f in found] == ([level] if level else [])
    for f in found:
        assert ("30 s" in f.remedy) is (tap == FUSE)
        assert ("choke" in f.remedy) is (load != CHOKE)
    # Such a switch is what they ask for.
    assert "supply.switch-ahead-of-rectifier" not in {f.rule for f in looked.findings}


def test_a_vacuum_rectifier_may_do_as_it_likes(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = ONE.format(filament="5 V 4 A", tap=FUSE) + T83.replace("V1 83", "V1 5U4GB") + CAPACITOR
    only(review(text.replace("V1.f2", "V1:8")), "supply.mercury-rectifier", count=0)


@pytest.mark.parametrize(
    ("description", "filling", "count"),
    [("rectifier without gas", "vacuum", 0), ("rectifier", "mercury", 1), ("rectifier", "gas", 1)],
)
def test_the_filling_decides_and_not_the_description(
    description: str, filling: str, count: int
) -> None:
    text = (DATA / "83.toml").read_text("utf-8").replace('name = "83"', 'name = "OWN"')
    text = text.replace("mercury-vapour full-wave rectifier", description)
    own = load_type(text.replace('filling = "mercury"', f'filling = "{filling}"'), "OWN.toml")
    tubes = T83.replace("V1 83", "V1 OWN")
    drawn = parse_drawing(ONE.format(filament="5 V 4 A", tap=FUSE) + tubes + CAPACITOR, "own.tube")
    circuit = build_circuit(drawn, {"OWN": own})
    assert circuit.problems == ()
    assert len(list(gas_rectifiers(circuit))) == count


def test_separate_primaries(sample: Callable[..., Review], only: Callable[..., object]) -> None:
    # S1 feeds both transformers and is no delay; S2 in the right drawing is.
    found = only(sample("supply.mercury-rectifier", "wrong"), "supply.mercury-rectifier")
    assert found.at == ("V1", "V2", "C1")
    only(sample("supply.mercury-rectifier", "right"), "supply.mercury-rectifier", count=0)


@pytest.mark.parametrize("delay", [True, False])
def test_separate_primaries_and_resistors_that_share(
    delay: bool, review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    """The resistors part the plates from the winding that feeds them, not from its switch."""
    text = (PAIRS / "supply.mercury-rectifier" / "right.tube").read_text("utf-8")
    for lead in ("1 -- V1", "2 -- V2"):
        own = lead.replace("--", f"--[R{lead[-1]}0 56 ohm 10 W]--")
        assert text.count(f"T2.ht.{lead}.plate") == 1
        text = text.replace(f"T2.ht.{lead}.plate", f"T2.ht.{own}.plate")
    if not delay:
        text = text.replace("ON --[S2 switch high-tension]--", "ON --")
    only(review(text), "supply.mercury-rectifier", count=not delay)


def test_a_tap_on_the_primary_that_is_not_used(
    review: Callable[[str], Review], only: Callable[..., object]
) -> None:
    text = (PAIRS / "supply.mercury-rectifier" / "right.tube").read_text("utf-8")
    text = text.replace("primary pri   120 V  4 ohm", "primary pri   120 V ct  4 ohm")
    only(review(text), "supply.mercury-rectifier", count=0)


@pytest.mark.parametrize(
    ("first", "second", "found"),
    [
        ("", "", True),
        ("[R2 47 ohm 5 W]--", "[R3 47 ohm 5 W]--", True),
        ("[R2 56 ohm 5 W]--", "[R3 56 ohm 5 W]--", False),
        ("[R2 56 ohm 5 W]--", "", True),
    ],
)
def test_sharing_resistors_of_fifty_ohms(
    first: str, second: str, found: bool, review: Callable[[str], Review]
) -> None:
    tube = (
        f"tube V1 83 heater T1.fil\nT1.ht.1 --{first} V1.plate1\nT1.ht.1 --{second} V1.plate2\n"
        "V1.f2 -- RAW\n"
    )
    looked = review(ONE.format(filament="5 V 4 A", tap=SWITCH) + tube + CHOKE)
    hits = [f for f in looked.findings if f.rule == "supply.rectifiers-paralleled"]
    assert bool(hits) is found
    assert {f.level for f in hits} <= {"caution"}
    assert all(f.limit.value == 50 for f in hits)


def test_the_drop_of_the_types_on_file() -> None:
    # 15 V at the rated direct current (memory, RCA sheets).
    for name, amps in (("83", 0.225), ("866A", 0.25), ("866", 0.25)):
        law = tube_type(name).sections[0].law
        assert law is not None
        assert law.parameters["perveance"] * 15**1.5 == pytest.approx(amps, rel=1e-4)


@pytest.mark.parametrize(
    ("written", "instead", "at"),
    [
        ("HOT -- T1.pri.1", "HOT -- T1.pri.1", "T1.pri.1"),
        ("HOT -- T1.pri.1", "HOT --[F3 0.4 A slow 250 V]-- T1.pri.1", "F3"),
        ("HOT -- T1.pri.1", "ON -- T1.pri.1", None),
        ("ON --[S2 switch high-tension]-- HOT", "ON --[F3 2 A slow 250 V]-- HOT", "V1"),
    ],
)
def test_a_second_switch_with_the_filament_behind_it(
    written: str, instead: str, at: str | None, changed: Callable[[str, str, str, str], Review]
) -> None:
    rule = "supply.mercury-rectifier"
    looked = changed(f"{rule}/both-behind", "wrong", written, instead)
    found = [f for f in looked.findings if f.rule == rule]
    assert [f.at[0] for f in found] == ([] if at is None else [at])
    level = "advice" if at == "V1" else "notice"  # one switch: nothing was meant to wait
    assert all(f.level == level for f in found)
    assert all(("to ON, ahead of S2" in f.remedy) is (at != "V1") for f in found)
