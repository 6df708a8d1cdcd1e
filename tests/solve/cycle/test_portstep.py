"""The step of the one-way ports: against the whole matrix, in groups and together."""

from pathlib import Path

import numpy as np
import pytest

from coldcheck.circuit import build_circuit
from coldcheck.drawing import parse_drawing
from coldcheck.solve import solve_states
from coldcheck.solve.cycle.portstep import PortStep
from coldcheck.solve.work import Work

SAMPLES = Path(__file__).parents[3] / "samples"

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


def test_a_port_that_floats_belongs_to_those_it_feeds() -> None:
    """Its own impedance is that of its leak, and says nothing of what it does to the others."""
    z, (dv, di) = kernel(0.0), slopes()
    z[np.ix_([0, 2], [0, 2])] *= 1e6
    z[0, 1] = z[1, 0] = 0.05 * z[1, 1]
    rhs = np.random.default_rng(7).standard_normal((PORTS, INSTANTS, 3))
    step = PortStep(z, dv, di, Work())
    assert len(step.groups) == 1
    expected = written_out(z, dv, di, rhs)
    assert np.abs(step.solve(rhs) - expected).max() < 1e-6 * np.abs(expected).max()


def test_a_bridge_that_feeds_a_clamp_arrives_without_damping() -> None:
    """Cold, the clamp between grid and cathode conducts all the time; warm, never."""
    drawing = parse_drawing((SAMPLES / "breakwater.tube").read_text(encoding="utf-8"), "b.tube")
    assert solve_states(build_circuit(drawing))["cold"].iterations < 10
