"""Growing modes against the criterion of Nyquist, drawn from the same network another way.

The admittance seen at the shared supply point, along all frequencies, turns about the origin once
for every mode that grows (those with the point held are none here). It comes from solving at each
frequency; the modes come from eigenvalues.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from coldcheck.solve.signal import stability
from coldcheck.solve.signal.linearised import Linearised
from coldcheck.solve.signal.stability import LARGEST, growing, hertz, quietens

TEXT = """tube V1 {tube}
tube V2 6V6GT
RAW --+[E1 320 V]-- gnd
RAW --[R9 {feed}]-- B1 --+[C9 {filter} 450 V]-- gnd
IN --[R1 1M]-- gnd
IN -- V1A.grid
V1A.cathode --[R2 1k5]-- gnd
V1A.cathode --+[C1 25 uF 25 V]-- gnd
B1 --[R3 100k]-- V1A.plate --[C2 22 nF 400 V]-- G2 --[R4 470k]-- gnd
G2 -- V1B.grid
V1B.cathode --[R5 1k5]-- gnd
V1B.cathode --+[C3 25 uF 25 V]-- gnd
B1 --[R6 100k]-- V1B.plate --[C4 22 nF 400 V]-- G3 --[R7 470k]-- gnd
G3 -- V2.grid
V2.cathode --[R8 330 ohm 3 W]-- gnd
V2.cathode --+[C5 25 uF 50 V]-- gnd
B1 -- V2.screen
B1 --[R10 2k2 5 W]-- V2.plate
"""


def linear(solved, **values):  # type: ignore[no-untyped-def]
    solution = solved(
        TEXT.format(**{"tube": "12AX7", "feed": "470 ohm", "filter": "40 uF", **values})
    )
    return Linearised(solution.circuit, solution)


def by_nyquist(network: Linearised, net: str) -> int:
    """Modes that grow: half a turn for a capacitor at high frequency, less what was turned."""
    column = network.column({net: 1.0})[:, None]
    frequencies = np.geomspace(1e-4, 1e6, 4000)
    row = network.network.at(net)
    seen = np.array([1 / network.solve(f, column)[row, 0] for f in frequencies])
    turned = np.unwrap(np.angle(seen))
    return round(0.5 - (turned[-1] - turned[0]) / math.pi)


def count(modes) -> int:  # type: ignore[no-untyped-def]
    return sum(2 if abs(m.imag) > 1e-9 * abs(m) else 1 for m in modes)


@pytest.mark.parametrize("tube", ["12AX7", "12AU7"])
@pytest.mark.parametrize("feed", ["10 ohm", "470 ohm", "2k2"])
@pytest.mark.parametrize("filter_", ["8 uF", "100 uF", "1000 uF"])
def test_as_many_modes_grow_as_nyquist_says(  # type: ignore[no-untyped-def]
    solved, monkeypatch: pytest.MonkeyPatch, tube: str, feed: str, filter_: str
) -> None:
    monkeypatch.setattr(stability, "FASTEST_HZ", 1e6)  # a ring without strays also grows fast
    network = linear(solved, tube=tube, feed=feed, filter=filter_)
    assert count(growing(network, ("B1",))) == 0
    assert count(growing(network)) == by_nyquist(network, "B1")


def test_holding_a_point_still_leaves_the_network_as_it_was(solved) -> None:  # type: ignore[no-untyped-def]
    network = linear(solved, feed="2k2", filter="8 uF")
    before = growing(network)
    assert before.size
    assert not growing(network, ("B1",)).size
    assert growing(network) == pytest.approx(before)


def test_what_a_ring_goes_through(solved) -> None:  # type: ignore[no-untyped-def]
    """Each grid is on it, and the point of the supply; the input is not."""
    network = linear(solved, feed="2k2", filter="8 uF")
    assert quietens(network, (), ("B1", "G2", "G3", "IN")) == ("B1", "G2", "G3")


def test_the_two_ends_of_the_range(solved) -> None:  # type: ignore[no-untyped-def]
    """Worth asking: one of these is quiet and one is not."""
    assert count(growing(linear(solved, feed="10 ohm", filter="1000 uF"))) == 0
    assert count(growing(linear(solved, feed="2k2", filter="8 uF"))) > 0


def test_old_capacitors_and_new_ones(solved) -> None:  # type: ignore[no-untyped-def]
    """Half of 100 uF is 50 uF, whichever way it is said."""
    aged = growing(linear(solved, filter="100 uF"), farads={"C9": 0.5})
    assert aged == pytest.approx(growing(linear(solved, filter="50 uF")), rel=1e-6)


def test_a_decoupled_load_does_not_hear_the_supply(solved) -> None:  # type: ignore[no-untyped-def]
    network = linear(solved)
    assert growing(network).size
    assert not growing(network, moved={"R3": "B1"}).size
    # The same drawn: R3 on the ideal source makes the first stage deaf to B1.
    text = TEXT.format(tube="12AX7", feed="470 ohm", filter="40 uF").replace(
        "B1 --[R3", "RAW --[R3"
    )
    solution = solved(text)
    assert not growing(Linearised(solution.circuit, solution)).size


def test_frequencies() -> None:
    assert hertz(1 + 2j * math.pi * 5) == pytest.approx(5)
    assert hertz(2 * math.pi * 3 + 0j) == pytest.approx(3)


def test_too_large_a_circuit_is_refused(solved, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setattr("coldcheck.solve.signal.stability.LARGEST", 3)
    with pytest.raises(ValueError, match="more than 3"):
        growing(linear(solved))
    assert LARGEST > 100
