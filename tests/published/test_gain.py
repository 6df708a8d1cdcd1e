"""Gains: what several figures say together; the single figures are in the tables.

Not covered: stages with types not on file, a law that is no circuit, a stage without a supply, and
a corner on paper (the true one is in tests/solve/signal/).
"""

import pytest
from tests.published.stages import straight


def test_a_gain_without_its_degeneration_is_the_classic_mistake():
    """Bypassed the same stage would have 77, three times what was measured."""
    given = {"mu": 100.0, "rp": 62500.0, "ra": 270e3, "rg": 1e6}
    # mu RL / (RL + rp + (mu + 1) rk) with RL = 270k beside 1M
    assert straight(0.0, **given, rk=4700) == pytest.approx(28.4, rel=0.005)
    assert straight(0.0, **given) == pytest.approx(77.3, rel=0.005)
