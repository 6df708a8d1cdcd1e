"""What was solved, kept as arrays and read again; further channels as from the fresh one."""

from __future__ import annotations

import numpy as np
import pytest
from tests.bench.drawings import COUPLED

from coldcheck.bench.diagnosis.channels import Channel
from coldcheck.bench.diagnosis.library import library_of, with_channels
from coldcheck.bench.diagnosis.shelved import from_bytes, to_bytes
from coldcheck.bench.diagnosis.shelved_solved import every_shown
from coldcheck.bench.diagnosis.suspects import suspects_of
from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing


@pytest.fixture(scope="module")
def coupled():
    return build_circuit(parse_drawing(COUPLED, "buoy.tube"))


@pytest.fixture(scope="module")
def both(coupled):
    suspects = suspects_of(coupled)
    fresh = library_of(coupled, suspects)
    return fresh, from_bytes(to_bytes(fresh), suspects)


def test_every_case_comes_back_to_seven_digits(both):
    fresh, kept = both
    pairs = zip(every_shown(fresh.solved), every_shown(kept.solved), strict=True)
    for one, other in pairs:
        assert one.nets == other.nets
        assert list(one.deviations) == list(other.deviations)
        for name in ("volts", "ac", "ohms", "waves", "behind"):
            there = getattr(one, name).astype(float)
            assert np.allclose(there, getattr(other, name), rtol=1e-6, atol=1e-6, equal_nan=True)
        for cause, moved in one.deviations.items():
            assert np.allclose(moved, other.deviations[cause], rtol=1e-6, atol=1e-9)
    assert [(p, s.key) for p, s, _ in fresh.solved.cases] == [
        (p, s.key) for p, s, _ in kept.solved.cases
    ]


def test_a_channel_between_two_points_is_the_same_from_it(coupled, both):
    channel = Channel("dc", "B1", "B1 to V1A.plate", 250.0, 0.0, coupled.points["V1A.plate"])
    fresh, kept = (with_channels(library, coupled, [channel]) for library in both)
    assert np.allclose(fresh.mean, kept.mean, rtol=1e-5, atol=1e-4)
    assert np.allclose(fresh.covariance[:, -1], kept.covariance[:, -1], rtol=1e-3, atol=1e-3)


def test_what_is_cut_short_is_no_library(coupled, both):
    content = to_bytes(both[0])
    for length in (10, len(content) // 2, len(content) - 30):
        assert from_bytes(content[:length], suspects_of(coupled)) is None
