"""The harmonic answer: difference in time against its symbol, sparse against dense, loads."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.solve.cycle import response as response_module
from coldcheck.solve.cycle.means import DenseMeans, SparseMeans
from coldcheck.solve.cycle.network import Network
from coldcheck.solve.cycle.response import (
    DenseHarmonics,
    SparseHarmonics,
    difference,
    difference_symbol,
)


@given(st.integers(0, 2**32 - 1), st.sampled_from([8, 16, 64, 128]), st.floats(10, 400))
def test_symbol_is_the_difference_seen_by_a_fourier_transform(seed, n, frequency):
    samples = np.random.default_rng(seed).standard_normal((3, n))
    here = np.fft.rfft(difference(samples, frequency), axis=-1)
    symbol = difference_symbol(n, frequency)
    assert here[:, 1:] == pytest.approx(
        symbol * np.fft.rfft(samples, axis=-1)[:, 1:], rel=1e-9, abs=1e-7
    )
    assert np.abs(here[:, 0]).max() < 1e-7


@pytest.mark.parametrize("harmonic", [1, 2, 4])
def test_difference_is_second_order(harmonic):
    errors = []
    for n in (64, 128):
        angle = 2 * np.pi * np.arange(n) / n
        slope = difference(np.sin(harmonic * angle), 50.0)
        errors.append(np.abs(slope - 2 * np.pi * 50 * harmonic * np.cos(harmonic * angle)).max())
    assert 3 < errors[0] / errors[1] < 5


def ladder(rng, nodes=12):
    """A random network of resistors, capacitors, chokes and one source."""
    names = [f"n{k}" for k in range(nodes)]
    network = Network({n: k for k, n in enumerate(names)}, 60.0, nodes)
    ends = ["gnd", *names]
    for k, name in enumerate(names):
        network.admit(name, ends[rng.integers(0, k + 1)], 10 ** rng.uniform(-6, -1), network.g)
        network.admit(name, ends[rng.integers(0, nodes + 1)], 10 ** rng.uniform(-9, -4), network.c)
    row = network.carry("L1", names[1], names[-1], 100.0)
    network.c.append((row, row, -10.0))
    network.carry("E1", names[2], "gnd", 1e-3)
    return network


@pytest.fixture
def system():
    rng = np.random.default_rng(7)
    network = ladder(rng)
    at = np.zeros((network.size, 4))
    at[[0, 3, 5, 9], range(4)] = 1
    at[[1, 4], [0, 2]] = -1
    y = rng.uniform(0, 3e-3, (4, 4))
    rhs = rng.standard_normal((16, network.size, 2)) + 1j * rng.standard_normal(
        (16, network.size, 2)
    )
    return network, difference_symbol(32, 60.0), at, y, rhs


def direct(network, symbol, at, y, rhs):
    """Each harmonic's matrix written out and solved on its own."""
    g, c = np.zeros((network.size,) * 2), np.zeros((network.size,) * 2)
    for matrix, entries in ((g, network.g + network.ac_only), (c, network.c)):
        for i, j, value in entries:
            matrix[i, j] += value
    return np.stack(
        [np.linalg.solve(g + s * c + at @ y @ at.T, b) for s, b in zip(symbol, rhs, strict=True)]
    )


def close(a, b):
    return np.abs(a - b).max() <= 1e-8 * np.abs(b).max()


def test_a_load_is_what_writing_it_into_the_matrix_would_be(system):
    network, symbol, at, y, rhs = system
    dense = DenseHarmonics(network, symbol)
    for share in (1.0, 0.0, 0.3):  # each load replaces the one before
        dense.load(at, share * y)
        assert close(dense.solve(rhs), direct(network, symbol, at, share * y, rhs))


def test_no_ports_means_no_load(system):
    network, symbol, at, y, rhs = system
    dense = DenseHarmonics(network, symbol)
    dense.load(at, y)
    dense.load(np.zeros((network.size, 0)), np.zeros((0, 0)))
    assert close(dense.solve(rhs), direct(network, symbol, at, 0 * y, rhs))


def test_sparse_factors_give_the_dense_answer(system):
    from scipy.sparse import csc_array

    network, symbol, at, y, rhs = system
    sparse = SparseHarmonics(network, symbol)
    sparse.load(csc_array(at), csc_array(y))
    assert close(sparse.solve(rhs), direct(network, symbol, at, y, rhs))


@pytest.mark.parametrize("low_rank", [0, 2, 24])
def test_sparse_factors_take_up_every_later_load(system, monkeypatch, low_rank):
    """The same as writing it in, whether a change is small enough to be added or not."""
    from scipy.sparse import csc_array

    monkeypatch.setattr(response_module, "LOW_RANK", low_rank)
    network, symbol, at, y, rhs = system
    sparse = SparseHarmonics(network, symbol)
    pulled = y.copy()
    pulled[0] = 0.0
    for load in (y, pulled, 0 * y, y, 0.3 * y):
        sparse.load(csc_array(at), csc_array(load))
        assert close(sparse.solve(rhs), direct(network, symbol, at, load, rhs))


@pytest.fixture(params=[DenseHarmonics, SparseHarmonics])
def form(request):
    """Each form of the harmonics, with its own kind of matrices for a load."""
    from scipy.sparse import csc_array

    return request.param, np.asarray if request.param is DenseHarmonics else csc_array


@pytest.mark.parametrize("share", [1.0, 0.3])
def test_what_ports_see_is_what_the_whole_answer_says(system, form, share):
    """Of one another, and of a current in any equation, under two loads at the same ports."""
    network, symbol, at, y, rhs = system
    kind, kept = form
    looking = np.zeros((network.size, 3))
    looking[[2, 6, 8], range(3)] = 1
    looking[1, 1] = -0.5
    response, loaded = kind(network, symbol), kept(at)
    response.load(loaded, kept(y))
    response.load(loaded, kept(share * y))
    columns = np.broadcast_to(looking, (len(symbol), *looking.shape))
    across = direct(network, symbol, at, share * y, columns)
    assert close(response.between(looking), looking.T @ across)
    seen = looking.T @ direct(network, symbol, at, share * y, rhs)
    assert close(response.toward(looking) @ rhs, seen)


def test_small_changes_of_a_sparse_load_are_seen_by_ports(system):
    from scipy.sparse import csc_array

    network, symbol, at, y, rhs = system
    sparse, pulled = SparseHarmonics(network, symbol), y.copy()
    pulled[0] = 0.0
    for load in (y, pulled):
        sparse.load(csc_array(at), csc_array(load))
    assert len(sparse._touched)
    seen = at.T @ direct(network, symbol, at, pulled, rhs)
    assert close(sparse.toward(at) @ rhs, seen)


def test_two_states_may_share_the_harmonics_in_turn(system):
    """Each asks with its own ports after the other."""
    network, symbol, at, y, rhs = system
    dense, other = DenseHarmonics(network, symbol), at[:, :2].copy()
    for ports, load in ((at, y), (other, y[:2, :2]), (at, y)):
        dense.load(ports, load)
        assert close(dense.solve(rhs), direct(network, symbol, ports, load, rhs))


def test_sparse_means_are_the_dense_ones(system):
    from scipy.sparse import csc_array

    network, _, at, y, rhs = system
    dense, sparse = DenseMeans(network), SparseMeans(network)
    x = rhs[0].real
    assert close(sparse.times(x), dense.times(x))
    assert close(sparse.charge(x), dense.charge(x))
    solved = dense.with_slopes(at, y)(x)
    assert close(sparse.with_slopes(csc_array(at), csc_array(y))(x), solved)
    assert close(dense.times(solved) + at @ y @ at.T @ solved, x)


def test_contradictory_wiring_is_a_linear_algebra_error():
    network = Network({"a": 0}, 60.0, 1)
    for _ in range(2):
        network.carry("E", "a", "gnd", 0.0)
    empty = np.zeros((network.size, 0)), np.zeros((0, 0))
    with pytest.raises(np.linalg.LinAlgError):
        DenseMeans(network).with_slopes(*empty)
    from scipy.sparse import csc_array

    with pytest.raises(np.linalg.LinAlgError):
        SparseMeans(network).with_slopes(*map(csc_array, empty))
