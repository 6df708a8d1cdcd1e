"""Amplifier stages: self-bias points and the resistance-coupled ECC83 table, as whole drawings.

The self-bias points were fitted to (the library holds them), so they test the circuit solution
and the fit together; the resistance-coupled table was not fitted to. Not covered: gains (the
solver has no signal solution here), AMP-11 (its screen current is a maximum-signal figure),
AMP-36 (an unusual stage without enough data).
"""

import csv
from pathlib import Path

import pytest

HERE = Path(__file__).parent


def table(name):
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def self_bias(solved, answer, tube, plate, rk, screen=None):
    """Supplies stand above the cathode, as the sheets give them; the answer is the bias."""
    section = "V1A" if tube in ("12AT7", "12AX7", "12AU7", "6SN7GT", "6SL7GT") else "V1"
    text = f"tube V1 {tube}\nB1 --+[E1 {plate + answer} V]-- gnd\nB1 -- {section}.plate\n"
    if screen:
        text += f"B2 --+[E2 {screen + answer} V]-- gnd\nB2 -- {section}.screen\n"
    text += f"{section}.grid --[R1 100k]-- gnd\n{section}.cathode --[R2 {rk} ohm]-- gnd\n"
    return solved(text).wave(f"{section}.cathode").dc


def coupled(solved, _, volts, ra, rg, rk, read):
    text = f"tube V1 ECC83\nB1 --+[E1 {volts} V]-- gnd\nB1 --[R1 {ra} ohm]-- V1A.plate\n"
    text += f"V1A.plate --[C1 22 nF]-- OUT --[R2 {rg} ohm]-- gnd\nV1A.grid --[R3 1M]-- gnd\n"
    text += f"V1A.cathode --[R4 {rk} ohm]-- gnd\nV1A.cathode --+[C2 25 uF]-- gnd\n"
    return solved(text).wave(f"V1A.{read}").dc


def shared_cathode(solved, _, volts, ra, rk):
    text = f"tube V1 ECC83\nB1 --+[E1 {volts} V]-- gnd\n"
    for k, half in enumerate("AB"):
        text += f"B1 --[R{k + 1} {ra} ohm]-- V1{half}.plate\nV1{half}.grid --[R{k + 3} 1M]-- gnd\n"
    text += f"V1A.cathode -- V1B.cathode\nV1A.cathode --[R5 {rk} ohm]-- gnd\n"
    got = solved(text)
    assert got.readings["V1A"].plate_ma == pytest.approx(got.readings["V1B"].plate_ma, rel=1e-6)
    return got.wave("V1A.cathode").dc


RUNNERS = {"self-bias": self_bias, "coupled": coupled, "shared-cathode": shared_cathode}


@pytest.mark.parametrize("row", table("stages.csv"), ids=lambda r: r["id"])
def test_published_point(solved, inputs, row):
    answer = float(row["answer"])
    got = RUNNERS[row["circuit"]](solved, answer, **inputs(row))
    print(f"{row['id']:12} {answer:8g} {got:8.4g} {row['unit']} {got / answer - 1:+.1%}")
    assert got == pytest.approx(answer, rel=float(row["tolerance"]))


def test_split_load_inverter_divides_the_supply_in_thirds(solved):
    """AMP-34: 300 V, 100 k above and below, 1 mA: 100 and 200 V; the heater stands 100 V below."""
    text = "tube V1 12AX7\nB1 --+[E1 300 V]-- gnd\nB1 --[R1 100k]-- V1A.plate\n"
    text += "V1A.cathode --[R2 100k]-- gnd\nB2 --+[E2 98.5 V]-- gnd\nB2 --[R3 1M]-- V1A.grid\n"
    got = solved(text)
    cathode, plate = got.wave("V1A.cathode").dc, got.wave("V1A.plate").dc
    assert cathode == pytest.approx(100, rel=0.02)
    assert plate + cathode == pytest.approx(300, rel=1e-4)  # the grid draws nanoamperes
