"""Sizes between two that were solved, against dividers worked out by hand."""

from __future__ import annotations

from math import log

import numpy as np
import pytest

from coldcheck.bench.diagnosis.between import away_from_sound, between
from coldcheck.bench.diagnosis.channels import log_ohms
from coldcheck.bench.diagnosis.library import library_of
from coldcheck.bench.diagnosis.readings import AC, DC, OHM
from coldcheck.bench.diagnosis.suspects import suspects_of
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing

KINDS = np.array([DC, OHM, AC])
BEHIND, VOLTS = 19e3, 38.0


def shown(ohms):
    """A leak across 19 kohm at 38 V: volts, what an ohmmeter shows, and an AC of a straight law."""
    return np.array(
        [VOLTS * ohms / (ohms + BEHIND), log_ohms(1 / (1 / ohms + 1 / BEHIND)), log(ohms)]
    )


def test_a_leak_between_two_sizes_is_what_the_divider_says():
    """210 ohm between 100 and 1 kohm: 0.42 V, where a straight line in the logarithm has 0.75 V."""
    sizes, share = (100.0, 210.0, 1e3), log(2.1) / log(10)
    sound = np.array([VOLTS, log_ohms(BEHIND), 20.0])
    means = sound, shown(100.0), shown(1e3)
    found = between(KINDS, means, [away_from_sound("leak", x) for x in sizes], share)
    assert found == pytest.approx(shown(210.0), rel=1e-6)
    straight = (1 - share) * means[1][0] + share * means[2][0]
    assert straight == pytest.approx(0.75, abs=0.01)


def test_a_resistor_gone_high_is_what_the_divider_says():
    """12 V over 10k and x times 10k; sound is x = 1, solved 2 and 10, asked 4."""
    volts = {x: np.array([12.0 / (1 + x)]) for x in (1, 2, 4, 10)}
    at = [away_from_sound("high", x) for x in (2, 4, 10)]
    found = between(KINDS[:1], (volts[1], volts[2], volts[10]), at, log(2) / log(5))
    assert found == pytest.approx(volts[4])


def test_what_turns_round_between_two_sizes_is_taken_as_straight():
    means = np.array([0.0]), np.array([-1.0]), np.array([2.0])
    found = between(KINDS[:1], means, [1.0, 0.3, 0.1], 0.25)
    assert found == pytest.approx([-0.25])


@pytest.mark.parametrize(
    ("kind", "size", "away"),
    [("leak", 50.0, 0.02), ("touch", 4.0, 0.25), ("high", 3.0, 2.0), ("weak", 0.4, -0.6),
     ("gassy", 2e-6, 2e-6), ("resistance", 30.0, 30.0)],
)  # fmt: skip
def test_how_much_is_changed_at_a_size(kind, size, away):
    assert away_from_sound(kind, size) == pytest.approx(away)


LIFT = """\
drawing "Lamp Post: a lift of a heater line"
B1 --+[E1 250 V]-- gnd
B1 --[R8 150k]-- LIFT --[R9 22k]-- gnd
LIFT --+[C9 10 uF 100 V]-- gnd
"""


def test_the_library_has_the_leaks_between_those_it_solved():
    circuit = build_circuit(parse_drawing(LIFT, "post.tube"))
    library = library_of(circuit, suspects_of(circuit))
    place = next(k for k, s in enumerate(library.suspects) if s.key == "C9 leak")
    sizes, at = [c.size for c in library.suspects[place].cases], library.channel("dc", "LIFT")
    asked = 0
    for model in np.flatnonzero(library.owner == place):
        ohms = 1 / (1 / library.size[model] + 1 / 22e3 + 1 / 10e6)
        asked += library.size[model] not in sizes
        assert library.mean[model, at] == pytest.approx(250 * ohms / (ohms + 150e3), rel=2e-3)
    assert asked > len(sizes)
