"""The chart of one sample, pin by pin, against arithmetic on the drawing alone.

Resistances: tubes open, capacitors charged, so what is left on paper are series strings. The
tolerance of 0.1 % is for the fractions of an ohm in windings that are left out below.

Voltages: the drawing's own estimate of 280 V at RES (three quarters of the peak of 260 V rms),
then Ohm's law down the supply with data-sheet currents:

* 6V6GT at 250 V, 250 V, -12.5 V: 45 mA + 4.5 mA (RCA, memory); through 270 ohm 13.4 V, a little
  more bias than that point has, so a little less current: 48.5 mA, 13.1 V
* 12AX7 at 250 V, -2 V: 1.2 mA, 1.6 mA/V, 62.5 kohm (RCA, memory), made linear about that point
* bleeder R8 + R9 = 172 kohm

Tubes spread by a fifth and the estimate is an estimate: 5 % for voltages, and the hand value must
lie within the chart's own range.
"""

import pytest

KOHM = 1e3


def of(chart, point):
    return next(r for r in chart.rows() if r.pin.point == point)


# -- resistances --------------------------------------------------------------------------

R1, R2, R3, R4, R5, R6, R7, R8, R9 = 10e3, 470, 100e3, 1.5e3, 1.5e3, 470e3, 270, 150e3, 22e3
L1, PRIMARY, HALF_HT = 250, 210, 220 / 2
B2 = R8 + R9  # 172 k: the bleeder is the only way from the supply to gnd
B1 = R1 + B2  # 182 k

BY_HAND = {
    "V1:2": 0,  # the unused half: grid and cathode on gnd
    "V1:3": 0,
    "V1:4": R9,  # heater through half of T1.warm and the lift
    "V1:5": R9,
    "V1:6": R3 + B2,  # 272 k
    "V1:7": 500e3 / 2,  # volume at 50 %
    "V1:8": R4,
    "V1:9": R9,
    "V2:2": R9,
    "V2:3": PRIMARY + B1,
    "V2:4": R2 + B1,
    "V2:5": R5 + R6,  # 471.5 k
    "V2:7": R9,
    "V2:8": R7,
    "V3:2": L1 + B1,
    "V3:4": HALF_HT,  # to the grounded tap through the fuse
    "V3:6": HALF_HT,
    "V3:8": L1 + B1,  # 182.25 k
    "RES": L1 + B1,
    "B1": B1,
    "B2": B2,
    "LIFT": R9,
    "IN": 500e3,
    "DRV": R6,
    "T1.ht.ct": 0,
    "T2.p1": B1,
    "T2.s2": 0,
}


@pytest.mark.parametrize("point", BY_HAND)
def test_resistance(harbour_chart, point):
    assert of(harbour_chart, point).ohms.nominal == pytest.approx(BY_HAND[point], rel=1e-3)


@pytest.mark.parametrize("point", ["FUSED", "T1.pri.1", "T1.pri.2"])
def test_the_mains_side_is_not_joined_to_gnd(harbour_chart, point):
    assert of(harbour_chart, point).ohms.infinite


def test_the_range_is_all_tolerances_at_their_worst(harbour_chart):
    """10 % resistors: 272 k is 244.8 k to 299.2 k; the volume control's track 20 %."""
    ohms = of(harbour_chart, "V1:6").ohms
    assert (ohms.low, ohms.high) == pytest.approx((244.8e3, 299.2e3), rel=1e-6)
    ohms = of(harbour_chart, "V1:7").ohms
    assert (ohms.low, ohms.high) == pytest.approx((200e3, 300e3), rel=1e-6)


def test_the_heater_winding_with_cold_heaters(harbour):
    """0.15 ohm across (6.3/0.3)/6 = 3.5 and (6.3/0.45)/6 = 2.33 ohm: 0.1355 ohm."""
    by_hand = 1 / (1 / 0.15 + 6 / (6.3 / 0.3) + 6 / (6.3 / 0.45))
    ohms = harbour.meter.read("T1.warm.1", "T1.warm.2")
    assert ohms.nominal == pytest.approx(by_hand, rel=1e-6)


def test_every_pin_of_every_socket_is_there(harbour_chart):
    sockets = {b.name: [r.pin.label for r in b.rows] for b in harbour_chart.blocks}
    assert sockets["V1"] == [str(n) for n in range(1, 10)]
    assert sockets["V2"] == sockets["V3"] == [str(n) for n in range(1, 9)]
    idle = {r.pin.point: r.pin.use for r in harbour_chart.rows() if r.ohms is None}
    assert idle == {
        "V1:1": "unwired",  # the unused half's plate
        "V2:1": "not connected",
        "V2:6": "not connected",
        **dict.fromkeys(("V3:1", "V3:3", "V3:5", "V3:7"), "not on file"),
    }


def test_waiting_for_the_filter_capacitors(harbour_chart):
    """Elmore: at B2 each capacitor sees the whole 172 k (C1, C2 hang behind it), C9 only 22 k.

    (20 + 40 + 20) uF x 172 k + 10 uF x (22 k)^2 / 172 k = 13.79 s; ln 100 of them to 1 %.
    """
    note = next(n for n in of(harbour_chart, "B2").notes if n.kind == "settles")
    assert note.names == ("C1", "C2", "C3")
    assert note.number == pytest.approx(13.788 * 4.6052, rel=1e-3)


# -- voltages -----------------------------------------------------------------------------

OUTPUT_MA, SCREEN_MA = 48.5, 48.5 * 4.5 / 49.5
DRAIN_MA = 1.4  # 244 V / 172 k, from the result below


def first_stage(supply):
    """Plate current, mA, of 100 k and 1.5 k on a triode linear about 1.2 mA at 250 V, -2 V."""
    mu_term = 1.6 * 1.5 + (100 + 1.5) / 62.5
    return (1.2 + (supply - 250) / 62.5 + 1.6 * 2) / (1 + mu_term)


RES_V = 280.0
STAGE_MA = first_stage(244)  # 0.857
B1_V = RES_V - (OUTPUT_MA + DRAIN_MA + STAGE_MA) * L1 / 1e3  # 267.3
B2_V = B1_V - (DRAIN_MA + STAGE_MA) * R1 / 1e3  # 244.7
LIFT_V = B2_V * 22 / 172  # 31.3
VOLTS = {
    "RES": RES_V,
    "B1": B1_V,
    "B2": B2_V,
    "LIFT": LIFT_V,
    "V1:4": LIFT_V,
    "V1:6": B2_V - STAGE_MA * 100,  # 159
    "V1:8": STAGE_MA * 1.5,  # 1.29
    "V2:2": LIFT_V,
    "V2:3": B1_V - (OUTPUT_MA - SCREEN_MA) * PRIMARY / 1e3,  # 258
    "V2:4": B1_V - SCREEN_MA * R2 / 1e3,  # 265
    "V2:8": OUTPUT_MA * R7 / 1e3,  # 13.1
    "V3:2": RES_V,
    "V3:8": RES_V,
    "T2.p1": B1_V,
}


@pytest.mark.parametrize("point", VOLTS)
def test_direct_voltage(harbour_chart, point):
    dc = of(harbour_chart, point).volts.dc
    assert dc.value == pytest.approx(VOLTS[point], rel=0.05)
    assert dc.low < VOLTS[point] < dc.high


@pytest.mark.parametrize("point", ["V1:7", "V2:5", "V1:2", "IN", "DRV", "T1.ht.ct"])
def test_grids_and_what_lies_on_gnd(harbour_chart, point):
    assert of(harbour_chart, point).volts.dc.value == pytest.approx(0, abs=0.01)


def test_the_halves_of_the_high_voltage_winding(harbour_chart):
    """Half of 50.8 mA each through 110 ohm, away from gnd: -2.8 V on the mean of both plates."""
    both = [of(harbour_chart, f"V3:{pin}").volts for pin in (4, 6)]
    mean = sum(v.dc.value for v in both) / 2
    assert mean == pytest.approx(-(OUTPUT_MA + DRAIN_MA + STAGE_MA) / 2 * 0.11, rel=0.05)
    for v in both:
        assert v.ac.value == pytest.approx(260, rel=0.05)


def test_alternating_voltages(harbour_chart):
    """Half of 6.3 V on each end of the heater; ripple below I / 2 f C, the sawtooth's bound."""
    assert of(harbour_chart, "V1:4").volts.ac.value == pytest.approx(3.15, rel=0.05)
    ripple = of(harbour_chart, "RES").volts.pp.value
    bound = (OUTPUT_MA + DRAIN_MA + STAGE_MA) / 1e3 / (2 * 60 * 20e-6)  # 21 V
    assert 0.5 * bound < ripple < bound
    assert of(harbour_chart, "LIFT").volts.ac.value < 1e-3
