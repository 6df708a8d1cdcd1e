"""Tapers, taps and gangs of pots."""

from __future__ import annotations

import pytest

from coldcheck import review_text
from coldcheck.circuit import build_circuit
from coldcheck.circuit.tracks import halves
from coldcheck.circuit.valued import valued
from coldcheck.drawing import parse_drawing
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import Taper
from coldcheck.drawing.units import si
from coldcheck.drawing.valued import SHARE
from coldcheck.drawing.values import Amount
from coldcheck.solve import solve_states
from coldcheck.solve.faults.fault import WIPER, Fault, altered, pot_ends


@pytest.mark.parametrize(
    ("taper", "turn", "share"),
    [
        # A distributor's manual of a 10 kohm pot: "10 % log" has a tenth at the middle (read).
        (Taper.LOG, 0.5, 0.1), (Taper.LOG, 0.0, 0.0), (Taper.LOG, 1.0, 1.0),
        (Taper.LINEAR, 0.5, 0.5), (Taper.LINEAR, 0.3, 0.3),
        # A repairers' wiki: half turned, a tenth to one end and nine to the other (read).
        (Taper.REVERSE_LOG, 0.5, 0.9), (Taper.REVERSE_LOG, 0.0, 0.0), (Taper.REVERSE_LOG, 1.0, 1.0),
    ],
)  # fmt: skip
def test_tapers(taper: Taper, turn: float, share: float) -> None:
    assert taper.share(turn) == pytest.approx(share)


@pytest.mark.parametrize("taper", Taper)
def test_a_taper_never_turns_back(taper: Taper) -> None:
    shares = [taper.share(n / 100) for n in range(101)]
    assert shares == sorted(shares)


FED = "B --+[E1 100 V]-- gnd\nB -- P1.top\nP1.bottom -- gnd\n"


@pytest.mark.parametrize(
    ("words", "share"), [("log", 0.1), ("audio", 0.1), ("antilog", 0.9), ("lin", 0.5), ("", 0.5)]
)
def test_a_taper_divides_what_is_across_the_pot(words: str, share: float) -> None:
    circuit = build_circuit(parse_drawing(f"pot P1 100k {words}\n{FED}P1.wiper -- OUT"))
    assert solve_states(circuit)["warm"].waves["OUT"].dc == pytest.approx(100 * share, rel=1e-4)


@pytest.mark.parametrize(
    ("at", "names"),
    [
        ("80 %", ["P1.top-wiper", "P1.wiper-tap", "P1.tap-bottom"]),
        ("20 %", ["P1.top-tap", "P1.tap-wiper", "P1.wiper-bottom"]),
        ("0 %", ["P1.top-tap", "P1.tap-wiper", "P1.wiper-bottom"]),
        ("100 %", ["P1.top-wiper", "P1.wiper-tap", "P1.tap-bottom"]),
    ],
)
def test_the_wiper_is_on_either_side_of_a_tap(at: str, names: list[str]) -> None:
    circuit = build_circuit(parse_drawing(f"pot P1 1M tap 300k at {at}\n{FED}P1.tap -- T"))
    above, below = halves(circuit, "P1")
    assert [b.name for b in (*above, *below)] == names
    assert sum(si(b.value, "ohm") or 0.0 for b in (*above, *below)) == pytest.approx(1e6)
    assert sum(si(b.value, "ohm") or 0.0 for b in below) == pytest.approx(1e4 * float(at[:-2]))
    assert solve_states(circuit)["warm"].waves["T"].dc == pytest.approx(30.0, rel=1e-3)


def test_a_loaded_tap_by_the_laws_of_dividers() -> None:
    """10k from the tap: 300k beside it below 700k, and the wiper at a third of what is there."""
    text = f"pot P1 1M tap 30 % at 10 %\n{FED}P1.tap --[R1 10k]-- gnd\nP1.wiper -- OUT"
    below = 1 / (1 / 300e3 + 1 / 10e3)
    tap = 100 * below / (below + 700e3)
    solved = solve_states(build_circuit(parse_drawing(text)))["warm"]
    assert solved.waves["P1.tap"].dc == pytest.approx(tap, rel=1e-4)
    assert solved.waves["OUT"].dc == pytest.approx(tap / 3, rel=1e-4)


def test_an_open_wiper_leaves_the_tap_where_it_is() -> None:
    circuit = build_circuit(parse_drawing(f"pot P1 1M tap 30 % at 50 %\n{FED}P1.tap -- T"))
    (ends, ohms) = pot_ends(circuit, "P1")
    assert ends == (circuit.points["P1.top"], circuit.points["P1.tap"])
    assert ohms == pytest.approx(700e3)
    opened = altered(circuit, [Fault(WIPER, "P1")])
    assert {n for n, b in opened.branches.items() if b.kind is not PartKind.SOURCE} == {
        "the track of P1", "P1.tap-bottom"}  # fmt: skip


GANGED = "pot P1 100k log at 80 %\npot P2 250k ganged P1\n" + FED + (
    "B -- P2.top\nP2.bottom -- gnd\nP1.wiper -- A\nP2.wiper -- C\n"
)  # fmt: skip


def test_ganged_pots_stand_and_turn_together() -> None:
    circuit = build_circuit(parse_drawing(GANGED))
    assert solve_states(circuit)["warm"].waves["C"].dc == pytest.approx(80.0, rel=1e-4)
    for turned in ("P1", "P2"):
        again = valued(circuit, {turned: Amount(50.0, SHARE)})
        waves = solve_states(again)["warm"].waves
        assert (waves["A"].dc, waves["C"].dc) == pytest.approx((10.0, 50.0), rel=1e-3)


def test_turned_past_its_tap_it_is_as_if_drawn_so() -> None:
    text = f"pot P1 1M tap 30 % tap 60 % at {{}}\n{FED}P1.wiper --[R1 1M]-- gnd"
    circuit = build_circuit(parse_drawing(text.format("80 %")))
    for at in (10, 45, 95):
        drawn = build_circuit(parse_drawing(text.format(f"{at} %")))
        turned = valued(circuit, {"P1": Amount(float(at), SHARE)})
        assert [(b.name, b.a, b.b, str(b.value)) for b in turned.branches.values()] == [
            (b.name, b.a, b.b, str(b.value)) for b in drawn.branches.values()]  # fmt: skip
        assert [b.name for half in halves(turned, "P1") for b in half] == [
            b.name for half in halves(drawn, "P1") for b in half]  # fmt: skip
        assert set(turned.graph.edges) == set(drawn.graph.edges)


@pytest.mark.parametrize(
    ("lines", "rule"),
    [
        ("pot P2 250k ganged P9", "drawing.unknown-name"),
        ("pot P1 1M\npot P2 1M ganged P1\npot P3 1M ganged P2", "drawing.unknown-name"),
        ("pot P1 1M ganged P1", "drawing.unknown-name"),
        ("pot P1 1M\npot P2 1M ganged P1 at 30 %", "drawing.syntax"),
        ("pot P1 1M log linear", "drawing.syntax"),
        ("pot P1 1M tap 100 %", "drawing.syntax"),
        ("pot P1 1M tap 2M", "drawing.syntax"),
        ("pot P1 ? tap 100k", "drawing.syntax"),
        ("pot P1 1M tap 10 % tap 20 % tap 30 %", "drawing.syntax"),
    ],
)
def test_refused(lines: str, rule: str) -> None:
    assert [p.rule for p in parse_drawing(lines).problems] == [rule]


def test_in_a_sheet_a_gang_is_the_sheets_own(tmp_path) -> None:  # type: ignore[no-untyped-def]
    from coldcheck.drawing import read_drawing

    (tmp_path / "c.tube").write_text(GANGED, encoding="utf-8")
    (tmp_path / "top.tube").write_text('sheet "c.tube" as L joining gnd\n', encoding="utf-8")
    drawing = read_drawing(tmp_path / "top.tube")
    assert not drawing.problems
    circuit = valued(build_circuit(drawing), {"L/P1": Amount(50.0, SHARE)})
    assert solve_states(circuit)["warm"].waves["L/C"].dc == pytest.approx(50.0, rel=1e-3)


def test_a_loudness_control_is_reviewed_whole() -> None:
    """V1A sees 300k beside 47k and 10n at 1 kHz, a third of it (the wiper at 10 % of the track)."""
    text = (
        "tube V1 12AX7\npot P1 1M log tap 300k at 50 %\nB1 --+[E1 250 V]-- gnd\n"
        "B1 --[R1 100k]-- V1A.plate\nV1A.cathode --[R2 1k5]-- gnd\nsignal IN 0.4 V\n"
        "IN -- P1.top\nP1.bottom -- gnd\nP1.tap --[R3 47k]--[C2 10n 100 V]-- gnd\n"
        "P1.wiper -- V1A.grid\nexpect gain IN to P1.wiper = 0.0195 within 3 %\n"
    )
    looked = review_text(text)
    assert "intent.not-met" not in {f.rule for f in looked.findings}
