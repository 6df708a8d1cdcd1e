"""What a reading is worth: what it costs to take, and what two tell together."""

from __future__ import annotations

from math import log2

import numpy as np
import pytest

from coldcheck.bench.diagnosis.channels import Channel
from coldcheck.bench.diagnosis.diagnosis import Diagnosis
from coldcheck.bench.diagnosis.readings import AC, DC, OHM, SIGNAL
from coldcheck.bench.diagnosis.worth import both, information, pains

PLAIN = [
    (Channel(DC, "A", "A"), 1.0),
    (Channel(DC, "A", "A", peak=500.0), 2.0),
    (Channel(OHM, "A", "A", wait=20.0), 2.0),
    (Channel(SIGNAL, "A", "A"), 1.5),
]


@pytest.mark.parametrize(("channel", "cost"), PLAIN)
def test_volts_waiting_and_a_generator_cost(channel, cost):
    assert pains([channel], None) == [cost]


@pytest.mark.parametrize(("kind", "last", "cost"), [(OHM, DC, 3.0), (DC, OHM, 3.0), (AC, DC, 1.0)])
def test_the_power_has_to_go_off_and_on_again(kind, last, cost):
    assert pains([Channel(kind, "A", "A")], Channel(last, "B", "B")) == [cost]


P = np.array([0.5, 0.5])


def test_two_readings_that_go_together_tell_what_neither_does():
    """A rail that is 10 V low, where the mains moves it by 10 V, and the mains beside it.

    By itself the rail is a deviation of 10.05 V, one apart. With the mains known, what is left of
    it is 1 V: ten apart, which is the whole bit.
    """
    rail, mains = 10.0**2 + 1.0, 10.0**2
    covariance = np.array([[[rail, 10.0 * 10.0], [10.0 * 10.0, mains + 1e-6]]] * 2)
    mean = np.array([[0.0, 0.0], [10.0, 0.0]])
    alone = information(P, mean[:, 0], covariance[:, 0, 0])
    assert alone < 0.2
    assert information(P, mean[:, 1], covariance[:, 1, 1]) == pytest.approx(0.0, abs=1e-9)
    assert both(P, mean, covariance) == pytest.approx(1.0, abs=1e-3)


def test_two_that_do_not_go_together_tell_what_the_formula_says():
    """Bhattacharyya: 1/8 of the square of the distance in deviations, the squares added."""
    mean, covariance = np.array([[0.0, 0.0], [1.0, 2.0]]), np.array([np.eye(2)] * 2)
    wanted = 1 - log2(1 + np.exp(-5 / 8))
    assert both(P, mean, covariance) == pytest.approx(wanted)
    assert information(P, mean[:, 0], np.ones(2)) == pytest.approx(1 - log2(1 + np.exp(-1 / 8)))


def test_what_is_asked_is_worth_most_for_its_pains(coupled, library):
    """Of the first, at least its own bits for its pains are what any other is worth by itself."""
    diagnosis = Diagnosis(library)
    first = library.channel(DC, coupled.points["DRV"])
    diagnosis.take_value(first, library.mean[0, first])
    _, worth = diagnosis._worth()
    points = diagnosis.next_points(len(library.channels))
    order = [worth[library.channels.index(p.channel)] for p in points]
    assert order == sorted(order, reverse=True)
    cost = pains(library.channels, library.channels[first])
    alone = [p.bits / cost[library.channels.index(p.channel)] for p in points]
    assert all(w >= a - 1e-12 for w, a in zip(order, alone, strict=True))
