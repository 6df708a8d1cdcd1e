"""The command that starts the editor service; what it says without the package it needs."""

from __future__ import annotations

import importlib.util
from typing import TYPE_CHECKING

from coldcheck.cli import FAILED, serve

if TYPE_CHECKING:
    import pytest


def test_without_its_package_it_says_what_to_install(run, monkeypatch: pytest.MonkeyPatch) -> None:
    found = importlib.util.find_spec
    monkeypatch.setattr(serve, "find_spec", lambda name: None if name == "pygls" else found(name))
    status, out, err = run("serve")
    assert (status, out) == (FAILED, "")
    assert err == "coldcheck: the editor service needs pygls: pip install 'pygls>=2'\n"


def test_help_names_it(run) -> None:
    _, out, _ = run("--help")
    assert "serve" in out
    assert "Language Server Protocol" in " ".join(out.split())
