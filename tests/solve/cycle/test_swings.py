"""Additions to the equations, kept entry by entry, against the same written out in full."""

import numpy as np

from coldcheck.solve.cycle.swings import Swings


def test_entries_add_up_to_the_array_they_stand_for() -> None:
    draw = np.random.default_rng(3)
    rows, ports = np.zeros((4, 8, 3)), np.zeros((2, 8, 3))
    swings = Swings(3)
    for row, column in ((0, 0), (2, 0), (2, 0), (3, 2)):  # one equation twice, one column empty
        samples = draw.standard_normal(8)
        rows[row, :, column] += samples
        swings.rows.append((row, column, samples))
    for port, column in ((1, 0), (1, 0)):
        samples = draw.standard_normal(8)
        ports[port, :, column] += samples
        swings.ports.append((port, column, samples))
    assert np.allclose(swings.means(4), rows.mean(axis=1), rtol=1e-14, atol=1e-16)
    assert np.array_equal(swings.volts(2, 8), ports)
