"""Transistors and regulators that are dead, shorted or have a lead off, against sums by hand."""

from __future__ import annotations

import pytest

from coldcheck.bench.diagnosis.account import Evening
from coldcheck.bench.diagnosis.noted import parse_readings
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

FOLLOWER = """\
drawing "Pilot: a follower"
B1 --+[E1 300 V 0.1 A]-- gnd
transistor Q1 IRF820
B1 -- Q1.drain
B1 --[R4 1M]-- A --[R5 1M]-- gnd
A --[R1 1k]-- Q1.gate
Q1.source --[R3 47k 3 W]-- gnd
"""

EMITTER = """\
drawing "Pilot: an emitter follower"
B1 --+[E1 30 V 0.1 A]-- gnd
transistor Q1 BC547
B1 -- Q1.collector
B1 --[R4 100k]-- A --[R5 100k]-- gnd
A --[R1 1k]-- Q1.base
Q1.emitter --[R3 4k7]-- gnd
"""

REGULATOR = """\
drawing "Pilot: a regulator"
B1 --+[E1 35 V 1 A]-- gnd
regulator U1 LM317
B1 -- U1.in
U1.out --[R1 120]-- U1.adj --[R2 1k]-- gnd
U1.out --[R3 100 ohm 5 W]-- gnd
"""

# With the gate through to the source 300 V into 1M over 1M || 48k leave 13.15 V at A. The base
# alone: 15 V behind 50k and 1k, less 0.65 V, over 4k7 makes 1.21 V, and 2.12 V at A. Through from
# collector to base: 30 V, less 0.7 V at the emitter. A regulator without its third lead lacks
# what it drops by itself, 2 V.
SEEN = [
    (FOLLOWER, "Q1.source dc 0.00\nA dc 150", "Q1.drain-source open"),
    (FOLLOWER, "Q1.source dc 0.05\nA dc 150", "Q1.drain-source open"),
    (FOLLOWER, "Q1.source dc 300\nA dc 150", "Q1.drain-source short"),
    (FOLLOWER, "Q1.source dc 12.9\nQ1.gate dc 12.9\nA dc 13.1", "Q1.gate-source short"),
    (FOLLOWER, "Q1.source dc 296.5\nQ1.gate dc 300", "Q1.drain-gate short"),
    (FOLLOWER, "Q1.source dc 300\nQ1.gate dc 300", "Q1 short"),
    (EMITTER, "Q1.emitter dc 0.00\nA dc 15\nQ1.base dc 15", "Q1.collector-emitter open"),
    (EMITTER, "Q1.emitter dc 1.21\nA dc 2.1", "Q1.collector lead"),
    (EMITTER, "Q1.emitter dc 30\nQ1.base dc 15", "Q1.collector-emitter short"),
    (EMITTER, "Q1.emitter dc 29.3\nQ1.base dc 30", "Q1.collector-base short"),
    (REGULATOR, "U1.out dc 0.00\nU1.in dc 35", "U1.in-out open"),
    (REGULATOR, "U1.out dc 34.9\nU1.in dc 35", "U1.in-out short"),
    (REGULATOR, "U1.out dc 33.2\nU1.adj dc 29.6", "U1.adj lead"),
]


@pytest.mark.parametrize(("text", "read", "key"), SEEN)
def test_a_dead_or_shorted_one_is_found(text, read, key):
    evening = Evening(build_circuit(parse_drawing(text, "pilot.tube")))
    found, slips = parse_readings(evening.circuit, read)
    assert not slips
    evening.take(found)
    account = evening.account()
    assert account.explained
    first = [r for r in account.leading[0].members if r.suspect.key == key]
    assert first, [r.suspect.key for g in account.leading for r in g.members]
    assert not first[0].refuted


@pytest.mark.parametrize(("volts", "refuted"), [(0.15, False), (2.0, True)])
def test_a_dead_one_may_leak_a_little(volts, refuted):
    evening = Evening(build_circuit(parse_drawing(FOLLOWER, "pilot.tube")))
    evening.take(parse_readings(evening.circuit, f"Q1.source dc {volts}\nA dc 150")[0])
    diagnosis, _ = evening.diagnosis()
    ranked = {r.suspect.key: r for g in diagnosis.groups() for r in g}
    dead = ranked.get("Q1.drain-source open")
    assert (dead is None or dead.refuted) is refuted
