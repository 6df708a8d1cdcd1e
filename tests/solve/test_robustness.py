"""Random circuits: every state is reached or refused with a reason, and the currents add up.

``COLDCHECK_RANDOM=2000 pytest tests/solve/test_robustness.py -s`` tries more than the suite's
60, ``COLDCHECK_RANDOM_STATES=all`` every state of each, ``COLDCHECK_RANDOM_FROM`` begins at
another number. A circuit is rebuilt from its number alone, so a failing number is its own
reproduction. hypothesis draws numbers from the whole range besides (``COLDCHECK_HYPOTHESIS``:
how many).

Two kinds of states have no numbers, and are counted apart. *Refused* are those of which the
solver says what is wrong with the drawing (a source that is shorted, a loop of sources).
*Missed* are those that it did not reach.
"""

import os
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve.cycle.starts import NotConverged
from coldcheck.solve.cycle.steady import Cycle
from coldcheck.solve.engine import Solver
from coldcheck.solve.solution import WARM, State
from coldcheck.solve.states import states_of

COUNT = int(os.environ.get("COLDCHECK_RANDOM", "60"))
INSTANTS = 64
MISSES = 0.001
"""Share of states that may be missed. The suite's handful allows none."""

REFUSALS = ("would deliver", "no single answer")
"""What the reasons of a refusal say; all other reasons are misses."""

RESIDUAL = 1e-9
"""Allowed error of Kirchhoff's current law: amperes, and again as a share of the largest one."""

DRAWN = int(os.environ.get("COLDCHECK_HYPOTHESIS", "15"))
FIRST = int(os.environ.get("COLDCHECK_RANDOM_FROM", "0"))

TRIODES = ("12AX7", "12AU7", "12AT7", "6SN7GT", "6SL7GT", "6DJ8")
PENTODES = ("6V6GT", "EL84", "6L6GC", "EL34", "EF86", "6SJ7")


def supply(r, lines):
    """A bench supply or a mains one: tapped tube or silicon, bridge, half wave, doubler."""
    kind = r.choice(("bench", "tube", "silicon", "bridge", "half", "doubler"))
    volts = r.choice((120, 200, 250, 300, 350))
    if kind == "bench":
        lines += [
            f"RES --+[E1 {volts} V]-- gnd",
            f"RES --[R900 {r.choice((10, 100, 1000))} ohm]-- B1",
        ]
        return
    line = r.choice((120, 230))
    lines += [f"mains {line} V {r.choice((50, 60))} Hz", "transformer T1"]
    lines += [f"    primary pri {line} V" + r.choice(("", " 5 ohm", " 20 ohm"))]
    rated = r.choice(("", " 80 mA", " 200 mA"))
    ohms = r.choice(("", " 40 ohm", " 300 ohm"))
    tapped = f" ct {volts} V" if kind in ("tube", "silicon") else ""
    lines += [f"    winding ht {volts} V{tapped}{rated}{ohms}"]
    lines += [f"    winding warm 6.3 V{r.choice(('', ' ct'))} 4 A"]
    if r.random() < 0.6:
        lines += [r.choice(("T1.warm.2 -- gnd", "T1.warm.1 --[R901 100 ohm]-- gnd"))]
    diode = "[D{} 1N4007]->"
    if kind == "tube":
        tube = r.choice(("5Y3GT", "5U4GB", "GZ34", "6X4"))
        if tube == "6X4":
            lines += ["tube V90 6X4 heater T1.warm", "V90.cathode -- RES"]
        else:
            lines += ["    winding fil 5 V 3 A", f"tube V90 {tube} heater T1.fil", "V90:8 -- RES"]
        lines += ["T1.ht.1 -- V90.plate1", "T1.ht.2 -- V90.plate2", "T1.ht.ct -- gnd"]
    elif kind == "silicon":
        lines += [
            f"T1.ht.1 --{diode.format(1)} RES",
            f"T1.ht.2 --{diode.format(2)} RES",
            "T1.ht.ct -- gnd",
        ]
    elif kind == "bridge":
        lines += [f"T1.ht.1 --{diode.format(1)} RES", f"T1.ht.2 --{diode.format(2)} RES"]
        lines += [f"gnd --{diode.format(3)} T1.ht.1", f"gnd --{diode.format(4)} T1.ht.2"]
    elif kind == "half":
        lines += [f"T1.ht.1 --{diode.format(1)} RES", "T1.ht.2 -- gnd"]
    else:
        lines += [f"T1.ht.1 --{diode.format(1)} RES", f"gnd --{diode.format(2)} T1.ht.1"]
        lines += ["T1.ht.2 -- MID", "RES --+[C901 47 uF]-- MID", "MID --+[C902 47 uF]-- gnd"]
    if r.random() < 0.8 and kind != "doubler":
        lines += [f"RES --+[C900 {r.choice((4, 20, 47, 220))} uF]-- gnd"]
    if r.random() < 0.3:
        lines += ["RES --[R902 220k]-- gnd"]
    link = r.choice(("[R900 470 ohm]", "[R900 4k7]", "[L900 8 H 250 ohm]", "[S900 switch]"))
    lines += [f"RES --{link}-- B1"]


def feed(r, lines, k):
    """The supply point of stage k, through a decoupling section or not."""
    if r.random() < 0.5:
        return "B1"
    lines += [f"B1 --[R{k}8 {r.choice(('10k', '47k', '470 ohm'))}]-- BB{k}"]
    if r.random() < 0.9:
        lines += [f"BB{k} --+[C{k}8 {r.choice((8, 22, 47))} uF]-- gnd"]
    return f"BB{k}"


def triode(r, lines, k, source, heater):
    lines += [f"tube V{k} {r.choice(TRIODES)}{heater}"]
    rail = feed(r, lines, k)
    a = f"V{k}A"
    cathode = r.choice(("1k", "1k5", "3k3", "100k", "47 ohm"))
    if r.random() < 0.2:  # a cathode follower
        lines += [f"{rail} -- {a}.plate"]
        cathode = r.choice(("22k", "100k"))
    else:
        lines += [f"{rail} --[R{k}1 {r.choice(('22k', '100k', '220k', '470k'))}]-- {a}.plate"]
    lines += [f"{a}.cathode --[R{k}2 {cathode}]-- gnd"]
    if r.random() < 0.5:
        lines += [f"{a}.cathode --+[C{k}2 25 uF]-- gnd"]
    grid(r, lines, k, a, source)
    return f"{a}.plate"


def pentode(r, lines, k, source, heater):
    lines += [f"tube V{k} {r.choice(PENTODES)}{heater}"]
    rail, a = feed(r, lines, k), f"V{k}"
    if r.random() < 0.5:
        lines += [f"output OT{k} 5k : 8 ohm {r.choice((100, 250))} ohm", f"{rail} -- OT{k}.p1"]
        lines += [f"OT{k}.p2 -- {a}.plate", f"OT{k}.s2 -- gnd"]
        lines += [f"OT{k}.s1 --[LS{k} speaker 8 ohm]-- OT{k}.s2"] * (r.random() < 0.8)
    else:
        lines += [f"{rail} --[R{k}1 {r.choice(('2k2', '47k', '220k'))}]-- {a}.plate"]
    lines += [f"{rail} --[R{k}3 {r.choice(('100 ohm', '10k', '470k', '1M'))}]-- {a}.screen"]
    if r.random() < 0.6:
        lines += [f"{a}.screen --[C{k}3 0.1 uF]-- gnd"]
    lines += [f"{a}.cathode --[R{k}2 {r.choice(('130 ohm', '270 ohm', '1k'))}]-- gnd"]
    if r.random() < 0.6:
        lines += [f"{a}.cathode --+[C{k}2 25 uF]-- gnd"]
    grid(r, lines, k, a, source)
    return f"{a}.plate"


def grid(r, lines, k, a, source):
    if r.random() < 0.08:
        return  # a grid without a return
    if source and r.random() < 0.15:
        lines += [f"{source} --[R{k}5 1k]-- {a}.grid"]  # coupled directly
        return
    if source and r.random() < 0.8:
        lines += [f"{source} --[C{k}4 {r.choice((4.7, 22, 100))} nF]-- {a}.grid"]
    lines += [f"{a}.grid --[R{k}4 {r.choice(('470k', '1M', '10M'))}]-- gnd"]


def fault(r, lines):
    """Spoil one line: a part left out, shorted, or without its value."""
    parts = [n for n, t in enumerate(lines) if "--[" in t and "]--" in t and " speaker" not in t]
    if not parts or r.random() < 0.5:
        return
    n = r.choice(parts)
    how = r.choice(("gone", "shorted", "leaky", "?"))
    if how == "gone":
        del lines[n]
    elif how == "shorted":
        lines.append(lines[n].split("--[")[0] + "-- " + lines[n].split("]--")[-1].strip())
    elif how == "leaky":
        lines.append(
            lines[n].split("--[")[0] + "--[R999 100k]-- " + lines[n].split("]--")[-1].strip()
        )
    elif "[R" in lines[n]:
        head, name = lines[n].split("--[")[0], lines[n].split("[")[1].split()[0]
        lines[n] = f"{head}--[{name} ?]-- {lines[n].split(']--')[-1].strip()}"


def drawing_of(number):
    r, lines = random.Random(number), []
    supply(r, lines)
    heater = " heater T1.warm" if any("warm" in t for t in lines) and r.random() < 0.8 else ""
    source = None
    for k in range(1, r.randint(1, 4) + 1):
        stage = triode if r.random() < 0.6 else pentode
        source = stage(r, lines, k, source, heater)
    fault(r, lines)
    return "\n".join(order(lines)) + "\n"


def order(lines):
    """Windings belong under their transformer."""
    windings = [t for t in lines if t.startswith("    ")]
    others = [t for t in lines if not t.startswith("    ")]
    at = next((n for n, t in enumerate(others) if t.startswith("transformer")), -1) + 1
    return others[:at] + windings + others[at:]


def chosen(circuit, number):
    """The warm state and one other; all of them when asked."""
    warm, *others = states_of(circuit)
    if os.environ.get("COLDCHECK_RANDOM_STATES") == "all":
        return [warm, *others]
    return [warm, *random.Random(number).sample(others, 1)]


def outcome(number):
    """(states tried, reasons of those without numbers by state) of one random drawing."""
    drawing = parse_drawing(drawing_of(number), "<random>")
    assert not drawing.problems, (number, drawing.problems[0])
    circuit = build_circuit(drawing)
    solver, without = Solver(circuit, INSTANTS), {}
    states = chosen(circuit, number)
    for state in states:
        solution = solver.solve(state)
        if solution.converged:
            assert solution.residual_a <= RESIDUAL * (1 + largest(solution)), (number, state.name)
            assert solution.waves, (number, state.name)
            assert all(np.isfinite(w.samples).all() for w in solution.waves.values()), number
        else:
            assert solution.reason, (number, state.name)
            assert not solution.waves, (number, state.name)
            assert not solution.readings, (number, state.name)
            without[state.name] = solution.reason
    return len(states), without


def largest(solution):
    """The largest current anywhere, amperes."""
    return max((wave.peak for wave in solution.currents.values()), default=0.0)


def is_refusal(reason):
    return any(words in reason for words in REFUSALS)


def tally(numbers):
    """States tried, refused and missed over drawings; prints them."""
    states, refused, missed = 0, [], []
    for number in numbers:
        count, reasons = outcome(number)
        states += count
        for name, reason in reasons.items():
            (refused if is_refusal(reason) else missed).append((number, name, reason))
    judged = states - len(refused)
    rate = 100 * (1 - len(missed) / max(judged, 1))
    print(f"{states} states: {len(refused)} refused, {rate:.3f} % of the other {judged} reached")
    print(*(f"refused: {r}" for r in refused), *(f"missed: {m}" for m in missed), sep="\n")
    return judged, refused, missed


def test_random_circuits_are_solved_or_refused():
    judged, _, missed = tally(range(FIRST, FIRST + COUNT))
    assert len(missed) <= MISSES * judged, missed


MISSED = (1297666,)
"""Random drawings that are known to have states without numbers, which are then undecided.

The one here has no capacitor on the rail of four stages that feed back through it: it likely
motorboats and has no cycle that repeats (not proved). It was solved (on a balance that no such
circuit stays in) until triodes had a tail and pentodes a knee that moves with the current.
"""


@settings(max_examples=DRAWN, derandomize=True, database=None)
@given(st.integers(0, 2**32).filter(lambda number: number not in MISSED))
def test_any_number_is_solved_or_refused(number):
    _, reasons = outcome(number)
    assert all(is_refusal(reason) for reason in reasons.values()), reasons


@pytest.mark.parametrize("number", [68, 106])
def test_circuits_that_amplify_their_own_ripple_are_solved(number):
    """Cascades that feed back on their rail and jump; 33 and 58 are more of them."""
    _, reasons = outcome(number)
    assert not reasons


def test_a_shorted_source_is_refused_and_not_missed():
    text = "RES --+[E1 250 V]-- gnd\nRES -- gnd\n"
    circuit = build_circuit(parse_drawing(text, "<short>"))
    solution = Solver(circuit, INSTANTS).solve(states_of(circuit)[0])
    assert not solution.converged
    assert is_refusal(solution.reason)


def test_a_number_always_gives_the_same_drawing():
    assert drawing_of(3) == drawing_of(3)
    assert len({drawing_of(n) for n in range(50)}) == 50


def test_a_drawing_loses_two_states_at_most_by_the_last_resorts(monkeypatch):
    """Each takes a minute; the others are tried the cheap ways alone and say so."""

    def fails(*_):
        raise NotConverged("never")

    monkeypatch.setattr(Cycle, "solve", fails)
    monkeypatch.setattr(Solver, "_together", fails)
    circuit = build_circuit(parse_drawing("B1 --[E1 9 V]-- gnd\nB1 --[R1 1k]-- gnd\n"))
    solver = Solver(circuit, INSTANTS)
    reasons = [solver.solve(State(f"state {k}", WARM)).reason for k in range(4)]
    assert reasons == ["never"] * 2 + ["not tried to the end: 2 states before did not arrive"] * 2
