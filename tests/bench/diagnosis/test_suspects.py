"""The list of suspects: bounded, named once, each a fault the circuit can have."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldcheck.bench.diagnosis.suspects import GOOD, suspects_of
from coldcheck.circuit import build_circuit
from coldcheck.drawing import read_drawing
from coldcheck.solve.faults.fault import altered

SAMPLES = sorted((Path(__file__).parents[3] / "samples").glob("*.tube"))


@pytest.fixture(scope="module", params=SAMPLES, ids=lambda p: p.stem)
def circuit(request):
    return build_circuit(read_drawing(str(request.param)))


def test_bounded_and_named_once(circuit):
    found = suspects_of(circuit)
    assert found[0] is GOOD
    assert len({s.key for s in found}) == len(found)
    assert sum(len(s.cases) for s in found) <= 20 * len(circuit.branches)


def test_every_case_is_a_fault_the_circuit_can_have(circuit):
    for suspect in suspects_of(circuit):
        for case in suspect.cases:
            altered(circuit, case.faults)  # raises NoSuchPart for one it cannot have
        sizes = [c.size for c in suspect.cases]
        assert sizes == sorted(sizes)
        assert suspect.sized == ("{}" in suspect.words)


def test_the_trade_s_words():
    path = next(p for p in SAMPLES if p.stem == "harbour-light")
    found = {s.key: s for s in suspects_of(build_circuit(read_drawing(str(path))))}
    assert found["C4 leak"].said(2e6) == "C4 leaking, about 2 Mohm across it"
    assert found["R4 high"].said(2.0) == "R4 gone high: 2 times its value"
    assert found["V2 weak"].said(0.4) == "V2 weak: 40 % of its emission"
    assert found["V2 gassy"].said(5e-6) == "V2 gassy: 5 uA out of its grid"
    assert found["R4 open"].said(3e3) == "R4 as good as open: 3e+03 times its value"
    assert found["R4 open"].said(1e6) == "R4 open"
    assert found["C5 open"].said(0.1) == "C5 dried out: about 10 % of its capacity left"
    assert found["C5 open"].said(1e-3) == "C5 open, dried out or not connected"
    assert found["F2 resistance"].said(30.0) == "F2: 30 ohm in its holder or its wire"
    assert found["S1 resistance"].said(300.0) == "S1: 300 ohm in its contact"
    assert found["T1.ht.1-ct turns"].said(0.85).startswith("T1.ht.1-ct gives 85 % of its voltage")
    assert found["V2 touch plate grid"].said(1e6).startswith("about 1 Mohm between plate and grid")
    # leaving what belongs to no part that can be changed on a bench
    assert not [k for k in found if k.startswith(("signal", "E1"))]
    # R3 (100k) and R4 (1k5) are on the same triode and may be in each other's place
    assert "R3 R4 swap" in found
