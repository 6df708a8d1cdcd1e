"""The step of the one-way ports: against the whole matrix, in groups and together."""

import numpy as np
import pytest

from coldcheck.solve.cycle.portstep import PortStep
from coldcheck.solve.work import Work

PORTS, INSTANTS = 4, 8


def kernel(coupling):
    """Decaying impulse responses; ports 0, 2 and ports 1, 3 see each other well."""
    draw = np.random.default_rng(5)
    each = np.exp(-np.arange(INSTANTS) / 2.0)
    size = np.full((PORTS, PORTS), coupling)
    size[np.ix_([0, 2], [0, 2])] = size[np.ix_([1, 3], [1, 3])] = 0.3
    np.fill_diagonal(size, 1.0)
    return 100 * size[:, :, None] * each * draw.uniform(0.9, 1.1, (PORTS, PORTS, INSTANTS))


def slopes():
    """Slopes dv, di of ports that conduct at some instants and block at the others."""
    conducts = np.random.default_rng(6).random((PORTS, INSTANTS)) < 0.4
    return np.where(conducts, 0.1, 1.0), np.where(conducts, 5e-3, 0.0)


def written_out(z, dv, di, rhs):
    """D_v + Z D_i as one matrix over (port, instant)."""
    matrix = np.diag(dv.ravel())
    for p in range(PORTS):
        for q in range(PORTS):
            for t in range(INSTANTS):
                for s in range(INSTANTS):
                    at = (p * INSTANTS + t, q * INSTANTS + s)
                    matrix[at] += z[p, q, (t - s) % INSTANTS] * di[q, s]
    return np.linalg.solve(matrix, rhs.reshape(-1, rhs.shape[2])).reshape(rhs.shape)


@pytest.mark.parametrize(
    ("coupling", "groups", "accuracy"), [(0.1, 1, 1e-12), (0.0, 2, 1e-12), (1e-4, 2, 1e-3)]
)
def test_the_step_is_that_of_the_whole_matrix(coupling, groups, accuracy) -> None:
    z, (dv, di) = kernel(coupling), slopes()
    rhs = np.random.default_rng(7).standard_normal((PORTS, INSTANTS, 3))
    step = PortStep(z, dv, di, Work())
    assert len(step.groups) == groups
    expected = written_out(z, dv, di, rhs)
    assert np.abs(step.solve(rhs) - expected).max() < accuracy * np.abs(expected).max()


def test_no_ports_no_step() -> None:
    none = np.zeros((0, 4))
    assert PortStep(np.zeros((0, 0, 4)), none, none, Work()).solve(np.zeros((0, 4, 1))).shape == (
        0,
        4,
        1,
    )
