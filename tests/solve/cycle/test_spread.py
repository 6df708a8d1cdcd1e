"""The spread: sensitivities against solving anew, and against a Monte Carlo of whole drawings."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from coldcheck.circuit import build_circuit
from coldcheck.circuit.usual import USUAL, Usual
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_state, solve_states
from coldcheck.solve.cycle import spread as spread_module

SAMPLE = (Path(__file__).resolve().parents[3] / "samples" / "harbour-light.tube").read_text("utf-8")

DIVIDER = "B1 --+[E1 300 V]-- gnd\nB1 --[R1 220k 5 %]-- LIFT --[R2 47k 5 %]-- gnd\n"


def solved(text: str, instants: int = 128, usual: Usual = USUAL):
    circuit = build_circuit(parse_drawing(text, "x.tube"), usual=usual)
    assert not circuit.drawing.problems
    assert not circuit.problems
    return solve_state(circuit, instants=instants)


def effect(solution, cause: str, net: str) -> float:
    spread = solution.spread()
    assert spread is not None
    return float(spread.nets[net][spread.causes.index(cause)])


def test_a_divider_by_hand() -> None:
    # V = E k, k = R2/(R1+R2): dV = V (1 - k) tol for R2, -V (1 - k) tol for R1, V tol for E.
    solution = solved(DIVIDER)
    k = 47 / 267
    lift = 300 * k
    assert effect(solution, "R2", "LIFT") == pytest.approx(0.05 * lift * (1 - k), rel=1e-3)
    assert effect(solution, "R1", "LIFT") == pytest.approx(-0.05 * lift * (1 - k), rel=1e-3)
    assert effect(solution, "E1", "LIFT") == pytest.approx(USUAL.source * lift, rel=1e-3)
    whole = math.hypot(0.05 * lift * (1 - k) * math.sqrt(2), USUAL.source * lift)
    assert solution.spread().volts("LIFT") == pytest.approx(whole, rel=1e-3)


def test_a_difference_is_not_the_sum_of_its_ends() -> None:
    spread = solved(DIVIDER).spread()
    apart = spread.volts("B1", "LIFT")
    assert apart < spread.volts("B1") + spread.volts("LIFT")
    assert spread.volts("B1", "B1") == 0


@pytest.mark.parametrize(
    ("cause", "tolerance", "old", "new"),
    [
        ("R9", 0.10, "[R9 22k 1 W]", "[R9 22.44k 1 W]"),
        ("R7", 0.10, "[R7 270 ohm 5 W]", "[R7 275.4 ohm 5 W]"),
        ("R1", 0.10, "[R1 10k 2 W]", "[R1 10.2k 2 W]"),
    ],
)
def test_resistors_against_solving_with_two_percent_more(cause, tolerance, old, new) -> None:
    assert old in SAMPLE
    before, after = solved(SAMPLE), solved(SAMPLE.replace(old, new))
    for net in ("B1", "B2", "LIFT", "V2.cathode", "V1A.plate"):
        moved = (after.wave(net).dc - before.wave(net).dc) / 0.02 * tolerance
        assert effect(before, cause, net) == pytest.approx(moved, rel=0.06, abs=0.03)


def test_the_mains_against_solving_at_a_higher_line() -> None:
    before = solved(SAMPLE)
    after = solved(SAMPLE.replace("mains 120 V", "mains 122.4 V"))
    for net in ("RES", "B1", "V2.cathode", "LIFT"):
        moved = (after.wave(net).dc - before.wave(net).dc) / 0.02 * 0.10
        assert effect(before, spread_module.LINE, net) == pytest.approx(moved, rel=0.05)


def test_a_net_that_a_clamp_holds_moves_with_what_feeds_it() -> None:
    """Cold, a bridge feeds a diode from grid to cathode that always conducts, through megohms."""
    text = (Path(__file__).parents[3] / "samples" / "breakwater.tube").read_text(encoding="utf-8")
    changes = (("mains 120 V", "mains 120.6 V", spread_module.LINE),)
    changes += (("[R12 330k 1 W]", "[R12 331.65k 1 W]", "R12"),)

    def cold(drawn: str):
        return solve_states(build_circuit(parse_drawing(drawn, "b.tube")))["cold"]

    before = cold(text)
    for old, new, cause in changes:
        moved = (cold(text.replace(old, new)).wave("V1A.plate").dc
                 - before.wave("V1A.plate").dc) / 0.005 * 0.10  # fmt: skip
        assert effect(before, cause, "V1A.plate") == pytest.approx(moved, rel=0.03)


def test_the_rectifiers_drop_against_another_type_of_the_same_pins() -> None:
    # A drop off by 2/3 of 15 % moves the reservoir by the drop times that share, and a little less
    # because the current follows: the sign and the size, not the last digit.
    solution = solved(SAMPLE)
    reading = solution.readings["V3"]
    moved = effect(solution, "V3", "RES")
    peak_drop = (reading.peak_plate_ma / 125) ** (2 / 3) * 60  # 60 V at 125 mA (found: 5Y3 record)
    assert 0 < moved < peak_drop * 2 / 3 * USUAL.rectifier * 1.1


def test_a_zener_against_solving_with_two_percent_more() -> None:
    text = (
        "B1 --+[E1 100 V]-- gnd\nB1 --[R1 4.7k]-- Z --[R2 22k]-- gnd\nZ <-[D1 zener 33 V]-- gnd\n"
    )
    before, after = solved(text), solved(text.replace("33 V", "33.66 V"))
    moved = (after.wave("Z").dc - before.wave("Z").dc) / 0.02
    assert moved > 30
    assert effect(before, "D1", "Z") == pytest.approx(USUAL.zener * moved, rel=0.01)
    stated = solved(text.replace("33 V", "33 V 2 %"))
    assert effect(stated, "D1", "Z") == pytest.approx(0.02 * moved, rel=0.01)
    # below its voltage it holds nothing, and its spread moves nothing
    idle = solved(text.replace("33 V", "95 V"))
    assert effect(idle, "D1", "Z") == 0


def test_tolerances_that_are_not_stated_are_the_usual_ones_given() -> None:
    usual = Usual(resistor=0.01, source=0.002)
    spread = solved(DIVIDER.replace("47k 5 %", "47k"), usual=usual)
    k, lift = 47 / 267, 300 * 47 / 267
    assert effect(spread, "R2", "LIFT") == pytest.approx(0.01 * lift * (1 - k), rel=1e-3)
    assert effect(spread, "R1", "LIFT") == pytest.approx(-0.05 * lift * (1 - k), rel=1e-3)
    assert effect(spread, "E1", "LIFT") == pytest.approx(0.002 * lift, rel=1e-3)


def test_tubes_move_their_own_current() -> None:
    spread = solved(SAMPLE).spread()
    reading = solved(SAMPLE).readings["V2"]
    # Self-bias holds the current: 20 % in the tube shows as less than 20 % in the plate current.
    share = 1e3 * spread.current("V2", mains=False) / reading.plate_ma
    assert 0.05 < share < USUAL.tube


def test_what_a_law_is_off_adds_to_what_copies_differ() -> None:
    share = solved(SAMPLE).circuit.tubes["V2"].type.sections[0].law.off
    assert 0.03 < share < 0.2
    both, none = solved(SAMPLE), solved(SAMPLE, usual=Usual(tube=0.0))
    for net in ("V2.cathode", "B1"):
        law_alone = effect(none, "V2", net)
        assert effect(both, "V2", net) == pytest.approx(
            law_alone * np.hypot(USUAL.tube, share) / share, rel=1e-3
        )


def test_monte_carlo_of_resistors_and_mains() -> None:
    """60 drawings with every resistor and the mains drawn at random (sigma = tolerance).

    Few, since each is solved on its own, rectifier and all, on 32 instants; a circuit without a
    rectifier is checked against thousands in ``test_spread_many.py``.
    """
    exact = Usual(0.02, 0.02, 0, 0, 0, 0, 0, 0, 0)
    base = SAMPLE.replace("tolerance 10 %", "tolerance 2 %")
    predicted = solved(base, 32, exact).spread()
    draw = np.random.default_rng(20261125)
    nets = ("B1", "LIFT", "V2.cathode", "V1A.plate")
    values = []
    for _ in range(60):
        solution = solved(_random_copy(base, draw), 32)
        values.append([solution.wave(n).dc for n in nets])
    spreads = np.std(np.array(values), axis=0)
    for net, found in zip(nets, spreads, strict=True):
        # The standard deviation of 60 draws is itself good to some 9 %: allow three of that.
        assert without_tubes(predicted, net) == pytest.approx(found, rel=0.27)


def without_tubes(spread, net: str) -> float:
    """The copies drawn here have the same tubes, so what their laws may be off is left out."""
    own = [v for c, v in zip(spread.causes, spread.nets[net], strict=True) if not c.startswith("V")]
    return float(np.sqrt(np.square(own).sum()))


def _random_copy(text: str, draw: np.random.Generator) -> str:
    """The drawing with each resistance times (1 + 2 % gauss), and the line likewise."""
    import re

    def other(match: re.Match[str]) -> str:
        ohms = float(match[2]) * {"k": 1e3, "ohm": 1.0}[match[3]]
        return f"[{match[1]} {ohms * (1 + 0.02 * draw.standard_normal()):.6g} ohm"

    plain = text.replace("1k5", "1.5k")
    plain = re.sub(r"\[(R\d+) ([\d.]+) ?(k|ohm)", other, plain)
    volts = 120 * (1 + 0.02 * draw.standard_normal())
    return plain.replace("mains 120 V", f"mains {volts:.5g} V")


def test_unsolved_and_open_drawings_have_no_spread() -> None:
    assert solved("B1 --+[E1 300 V]-- gnd\nB1 --[R1 ?]-- A --[R2 1k]-- gnd\n").spread() is None
    clash = solved("B1 --+[E1 300 V]-- gnd\nB1 --+[E2 250 V]-- gnd\n")
    assert not clash.converged
    assert clash.spread() is None
