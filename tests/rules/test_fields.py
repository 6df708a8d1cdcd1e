"""Every rating and value the language accepts is judged by some rule: one row a field, no gaps.

A row is a small drawing with the field in it, a value at which the rule named is silent, and one
at which it is not. A field of the tables without a row, and a row without a field, fail.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import pytest
from tests.rules.conftest import TODAY

from coldcheck.circuit.tubes import RATING_NAMES, UNREAD_RATINGS
from coldcheck.drawing import model, parse_drawing
from coldcheck.drawing.kinds import FORMS
from coldcheck.verdict.engine import review_drawing

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.drawing.kinds import Form
    from coldcheck.verdict.review import Review


@dataclass(frozen=True, slots=True)
class Row:
    """``text`` with ``sound`` and with ``absurd`` in the place of ``@``."""

    rule: str
    text: str
    sound: str
    absurd: str


def across(part: str, volts: float, more: str = "1k") -> str:
    """A part and a resistor in series across a source."""
    return f"B1 --+[E9 {volts} V]-- gnd\nB1 --{part}-- X --[R9 {more}]-- gnd\n"


MAINS = "mains 120 V 60 Hz\ntransformer T1\n primary pri 120 V 1 ohm\n"
HELD = "B1 --+[E9 200 V]-- gnd\nB1 --[R1 10k 20 W {0}]-- X\nX --[R2 10k 20 W {1}]-- gnd\n"
SPEAKER = (
    "tube V1 6V6GT\noutput T2 5k : 8 ohm 200 ohm\nB1 --+[E9 250 V]-- gnd\nB1 -- T2.p1\n"
    "T2.p2 -- V1.plate\nB1 --[R2 470 ohm 5 W]-- V1.screen\nV1.cathode --[R7 270 ohm 5 W]-- gnd\n"
    "signal IN 8 V\nIN -- V1.grid --[R6 470k]-- gnd\nT2.s2 -- gnd\nT2.s1 --[@]-- gnd\n"
)
LINE = MAINS + (
    " winding w 6.3 V 1 A\nT1.w.1 --[R1 10 ohm 10 W]-- T1.w.2\nT1.w.2 -- gnd\n"
    "line --[@]-- T1.pri.1\nT1.pri.2 -- neutral\nearth -- chassis -- gnd\n"
)

DIODE = "B1 --+[E9 100 V]-- gnd\nB1 --[D1 diode @]-> X --[R1 1k 20 W]-- gnd\n"
SHUNT = across("[R1 10k 5 W]", 200, "1M") + "gnd --[Z1 zener 50 V 5 W @]-> X\n"

PARTS: dict[tuple[str, str], Row] = {
    ("resistor", "value"): Row("resistor.over-power", across("[R1 @ 1 W]", 100, "1"), "100k",
                               "100 ohm"),
    ("resistor", "voltage"): Row("resistor.over-voltage", across("[R1 1M 1 W @]", 400), "500 V",
                                 "100 V"),
    ("resistor", "power"): Row("resistor.over-power", across("[R1 1k @]", 100), "10 W", "1 W"),
    ("resistor", "tolerance"): Row(
        "capacitor.over-voltage", HELD.format("@", "1 %") + "X --[C1 1 uF 110 V film]-- gnd\n",
        "1 %", "25 %"),
    ("capacitor", "value"): Row(
        "capacitor.ripple-current",
        MAINS + " winding w 100 V 1 ohm\nT1.w.2 -- gnd\nT1.w.1 --[C1 @ 400 V 0.1 A]-- gnd\n",
        "1 uF", "10 uF"),
    ("capacitor", "voltage"): Row("capacitor.over-voltage", across("[C1 1 uF @ film]", 250),
                                  "400 V", "100 V"),
    ("capacitor", "current"): Row(
        "capacitor.ripple-current",
        MAINS + " winding w 100 V 1 ohm\nT1.w.2 -- gnd\nT1.w.1 --[C1 10 uF 400 V @]-- gnd\n",
        "1 A", "0.1 A"),
    ("inductor", "value"): Row("supply.choke-opened",
                               across("[S1 switch]--[L1 @ 10 ohm]", 100), "0.1 H", "10 H"),
    ("inductor", "current"): Row("supply.coil-overload", across("[L1 5 H 10 ohm @]", 100), "0.2 A",
                                 "50 mA"),
    ("inductor", "resistance"): Row("supply.coil-overload",
                                    across("[L1 5 H @ 50 mA]", 100), "2000 ohm", "10 ohm"),
    ("inductor", "insulation"): Row("supply.insulation-overstressed",
                                    across("[L1 5 H 10 ohm insulation @]", 400), "500 V", "100 V"),
    ("diode", "voltage"): Row("supply.inverse-voltage",
                              "B1 --+[E9 100 V]-- gnd\ngnd --[D1 diode @]-> B1\n", "200 V", "50 V"),
    ("diode", "current"): Row("supply.diode-overload", DIODE, "1 A", "50 mA"),
    ("diode", "power"): Row("supply.diode-overload", DIODE, "1 W", "10 mW"),
    ("led", "value"): Row("supply.diode-overload",
                          "B1 --+[E9 5 V]-- gnd\nB1 --[LED1 @ 20 mA]-> X --[R1 100 ohm]-- gnd\n",
                          "4 V", "2 V"),
    ("led", "current"): Row("supply.diode-overload",
                            "B1 --+[E9 5 V]-- gnd\nB1 --[LED1 2 V @]-> X --[R1 100 ohm]-- gnd\n",
                            "40 mA", "20 mA"),
    ("led", "power"): Row("supply.diode-overload",
                          "B1 --+[E9 5 V]-- gnd\nB1 --[LED1 2 V @]-> X --[R1 100 ohm]-- gnd\n",
                          "0.1 W", "10 mW"),
    ("zener", "value"): Row("capacitor.over-voltage", across("[R1 10k 5 W]", 200, "1M")
                            + "gnd --[Z1 zener @ 5 W]-> X\nX --[C1 1 uF 63 V film]-- gnd\n",
                            "47 V", "82 V"),
    ("zener", "current"): Row("supply.diode-overload", across("[R1 10k 5 W]", 200, "1M")
                              + "gnd --[Z1 zener 50 V 5 W @]-> X\n", "50 mA", "5 mA"),
    ("zener", "power"): Row("supply.zener-overload", across("[R1 10k 5 W]", 200, "1M")
                            + "gnd --[Z1 zener 50 V @]-> X\n", "5 W", "0.4 W"),
    ("zener", "tolerance"): Row("capacitor.over-voltage",
                                SHUNT + "X --[C1 1 uF 55 V film]-- gnd\n", "2 %", "20 %"),
    ("fuse", "value"): Row("mains.fuse-too-large", LINE.replace("[@]", "[F1 fuse @ slow]"),
                           "0.1 A", "10 A"),
    ("fuse", "voltage"): Row("supply.fuse-voltage", across("[F1 fuse 1 A @]", 400), "500 V",
                             "125 V"),
    ("switch", "voltage"): Row("supply.switch-over-rating", across("[S1 switch @ 2 A]", 400),
                               "500 V", "125 V"),
    ("switch", "current"): Row("supply.switch-over-rating", across("[S1 switch 500 V @]", 400),
                               "2 A", "0.1 A"),
    ("thermistor", "value"): Row("resistor.thermistor-overload",
                                 across("[RT1 @ 1 A]", 100, "1"), "4k", "40 ohm"),
    ("thermistor", "voltage"): Row("resistor.thermistor-overload",
                                   across("[RT1 1k 500 ohm @]", 100), "50 V", "5 V"),
    ("thermistor", "current"): Row("resistor.thermistor-overload",
                                   across("[RT1 1k 500 ohm @]", 100), "1 A", "10 mA"),
    ("thermistor", "power"): Row("resistor.thermistor-overload",
                                 across("[RT1 1k 500 ohm @]", 100), "5 W", "1 W"),
    ("thermistor", "resistance"): Row("resistor.thermistor-overload",
                                      across("[RT1 1k @ 0.1 A]", 100, "1"), "2000 ohm",
                                      "100 ohm"),
    ("thermistor", "tolerance"): Row(
        "capacitor.over-voltage",
        "B1 --+[E9 200 V]-- gnd\nB1 --[RT1 20k 10000 ohm @]-- X --[R2 10k 20 W 1 %]-- gnd\n"
        "X --[C1 1 uF 110 V film]-- gnd\n", "1 %", "25 %"),
    ("lamp", "voltage"): Row("supply.lamp-over-rating", "B1 --+[E9 6.3 V]-- gnd\nB1 --[PL1 @ "
                             "100 ohm]-- gnd\n", "6.3 V", "2.5 V"),
    ("lamp", "current"): Row("supply.lamp-over-rating", "B1 --+[E9 6.3 V]-- gnd\nB1 --[PL1 @ "
                             "100 ohm]-- gnd\n", "0.1 A", "20 mA"),
    ("lamp", "power"): Row("supply.lamp-over-rating", "B1 --+[E9 6.3 V]-- gnd\nB1 --[PL1 @ "
                           "100 ohm]-- gnd\n", "1 W", "0.1 W"),
    ("lamp", "resistance"): Row("supply.lamp-over-rating", "B1 --+[E9 6.3 V]-- gnd\nB1 --[PL1 @ "
                                "0.1 A]-- gnd\n", "100 ohm", "10 ohm"),
    ("photocell", "value"): Row("resistor.photocell-overload",
                                across("[LDR1 @ 0.5 W]", 100, "1"), "100k", "1k"),
    ("photocell", "resistance"): Row("resistor.photocell-overload",
                                     across("[LDR1 1M @ 0.5 W]", 100, "1"), "100k", "1k"),
    ("photocell", "power"): Row("resistor.photocell-overload",
                                across("[LDR1 1M 10k @]", 100, "1"), "2 W", "0.5 W"),
    ("photocell", "voltage"): Row("resistor.photocell-overload",
                                  across("[LDR1 1M 10k @]", 100, "1"), "120 V", "60 V"),
    ("barretter", "value"): Row("heater.barretter-out-of-range",
                                across("[BR1 barretter @ 80 V 0.1 A]", 100, "500"), "30 V", "60 V"),
    ("barretter", "voltage"): Row("heater.barretter-out-of-range",
                                  across("[BR1 barretter 20 V @ 0.1 A]", 100, "500"), "60 V",
                                  "40 V"),
    ("barretter", "current"): Row("heater.barretter-out-of-range",
                                  across("[BR1 barretter 30 V 80 V @]", 100, "500"), "0.1 A",
                                  "0.18 A"),
    ("speaker", "value"): Row("output.wrong-load", SPEAKER.replace("@", "LS1 @"), "8 ohm",
                              "100 ohm"),
    ("speaker", "power"): Row("output.speaker-overload", SPEAKER.replace("@", "LS1 8 ohm @"),
                              "20 W", "0.1 W"),
    ("jack", "voltage"): Row("supply.jack-over-rating",
                             "B1 --+[E9 90 V]-- gnd\nB1 --[R1 1k]-- X --[R2 1M]-- gnd\n"
                             "X --[J1 jack @]-- gnd\n", "150 V", "50 V"),
    ("arrester", "value"): Row("supply.arrester-over-voltage",
                               "B1 --+[E9 200 V]-- gnd\nB1 --[SG1 @]-- gnd\n", "350 V", "150 V"),
    ("meter", "value"): Row("supply.meter-over-scale", across("[M1 meter @ 50 mA]", 100), "5k",
                            "10 ohm"),
    ("meter", "current"): Row("supply.meter-over-scale", across("[M1 meter @ 10 ohm]", 100),
                              "150 mA", "50 mA"),
    ("meter", "voltage"): Row("supply.meter-over-scale", across("[M1 meter @ 10k]", 100), "100 V",
                              "50 V"),
    ("source", "value"): Row("resistor.over-power",
                             "B1 --+[E9 @]-- gnd\nB1 --[R1 1k 1 W]-- gnd\n", "10 V", "100 V"),
    ("source", "current"): Row("supply.source-overload",
                               "B1 --+[E9 100 V @]-- gnd\nB1 --[R1 1k 20 W]-- gnd\n", "1 A",
                               "10 mA"),
    ("source", "resistance"): Row("resistor.over-power",
                                  "B1 --+[E9 100 V @]-- gnd\nB1 --[R1 1k 1 W]-- gnd\n", "10000 ohm",
                                  "1 ohm"),
}  # fmt: skip

SINGLE = SPEAKER.replace("[@]", "[LS1 8 ohm]")
HEATED = MAINS + " winding w @\ntube V1 6V6GT heater T1.w\nT1.w.2 -- gnd\n"
LOADED = MAINS + " winding w @\nT1.w.2 -- gnd\nT1.w.1 --[R1 12 ohm 1 W]-- gnd\n"
FOLLOWER = (
    "tube V1 12AU7\nB1 --+[E1 250 V]-- gnd\nB1 -- V1A.plate\nsignal IN @\n"
    "IN --[C1 100 nF 400 V]-- V1A.grid --[R1 1M]-- MID\nV1A.cathode --[R2 1k]-- MID\n"
    "MID --[R3 22k 2 W]-- gnd\nV1A.cathode --[C2 100 nF 250 V]-- OUT --[R5 1k]-- gnd\n"
)
TURNED = (
    MAINS + " winding a 6.3 V 0.1 ohm\n winding b 6.3 V 0.1 ohm @\nT1.a.1 -- T1.b.1\n"
    "T1.a.2 -- T1.b.2\nT1.a.2 -- gnd\nT1.a.1 --[R1 100 ohm 5 W]-- gnd\n"
)

STEPPED = (
    "transformer T3 ungapped\n winding p 1 turn 400 ohm 20 H\n winding s 2 turns\nsignal IN 1 V\n"
    "IN -- T3.p.1\nT3.p.2 -- gnd\nT3.s.2 -- gnd\nT3.s.1 -- OUT --[R1 100k]-- gnd\n"
    "expect gain IN to OUT = 2 within 10 %\n"
)
CARRYING = (
    "transformer T3 {0}\n winding p 1 turn 400 ohm 20 H {1}\n winding s 2 turns\n"
    "T3.p.1 --+[E9 200 V]-- gnd\nT3.p.2 --[R1 10k 10 W]-- gnd\n"
    "T3.s.2 -- gnd\nT3.s.1 --[R2 100k]-- gnd\n"
)

TURNED_POTS = (
    "pot P1 10k @ at 50 %\npot P2 10k ganged P1\nB1 --+[E9 10 V]-- gnd\nB1 -- P1.top -- P2.top\n"
    "P1.bottom -- gnd -- P2.bottom\nP1.wiper -- A --[R1 10M]-- gnd\n"
    "P2.wiper -- C --[R2 10M]-- gnd\n"
    "expect A = 5 V within 5 %\nexpect C = 5 V within 5 %\n"
)

RELAY = (
    "relay K1 spst 12 V 250 ohm contacts 500 V 2 A\nR1 --+[E8 12 V]-- gnd\n"
    "R1 --[R8 10 ohm 2 W]-- K1.coil.1\nK1.coil.2 -- gnd\nB1 --+[E9 400 V]-- gnd\nB1 -- K1.common\n"
    "K1.no --[R9 4k 50 W]-- gnd\n"
)

LATE = (
    MAINS + " winding ht 250 V 200 ohm\n winding warm 6.3 V 2 A\ntube V1 6V6GT heater T1.warm\n"
    "T1.warm.2 -- gnd -- T1.ht.2\nrelay K1 spst 6.3 V 10 ohm contacts 500 V 2 A @\n"
    "T1.warm.1 -- K1.coil.1\nK1.coil.2 -- gnd\nT1.ht.1 --[D1 1N4007]-> K1.common\n"
    "K1.no --[R1 2k 20 W]-- B1\nB1 --+[C1 40 uF 450 V]-- gnd\nB1 -- V1.plate\n"
    "B1 --[R2 1k 2 W]-- V1.screen\nV1.grid --[R3 470k]-- gnd\nV1.cathode --[R4 270 ohm 5 W]-- gnd\n"
    "expect B1 below 10 V in cold\n"
)

STATEMENTS: dict[tuple[str, str], Row] = {
    ("Mains", "voltage"): Row("resistor.over-power", LOADED.replace("120 V 60", "@ 60")
                              .replace("w @", "w 1 V"), "120 V", "480 V"),
    ("Mains", "frequency"): Row(
        "capacitor.ripple-current",
        MAINS.replace("60 Hz", "@") + " winding w 100 V 1 ohm\nT1.w.2 -- gnd\n"
        "T1.w.1 --[C1 1 uF 400 V 0.1 A]-- gnd\n", "60 Hz", "400 Hz"),
    ("Mains", "tolerance"): Row(
        "capacitor.over-voltage",
        MAINS.replace("60 Hz", "60 Hz tolerance @") + " winding w 100 V 1 ohm\nT1.w.2 -- gnd\n"
        "T1.w.1 --[C1 1 uF 150 V film]-- gnd\n", "1 %", "20 %"),
    ("WindingLine", "voltages"): Row("heater.wrong-voltage", HEATED, "6.3 V", "12.6 V"),
    ("WindingLine", "current"): Row("heater.winding-overload", HEATED, "6.3 V 1 A", "6.3 V 0.1 A"),
    ("WindingLine", "resistance"): Row("resistor.over-power", LOADED, "6 V 30 ohm", "6 V 0.1 ohm"),
    ("WindingLine", "dot"): Row("supply.windings-opposed", TURNED, "dot 1", "dot 2"),
    ("WindingLine", "insulation"): Row(
        "supply.insulation-overstressed", MAINS + " winding w 300 V insulation @\n"
        "T1.w.2 -- gnd\nT1.w.1 --[R1 100k 5 W]-- gnd\n", "1000 V", "100 V"),
    ("CoilLine", "sizes"): Row("intent.not-met", STEPPED.replace("2 turns", "@"), "2 turns",
                               "20 turns"),
    ("CoilLine", "henries"): Row("intent.not-met", STEPPED.replace("20 H", "@"), "20 H", "0.02 H"),
    ("CoilLine", "resistance"): Row("intent.not-met", STEPPED.replace("400 ohm", "@"),
                                    "400 ohm", "50 kohm"),
    ("CoilLine", "current"): Row("supply.coil-overload", CARRYING.format("gapped", "@"),
                                 "100 mA", "5 mA"),
    ("CoilLine", "insulation"): Row(
        "supply.insulation-overstressed", CARRYING.format("gapped", "@"), "insulation 1000 V",
        "insulation 100 V"),
    ("TransformerLine", "gapped"): Row("output.ungapped-core", CARRYING.format("@", ""),
                                       "gapped", "ungapped"),
    ("TransformerLine", "coupling"): Row("intent.not-met", STEPPED.replace("ungapped", "@"),
                                         "coupling 100 %", "coupling 20 %"),
    ("OutputLine", "primary"): Row("output.wrong-plate-load", SINGLE.replace("T2 5k", "T2 @"),
                                   "5k", "50k"),
    ("OutputLine", "secondary"): Row("output.wrong-load", SINGLE.replace(": 8 ohm", ": @"),
                                     "8 ohm", "100 ohm"),
    ("OutputLine", "resistance"): Row("output.screen-above-plate",
                                      SINGLE.replace("8 ohm 200 ohm", "8 ohm @"), "200 ohm",
                                      "3000 ohm"),
    ("OutputLine", "current"): Row("output.primary-over-current",
                                   SINGLE.replace("200 ohm", "200 ohm @"), "100 mA", "10 mA"),
    ("OutputLine", "gapped"): Row("output.ungapped-core",
                                  SINGLE.replace("200 ohm", "200 ohm @"), "gapped", "ungapped"),
    ("PotLine", "value"): Row("resistor.control-overload",
                              "pot P1 @ 1 W\nB1 --+[E9 100 V]-- gnd\nB1 -- P1.top\n"
                              "P1.bottom -- gnd\nP1.wiper --[R1 10M]-- gnd\n", "100k", "1k"),
    ("PotLine", "at"): Row("resistor.control-overload",
                           "pot P1 10k 2 W at @\nB1 --+[E9 100 V]-- gnd\nB1 -- P1.wiper\n"
                           "P1.bottom -- gnd\nP1.top -- B1\n", "90 %", "10 %"),
    ("PotLine", "power"): Row("resistor.control-overload",
                              "pot P1 10k @\nB1 --+[E9 100 V]-- gnd\nB1 -- P1.top\n"
                              "P1.bottom -- gnd\nP1.wiper --[R1 10M]-- gnd\n", "5 W", "0.1 W"),
    ("PotLine", "taper"): Row("intent.not-met", TURNED_POTS, "linear", "log"),
    ("PotLine", "ganged"): Row("intent.not-met", TURNED_POTS.replace("P1 10k @", "P1 10k")
                               .replace("P2 10k ganged P1", "P2 10k @"), "ganged P1", "at 20 %"),
    ("SwitchLine", "voltage"): Row("supply.switch-over-rating",
                                   "switch S1 spst @ 2 A\n" + across("S1.common\nS1.1", 400),
                                   "500 V", "125 V"),
    ("SwitchLine", "current"): Row("supply.switch-over-rating",
                                   "switch S1 spst 500 V @\n" + across("S1.common\nS1.1", 400),
                                   "2 A", "0.1 A"),
    ("SwitchLine", "at"): Row("supply.lamp-over-rating", "switch S1 spdt at @\n"
                              "B1 --+[E9 6.3 V]-- gnd\nB1 -- S1.common\n"
                              "S1.1 --[R1 100k]-- gnd\nS1.2 --[PL1 2.5 V 100 ohm]-- gnd\n",
                              "1", "2"),
    ("RelayLine", "coil"): Row("supply.relay-overload", RELAY.replace("12 V 250", "@ 250"), "12 V",
                               "6 V"),
    ("RelayLine", "ohms"): Row("supply.relay-not-as-drawn", RELAY.replace("250 ohm", "@"),
                               "250 ohm", "25 ohm"),
    ("RelayLine", "voltage"): Row("supply.switch-over-rating", RELAY.replace("500 V", "@"), "500 V",
                                  "125 V"),
    ("RelayLine", "current"): Row("supply.switch-over-rating", RELAY.replace("2 A", "@"), "2 A",
                                  "50 mA"),
    ("RelayLine", "delay"): Row("intent.not-met", LATE, "delay 45 s", "delay 5 s"),
    ("RelayLine", "released"): Row("supply.relay-not-as-drawn", RELAY.replace("2 A", "2 A @"), "",
                                   "released"),
    ("JackLine", "voltage"): Row("supply.jack-over-rating",
                                 "jack J1 @\nB1 --+[E9 90 V]-- gnd\nB1 --[R1 1k]-- J1.tip\n"
                                 "J1.tip --[R2 1M]-- gnd\nJ1.sleeve -- gnd\n", "150 V", "50 V"),
    ("JackLine", "current"): Row("supply.jack-over-rating",
                                 "jack J1 @ unplugged\nB1 --+[E9 90 V]-- gnd\nB1 -- J1.switch\n"
                                 "J1.tip --[R2 90 ohm]-- gnd\nJ1.sleeve -- gnd\n", "2 A", "0.5 A"),
    ("JackLine", "plugged"): Row("resistor.over-power",
                                 "jack J1 @\nB1 --+[E9 90 V]-- gnd\nB1 -- J1.switch\n"
                                 "J1.tip --[R2 1k 1 W]-- gnd\nJ1.sleeve -- gnd\n", "plugged",
                                 "unplugged"),
    ("SignalLine", "voltage"): Row("signal.follower-overloaded", FOLLOWER, "0.1 V", "20 V"),
    ("SignalLine", "frequency"): Row("signal.follower-overloaded",
                                     FOLLOWER.replace("[R5 1k]", "[R5 100 ohm]"), "12 V 20 Hz",
                                     "12 V 20 kHz"),
    ("TubeLine", "heater_mode"): Row("heater.wrong-voltage", MAINS + " winding w 6.3 V\n"
                                     "tube V1 12AX7 heater T1.w @\nT1.w.2 -- gnd\n", "parallel",
                                     "series"),
}  # fmt: skip

NO_FIGURES = {"span", "name", "primary", "tapped", "layout", "type", "type_span", "heater"}
"""Fields that say what is where, and hold no rating or value."""

FIGURES = ("Mains", "WindingLine", "TransformerLine", "CoilLine", "OutputLine", "PotLine",
           "SwitchLine", "RelayLine", "JackLine", "SignalLine", "TubeLine")  # fmt: skip

ELSEWHERE = {
    ("capacitor", "tolerance"): "waiting times of the measuring plan (tests/bench/plan)",
    ("crystal", "value"): "why a chart has no volts there (tests/anatomy/test_running.py)",
    ("PotLine", "taps"): "what hangs on them (tests/circuit/test_pots.py)",
    ("WindingLine", "taps"): "supply.primary-voltage (samples/mistakes, its pair tap)",
    ("CoilLine", "taps"): "gains (tests/solve/signal/test_coils.py)",
    ("CoilLine", "dot"): "gains (tests/solve/signal/test_coils.py)",
    ("CoilLine", "measure"): "turns ratios (tests/circuit/test_coils.py)",
    ("OutputLine", "steps"): "output.wrong-load (tests/rules/output/test_load.py)",
    ("OutputLine", "inductance"): "the low corner of the gains (tests/solve/signal)",
    ("OutputLine", "tap"): "the solved screen's signal (tests/solve/signal)",
    ("OutputLine", "dots"): "signal.positive-feedback (tests/rules/signal/test_feedback.py)",
    ("RelayLine", "coil_is_ac"): "when it lets go (tests/solve/test_relays.py)",
    ("RelayLine", "voltage_is_ac"): "supply.switch-over-rating (tests/rules/supply)",
    ("SwitchLine", "voltage_is_ac"): "supply.switch-over-rating (tests/rules/supply)",
    ("JackLine", "voltage_is_ac"): "supply.jack-over-rating (below)",
}
"""What no rule holds against a limit in one small drawing, and where it is shown to be read."""


def of_form(form: Form) -> set[tuple[str, str]]:
    found = set(form.fields.values()) | ({"value"} if form.main else set())
    every = found | ({"insulation"} if form.insulated else set())
    return {(form.kind.value, name) for name in every}


def test_every_field_of_a_part_has_a_row() -> None:
    table = set().union(*map(of_form, FORMS.values()))
    assert table - ELSEWHERE.keys() == set(PARTS)


def test_every_figure_of_a_statement_has_a_row() -> None:
    table = {(name, f.name) for name in FIGURES for f in fields(getattr(model, name))}
    table = {(name, f) for name, f in table if f not in NO_FIGURES or (name, f) in STATEMENTS}
    table.add(("OutputLine", "primary"))
    assert table - ELSEWHERE.keys() == set(STATEMENTS)


ROWS = {f"{where}.{name}": row for (where, name), row in {**PARTS, **STATEMENTS}.items()}


@pytest.mark.parametrize("row", ROWS.values(), ids=ROWS.keys())
def test_the_field_changes_what_is_found(row: Row, review: Callable[[str], Review]) -> None:
    assert told(review, row, row.sound) == []
    assert told(review, row, row.absurd)


def told(review: Callable[[str], Review], row: Row, value: str) -> list[str]:
    looked = review(row.text.replace("@", value))
    assert looked.readable, [f.message for f in looked.findings]
    assert not [n for n in looked.not_judged if "failed" in n.reason]
    every = [f.rule for f in looked.findings]
    every += [x for f in looked.findings for x in str(f.evidence.get("explains", "")).split()]
    return [rule for rule in every if rule == row.rule]


def test_a_jacks_ac_rating_is_little_worth_on_dc(review: Callable[[str], Review]) -> None:
    row = PARTS["jack", "voltage"]
    assert told(review, row, "250 Vac") == ["supply.jack-over-rating"]  # 90 V of DC on it


def _unread(text: str) -> Review:
    return review_drawing(parse_drawing(text, "t.tube"), TODAY)


@pytest.mark.parametrize("bracket", [
    "V1 heater 45 V", "V1 heater 0.1 A", "C1 1 uF 2 ohm", "L1 5 H 400 V", "L1 5 H 20 %",
    "L1 5 H tap", "F1 1 A 2 ohm", "R1 1k 2 A", "J1 1 A",
])  # fmt: skip
def test_what_nothing_reads_is_refused(bracket: str) -> None:
    looked = _unread(f"tube V1 12AX7\na --[{bracket}]-- b\n")
    assert not looked.readable


def test_rating_names_are_all_read() -> None:
    from pathlib import Path

    import coldcheck

    root = Path(coldcheck.__file__).parent
    text = "\n".join(p.read_text("utf-8") for part in ("rules", "anatomy", "solve")
                     for p in (root / part).rglob("*.py"))  # fmt: skip
    unread = [name for name in RATING_NAMES if f'"{name}"' not in text]
    assert unread == list(UNREAD_RATINGS)


@pytest.mark.parametrize("name", UNREAD_RATINGS)
def test_a_rating_nothing_reads_is_refused(name: str) -> None:
    looked = _unread(f"type MY0D3 like 0D3\n    rating {name} 150 V\ntube V1 MY0D3\n")
    assert any(name in f.message for f in looked.findings if f.rule == "drawing.unknown-name")
