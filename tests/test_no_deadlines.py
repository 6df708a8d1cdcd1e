"""No test is timed: hypothesis has no deadline here, and no test gives itself one."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

TESTS = Path(__file__).parent


def deadlines(source):
    """The line of every ``deadline=`` that is not ``None``."""
    return [
        node.value.lineno
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.keyword) and node.arg == "deadline"
        if not (isinstance(node.value, ast.Constant) and node.value.value is None)
    ]


def test_the_profile_in_force_has_no_deadline():
    assert settings.default.deadline is None
    assert HealthCheck.too_slow in settings.default.suppress_health_check


@pytest.mark.parametrize("path", sorted(TESTS.rglob("*.py")), ids=lambda p: str(p.name))
def test_no_test_sets_a_deadline(path):
    assert deadlines(path.read_text("utf-8")) == []


def test_a_deadline_would_be_seen():
    assert deadlines("@settings(max_examples=3,\n deadline=200)\ndef f(): pass") == [2]
    assert deadlines("settings(deadline=LIMIT)") == [1]
    assert deadlines("settings(deadline=None)") == []
