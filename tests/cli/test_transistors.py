"""The sheet of a transistor: what is on file, each figure with its unit and how sure it is."""

from __future__ import annotations

import pytest

from coldcheck.circuit.transistors import transistor_types


@pytest.mark.parametrize("name", transistor_types())
def test_every_figure_is_shown(name, run) -> None:
    status, out, _ = run("tubes", name.lower())
    assert status == 0
    for figure in transistor_types()[name].figures:
        assert f"  {figure} " in out
    assert "memory" in out
