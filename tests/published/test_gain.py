"""Gains: what several figures say together; the single figures are in the tables.

Not covered: AMP-05 and AMP-36 (types not on file), AMP-06 (a law, not a circuit), AMP-42 (no
supply given), AMP-61 (a paper corner; the true one is in tests/solve/test_signal.py).
"""

import pytest
from tests.published.stages import straight


def test_a_gain_without_its_degeneration_is_the_classic_mistake():
    """AMP-04: bypassed the same stage would have 77, three times what was measured."""
    given = {"mu": 100.0, "rp": 62500.0, "ra": 270e3, "rg": 1e6}
    # mu RL / (RL + rp + (mu + 1) rk) with RL = 270k beside 1M
    assert straight(0.0, **given, rk=4700) == pytest.approx(28.4, rel=0.005)
    assert straight(0.0, **given) == pytest.approx(77.3, rel=0.005)
