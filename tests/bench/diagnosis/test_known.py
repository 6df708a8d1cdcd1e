"""The library of a circuit: worked out beside the first readings, kept, and read again."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from coldcheck.bench.diagnosis import known as module
from coldcheck.bench.diagnosis.account import Evening
from coldcheck.bench.diagnosis.known import Known
from coldcheck.bench.diagnosis.noted import parse_readings
from coldcheck.bench.diagnosis.shelved import from_bytes, to_bytes
from coldcheck.bench.diagnosis.suspects import suspects_of
from coldcheck.bench.instruments.instruments import DC_METER


class Shelf:
    """Keeps one library, and counts."""

    def __init__(self, content=None):
        self.content, self.put_in = content, 0

    def get(self):
        return self.content

    def put(self, content):
        self.content, self.put_in = content, self.put_in + 1


def test_what_is_kept_comes_back_the_same(coupled, library):
    found = from_bytes(to_bytes(library), suspects_of(coupled))
    assert found is not None
    assert found.channels == library.channels
    assert (found.suspects, found.unsolved, found.lost) == (
        library.suspects, library.unsolved, library.lost,
    )  # fmt: skip
    for name in ("owner", "size", "mean", "noise"):
        assert np.array_equal(getattr(found, name), getattr(library, name))
    # covariances are kept to the seven digits of half a float
    np.testing.assert_allclose(found.covariance, library.covariance, rtol=2e-7, atol=1e-30)


def test_of_other_suspects_or_damaged_it_is_nothing(coupled, library):
    content = to_bytes(library)
    assert from_bytes(content, suspects_of(coupled)[:-1]) is None
    assert from_bytes(content[:2000], suspects_of(coupled)) is None
    assert from_bytes(b"not an archive", suspects_of(coupled)) is None


def test_it_is_kept_once_and_not_worked_out_again(coupled, monkeypatch):
    shelf = Shelf()
    first = Known(coupled, DC_METER, shelf).library()
    assert shelf.put_in == 1

    def never(*_):
        raise AssertionError

    monkeypatch.setattr(module, "library_of", never)
    again = Known(coupled, DC_METER, shelf).library()
    assert np.array_equal(again.mean, first.mean)
    assert shelf.put_in == 1


def test_a_damaged_one_is_worked_out_anew(coupled):
    shelf = Shelf(b"PK nothing")
    found = Known(coupled, DC_METER, shelf)
    assert not isinstance(found.library(), str)
    assert shelf.put_in == 1
    assert found.done == found.every > 0


def test_readings_are_judged_while_it_is_worked_out(coupled, monkeypatch):
    wait, real = threading.Event(), module.library_of

    def held(*given):
        assert wait.wait(60)
        return real(*given)

    monkeypatch.setattr(module, "library_of", held)
    evening = Evening(coupled)
    evening.known.begin()
    assert not evening.known.ready
    first = evening.first_points()
    assert first[0].point == "B1"  # a rail before the points of a tube
    assert all(c.kind == "dc" for c in first)
    (reading,), _ = parse_readings(coupled, "DRV,dc,5.49")
    evening.readings.append(reading)
    assert evening.head().judged[0].verdict == "high"
    wait.set()
    assert "C4 leak" in {r.suspect.key for r in evening.account().leading[0].members}
    assert evening.known.ready
    assert evening.known.share == 1.0


def test_what_goes_wrong_beside_is_raised_by_whoever_waits(coupled, monkeypatch):
    def broken(*_):
        raise ZeroDivisionError

    monkeypatch.setattr(module, "library_of", broken)
    found = Known(coupled, DC_METER)
    found.begin()
    with pytest.raises(ZeroDivisionError):
        found.library()
