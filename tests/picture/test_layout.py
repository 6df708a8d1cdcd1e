"""What stands where: panels, rows and order of stages, what hangs and what stands."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

from coldcheck.circuit.build import build_circuit
from coldcheck.drawing import parse_drawing, read_drawing
from coldcheck.picture.devices import Symbol, devices_of, inventory
from coldcheck.picture.draw import picture_of
from coldcheck.picture.grid import Dir
from coldcheck.picture.roles import roles_of
from coldcheck.picture.wording import part_lines
from coldcheck.report.picture.svg import render

SAMPLES = Path(__file__).parents[2] / "samples"


def _picture(name):
    return picture_of(build_circuit(read_drawing(SAMPLES / f"{name}.tube")))


def _drawn(*lines):
    return picture_of(build_circuit(parse_drawing("\n".join(lines) + "\n")))


def _items(picture, panel):
    items = [item for p in picture.panels if p.name == panel for item in p.items]
    return {item.device.name: item for item in items if item.device.symbol is not Symbol.FLAG}


def _at(picture, name):
    return next(i for p in picture.panels for i in p.items if i.device.name == name)


def test_rails_are_followed_from_the_rectifier_and_from_sources():
    circuit = build_circuit(read_drawing(SAMPLES / "breakwater.tube"))
    roles = roles_of(circuit, inventory(devices_of(circuit)))
    assert {"RES", "B1", "B2", "B3"} <= set(roles.positive)
    assert {"NEG", "NEG2", "BIAS"} <= set(roles.negative)
    assert not {"FB", "DRV2", "V1A.plate"} & roles.rails


def test_each_part_is_in_the_panel_it_belongs_to():
    picture = _picture("breakwater")
    assert {"V1A", "V3", "T2", "LS1"} <= set(_items(picture, "signal"))
    assert {"T1", "D1", "L1"} <= set(_items(picture, "supply"))
    assert {"T1.warm", "V1 heater"} <= set(_items(picture, "heaters"))
    assert {"T1.neg", "P1", "R6"} <= set(_items(picture, "bias"))


def test_each_sheet_is_a_panel():
    names = [panel.name for panel in _picture("twin-quay").panels]
    assert names == ["L", "R", "supply", "heaters"]


def test_the_signal_runs_from_left_to_right():
    items = _items(_picture("coal-wharf"), "signal")
    order = ["signal IN", "R6", "V1A", "C6", "P2", "V1B", "C10", "V2", "T2", "LS1"]
    places = [items[name].x for name in order]
    assert places == sorted(places)


def test_a_push_pull_pair_stands_one_above_the_other():
    items = _items(_picture("breakwater"), "signal")
    assert items["V2"].x == items["V3"].x
    assert abs(items["V2"].y - items["V3"].y) > 20


def test_a_long_tailed_pair_stands_side_by_side():
    items = _items(_picture("sluice-gate"), "signal")
    assert items["V1A"].y == items["V1B"].y
    assert items["V1A"].x < items["V1B"].x < items["V2"].x


def test_a_stacked_stage_is_stacked_by_potential():
    picture = _picture("signal-mast")
    upper, between, lower = (_at(picture, name) for name in ("V1B", "R12", "V1A"))
    assert upper.x == between.x == lower.x
    assert upper.y < between.y < lower.y


def test_a_plate_load_stands_above_and_cathode_parts_hang_below():
    items = _items(_picture("harbour-light"), "signal")
    assert items["R3"].x == items["V1A"].x == items["R4"].x
    assert items["R3"].y < items["V1A"].y < items["R4"].y
    assert items["C5"].y == items["R4"].y


def test_a_coupling_capacitor_lies():
    assert _at(_picture("harbour-light"), "C4").turn in (Dir.LEFT, Dir.RIGHT)


def test_bias_pots_are_with_the_bias_and_their_wipers_are_named():
    picture = _drawn(
        "N1 --[E1 60 V]+-- gnd", "B1 --+[E2 300 V]-- gnd", "tube V1 6V6GT", "pot P1 10k",
        "signal IN 1 V", "N1 -- P1.bottom", "P1.top --[R1 10k]-- gnd",
        "IN --[C1 100n 400 V]-- V1.grid --[R2 220k]-- P1.wiper", "V1.cathode -- gnd",
        "B1 --[R3 5k]-- V1.plate", "B1 -- V1.screen",
    )  # fmt: skip
    assert "P1" in _items(picture, "bias")
    assert {"V1", "R2"} <= set(_items(picture, "signal"))


def test_long_rows_of_stages_go_on_below():
    lines, before = ["B1 --+[E1 250 V]-- gnd", "signal IN 1 V"], "IN"
    for n in range(1, 13):
        lines += [
            f"tube V{n} 6J5", f"{before} --[C{n} 22n]-- V{n}.grid --[R{n} 1M]-- gnd",
            f"B1 --[RL{n} 100k]-- V{n}.plate", f"V{n}.cathode --[RK{n} 1k5]-- gnd",
        ]  # fmt: skip
        before = f"V{n}.plate"
    picture = _drawn(*lines)
    rows = {_at(picture, f"V{n}").y for n in range(1, 13)}
    assert len(rows) == 2
    assert picture.width < 230


def test_values_stay_as_the_drawing_has_them():
    assert part_lines("4k7 0.5 W", most=2) == ("4k7", "0.5\u00a0W")
    assert part_lines("22 nF 630 V film", most=2) == ("22\u00a0nF", "630\u00a0V")
    assert part_lines("270 ohm 5 W", most=2) == ("270\u00a0Ω", "5\u00a0W")
    assert part_lines("?", most=2) == ("?",)


def test_an_open_value_is_drawn_as_open():
    picture = _drawn("B1 --+[E1 250 V]-- gnd", "B1 --[R1 ?]-- gnd")
    assert _at(picture, "R1").device.lines == ("R1", "?")


def test_what_is_open_is_marked_with_its_name():
    picture = _drawn(
        "tube V1 oops oops", "B1 --+[E1 250 V]-- gnd", "B1 --[R1 100k]-- V1.plate",
        "V1.plate --[C1 22n]-- OUT",
    )  # fmt: skip
    items = [item.device for panel in picture.panels for item in panel.items]
    flags = {d.lines[0] for d in items if d.symbol is Symbol.FLAG}
    assert {"V1.plate", "OUT"} <= flags


def test_behind_the_fuse_of_a_winding_is_no_negative_rail():
    picture = _drawn(
        "mains 120 V 60 Hz", "transformer T1", "    primary pri 120 V", "    winding ht 115 V",
        "line -- T1.pri.1", "neutral -- T1.pri.2", "T1.ht.1 --[F1 315 mA]-- W1",
        "W1 --[D1 1N4007]-> B1", "W1 <-[D2 1N4007]-- gnd", "B1 --+[C1 100 uF 250 V]-- T1.ht.2",
        "T1.ht.2 --+[C2 100 uF 250 V]-- gnd",
    )  # fmt: skip
    assert {"T1", "F1", "D1", "D2", "C1", "C2"} <= set(_items(picture, "supply"))
    assert [panel.name for panel in picture.panels] == ["supply"]


REGULATOR = (
    "RAW --+[E1 400 V]-- gnd",
    "tube V1 6L6GC",
    "tube V2 6SJ7",
    "RAW -- V1.plate",
    "RAW --[R1 100 ohm]-- V1.screen",
    "V1.cathode -- OUT",
    "OUT --+[C1 10 uF 450 V]-- gnd",
    "V2.plate --[R2 1k]-- V1.grid",
    "RAW --[R3 470k]-- V2.plate",
    "OUT --[R4 100k]-- V2.screen",
    "V2.cathode -- V2.suppressor",
    "V2.cathode --[R5 10k]-- gnd",
    "pot P1 20k",
    "OUT --[R6 100k]-- P1.top",
    "P1.bottom --[R7 68k]-- gnd",
    "P1.wiper -- V2.grid",
)


def test_what_a_regulators_tube_feeds_is_a_rail():
    circuit = build_circuit(parse_drawing("\n".join(REGULATOR) + "\n"))
    assert not circuit.problems
    roles = roles_of(circuit, inventory(devices_of(circuit)))
    assert circuit.points["OUT"] in roles.positive


def test_a_followers_cathode_is_no_rail():
    lines = [*REGULATOR[:4], "V1.cathode --[R9 10k]-- gnd", "V1.cathode --[C9 100n]-- X"]
    circuit = build_circuit(parse_drawing("\n".join([*lines, "X --[R8 1M]-- gnd"]) + "\n"))
    roles = roles_of(circuit, inventory(devices_of(circuit)))
    assert circuit.points["V1.cathode"] not in roles.rails


def test_a_divider_with_a_pot_in_it_is_one_column():
    picture = _drawn(*REGULATOR)
    upper, pot, lower = (_at(picture, name) for name in ("R6", "P1", "R7"))
    assert upper.x == pot.x == lower.x
    assert upper.y < pot.y < lower.y


def test_a_hum_pot_lies_below_its_filament():
    picture = _picture("old-pier")
    tube, pot, resistor = (_at(picture, name) for name in ("V2", "P2", "R9"))
    assert pot.turn is Dir.RIGHT
    assert tube.x == pot.x == resistor.x
    assert tube.y < pot.y < resistor.y


def test_two_resistors_at_a_filament_lie_below_it():
    picture = _drawn(
        "tube V1 2A3",
        "B1 --+[E1 250 V]-- gnd",
        "B1 -- V1.plate",
        "V1.f1 --[R1 50 ohm]-- K --[R2 50 ohm]-- V1.f2",
        "K --[R3 750 ohm]-- gnd",
        "V1.grid --[R4 220k]-- gnd",
    )
    tube, left, right, below = (_at(picture, name) for name in ("V1", "R1", "R2", "R3"))
    assert left.y == right.y > tube.y
    assert left.x < tube.x < right.x
    assert below.x == tube.x
    assert below.y > left.y


def test_the_capacitors_of_a_doubler_stand_one_above_the_other():
    items = _items(_picture("coal-wharf"), "supply")
    assert all(items[name].turn in (Dir.UP, Dir.DOWN) for name in ("C1", "C2", "R1", "R2"))
    assert items["C1"].y < items["C2"].y
    assert items["R1"].y < items["R2"].y


def test_a_diode_hangs_between_the_two_leads_of_a_winding():
    picture = _picture("breakwater")
    winding = next(i for i in _items(picture, "supply").values() if i.device.name == "T1")
    rows = {p.name: p.y for p in winding.ports}
    diode = _at(picture, "D1")
    assert rows["ht.1"] < diode.y < rows["ht.2"]
    lower = [w for p in picture.panels for w in p.wires if w.net == "T1.ht.2"]
    assert lower
    assert all(y == rows["ht.2"] for w in lower for _, y in w.points)  # without a jog


def test_a_filament_on_its_rails_winding_is_a_loop_with_one_flag():
    picture = _picture("sluice-gate")
    heaters = next(p for p in picture.panels if p.name == "heaters")
    named = [i for i in heaters.items if i.device.symbol is Symbol.FLAG]
    assert [i.device.name for i in named].count("RES") == 1


# -- receivers, mains filters, shunt regulators -------------------------------------------


RECEIVER = (
    "tube V1 6BE6", "tube V2 6BA6", "tube V3 6AT6",
    "transformer L1", "    winding loop 4/25 turns 250 uH 3 ohm",
    "transformer L2 coupling 40 %", "    winding tank 150 uH 4 ohm",
    "    winding tick 20 uH 1 ohm dot 2",
    "transformer IF1 coupling 1.5 %", "    winding pri 1.2 mH 12 ohm",
    "    winding sec 1.2 mH 12 ohm",
    "transformer IF2 coupling 1.5 %", "    winding pri 1.2 mH 12 ohm",
    "    winding sec 1.2 mH 12 ohm",
    "pot P1 500k at 50 %",
    "B1 --+[E1 200 V]-- gnd", "signal ANT 1 mV 1 MHz", "ANT --[C4 100 pF]-- L1.loop.4",
    "L1.loop.1 -- AVC", "AVC --[C5 47 nF 200 V]-- gnd", "L1.loop.2 --[C6 200 pF]-- gnd",
    "L1.loop.2 -- V1.grid3", "L2.tank.1 -- gnd", "L2.tank.2 --[C7 200 pF]-- gnd",
    "L2.tank.2 --[C8 47 pF]-- V1.grid --[R3 22k]-- gnd", "L2.tick.1 -- gnd",
    "L2.tick.2 -- V1.cathode", "B1 -- V1.screen", "V1.plate -- IF1.pri.1", "IF1.pri.2 -- B1",
    "IF1.pri.1 --[C9 100 pF]-- IF1.pri.2", "IF1.sec.1 -- V2.grid", "IF1.sec.2 -- AVC",
    "IF1.sec.1 --[C10 100 pF]-- IF1.sec.2", "V2.cathode --[R4 68 ohm]-- gnd",
    "V2.suppressor -- V2.cathode", "B1 -- V2.screen", "V2.plate -- IF2.pri.1",
    "IF2.pri.2 -- B1", "IF2.sec.1 -- V3.diode1", "IF2.sec.2 --[R5 47k]-- DET",
    "IF2.sec.2 --[C13 100 pF]-- gnd", "DET --[C14 100 pF]-- gnd", "DET -- P1.top",
    "P1.bottom -- gnd", "V3.cathode -- gnd", "V3.diode2 -- gnd", "DET --[R6 2M2]-- AVC",
    "P1.wiper --[C15 4n7]-- V3.grid --[R7 10M]-- gnd",
    "B1 --[R8 220k]-- V3.plate --[C16 10 nF]-- OUT --[R9 470k]-- gnd",
)  # fmt: skip
"""A receiver as handbooks draw it: converter, IF, detector, audio (common practice)."""


def test_a_receiver_runs_from_the_aerial_through_its_cans_to_the_detector():
    items = _items(_drawn(*RECEIVER), "signal")
    order = ["ANT", "C4", "L1", "V1", "IF1", "V2", "IF2", "R5", "P1", "C15", "V3", "C16"]
    names = {name.removeprefix("signal "): item.x for name, item in items.items()}
    assert [names[n] for n in order] == sorted(names[n] for n in order)


def test_what_tunes_a_winding_stands_beside_it_on_its_own_side():
    items = _items(_drawn(*RECEIVER), "signal")
    can = items["IF1"]
    assert items["C9"].x < can.x < items["C10"].x
    for name in ("C9", "C10"):
        assert items[name].turn in (Dir.UP, Dir.DOWN)
        assert abs(items[name].x - can.x) < 15
        assert can.y <= items[name].y <= can.y + 7


def test_a_bypassed_end_of_a_coil_leads_no_signal():
    """The AVC line is on every can; without the rule the detector would stand beside the input."""
    items = _items(_drawn(*RECEIVER), "signal")
    assert items["V3"].x > items["V2"].x > items["V1"].x


def test_coils_without_iron_have_no_core():
    whole = render(_drawn(*RECEIVER))
    wound = ("    winding a 1 turn 10 H", "    winding b 3 turns")
    wired = ("A -- T1.a.1", "T1.a.2 -- gnd", "B -- T1.b.1", "T1.b.2 -- gnd")
    iron = render(_drawn("transformer T1 gapped", *wound, *wired))
    assert len(_upright(iron, "T1")) == 2
    assert _upright(whole, "IF1") == []


def _upright(drawn, part):
    """The straight upright strokes of a symbol: at a transformer, its core."""
    group = re.search(rf'<g data-part="{part}">.*?</g>', drawn)[0]
    strokes = re.findall(r'd="M([-\d.]+) ([-\d.]+)L([-\d.]+) ([-\d.]+)"', group)
    return [s for s in strokes if s[0] == s[2]]


MAINS = (
    "mains 230 V 50 Hz", "transformer T1", "    primary pri 230 V 10 ohm",
    "    winding ht 250 V 80 mA 200 ohm",
    "line --[F1 fuse 1 A slow]-- A", "A --[S1 switch 4 A]-- B", "B --[C1 100 nF X2]-- neutral",
    "B --[R1 1M 0.5 W 500 V]-- neutral", "B --[L1 5 mH 1 ohm]-- C",
    "neutral --[L2 5 mH 1 ohm]-- D", "C --[C2 100 nF X2]-- D", "C --[C3 2.2 nF Y2]-- chassis",
    "D --[C4 2.2 nF Y2]-- chassis", "C --[RT1 thermistor 10 ohm 2 A]-- T1.pri.1",
    "D -- T1.pri.2", "earth -- chassis", "chassis -- gnd", "T1.ht.1 --[D1 1N4007]-> RAW",
    "T1.ht.2 -- gnd", "RAW --+[C10 47 uF 450 V]-- gnd", "RAW --[R2 10k 5 W]-- gnd",
)  # fmt: skip


def test_a_mains_filter_keeps_its_order_between_two_wires():
    items = _items(_drawn(*MAINS), "supply")
    order = [("F1",), ("S1",), ("R1", "C1"), ("L1", "L2"), ("C2",), ("RT1",), ("T1",), ("D1",)]
    ends = [(min(items[n].x for n in some), max(items[n].x for n in some)) for some in order]
    assert all(a[1] < b[0] for a, b in pairwise(ends))
    line, neutral = items["F1"].y, items["L2"].y
    assert items["L1"].y == items["RT1"].y == line < neutral
    for name in ("R1", "C1", "C2"):
        assert line < items[name].y < neutral
        assert items[name].turn in (Dir.UP, Dir.DOWN)
    assert items["C3"].y > neutral
    assert items["C4"].y > neutral


def test_gas_tubes_in_series_stand_in_a_column():
    items = _items(
        _drawn("mains 120 V 60 Hz", "transformer T1", "    primary pri 120 V 5 ohm",
               "    winding ht 350 V 100 mA 200 ohm", "line -- T1.pri.1", "T1.pri.2 -- neutral",
               "T1.ht.1 --[D1 1N4007]-> RAW", "T1.ht.2 -- gnd", "RAW --+[C1 47 uF]-- gnd",
               "tube V2 0A2", "tube V3 0B2", "RAW --[R1 3k3 10 W]-- B1", "B1 -- V2.plate",
               "V2.cathode -- V3.plate", "V3.cathode -- gnd", "V2.cathode --[R2 100k]-- gnd",
               "tube V1 12AX7", "B1 --[R3 100k]-- V1A.plate", "V1A.cathode --[R4 1k]-- gnd",
               "V1A.grid --[R5 1M]-- gnd"),
        "supply",
    )  # fmt: skip
    assert items["V2"].x == items["V3"].x
    assert items["V2"].y < items["V3"].y


SHUNT = (
    "tube V1 12AX7", "tube V2 6L6GC", "B1 --+[E1 300 V]-- gnd", "LOW --+[E2 100 V]-- gnd",
    "B1 -- V2.plate", "B1 --[R2 470 ohm]-- V2.screen", "V2.cathode --[R3 100 ohm]-- LOW",
    "V2.grid --[R4 220k]-- LOW", "B1 --[R5 100k]-- V1A.plate --[C4 100 nF]-- V2.grid",
    "V1A.cathode --[R8 1k5]-- gnd", "B1 --[R6 220k]-- SENSE --[R7 2k2]-- gnd",
    "SENSE -- V1A.grid",
)  # fmt: skip


def test_without_a_signal_the_section_that_none_drives_comes_first():
    items = _items(_drawn(*SHUNT[1:], SHUNT[0]), "signal")
    assert items["V1A"].x < items["C4"].x < items["V2"].x


def test_a_cathode_that_returns_to_a_rail_has_its_resistor_below_it():
    items = _items(_drawn(*SHUNT), "signal")
    assert items["R3"].x == items["V2"].x
    assert items["R3"].y > items["V2"].y


STACK = (
    "tube V1 12AX7", "B1 --+[E1 300 V]-- gnd", "signal IN 20 mV 1 kHz", "IN -- V1A.grid",
    "IN --[R2 1M]-- gnd", "V1A.cathode --[R3 1k5]-- gnd", "B1 --[R4 100k]-- V1A.plate",
    "pot P1 250k at 50 %", "pot P2 1M at 50 %", "pot P3 25k at 50 %",
    "V1A.plate --[C2 250 pF 500 V]-- P1.top", "V1A.plate --[R5 56k]-- SLOPE",
    "SLOPE --[C3 22 nF 400 V]-- P1.bottom", "SLOPE --[C4 22 nF 400 V]-- P2.bottom",
    "P1.bottom -- P2.top", "P2.wiper -- P2.top", "P2.bottom -- P3.top", "P3.wiper -- P3.top",
    "P3.bottom -- gnd", "P1.wiper -- V1B.grid", "B1 --[R6 100k]-- V1B.plate",
    "V1B.cathode --[R7 820 ohm]-- gnd", "V1B.plate --[C6 22 nF]-- OUT --[R8 1M]-- gnd",
)  # fmt: skip
"""Treble, bass and middle as amplifiers of the trade have them (common practice)."""


def test_the_controls_of_a_tone_stack_stand_in_a_column_with_what_feeds_them_to_the_left():
    picture = _drawn(*STACK)
    items = _items(picture, "signal")
    assert items["P1"].x == items["P2"].x == items["P3"].x
    assert items["P1"].y < items["P2"].y < items["P3"].y
    assert items["C3"].x == items["C4"].x < items["P1"].x
    assert items["P1"].y < items["C3"].y < items["P2"].y < items["C4"].y < items["P3"].y
    assert items["V1A"].x < items["R5"].x < items["C3"].x
    assert items["R5"].y < items["C3"].y
    flags = [i for p in picture.panels for i in p.items if i.device.symbol is Symbol.FLAG]
    assert {i.device.name for i in flags} == {"B1"}
