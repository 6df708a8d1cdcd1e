"""What is worked out of a drawing is kept under its key, whole or not at all."""

from __future__ import annotations

import os

import pytest

from coldcheck.cli import cache
from coldcheck.cli.cache import Shelf

KEY, OTHER = "a" * 64, "b" * 64


@pytest.fixture
def folder(tmp_path):
    return tmp_path


def test_what_is_put_there_comes_back_under_its_key_alone(folder):
    Shelf(folder, KEY).put(b"volts")
    assert Shelf(folder, KEY).get() == b"volts"
    assert Shelf(folder, OTHER).get() is None
    (folder / KEY).rename(folder / OTHER)
    assert Shelf(folder, OTHER).get() is None, "a file moved to another key is not taken for it"


@pytest.mark.parametrize("damage", [lambda b: b[:-1], lambda b: b + b"x", lambda b: b[:7], bytes])
def test_what_is_damaged_is_nothing(folder, damage):
    Shelf(folder, KEY).put(b"volts")
    path = folder / KEY
    path.write_bytes(damage(path.read_bytes()) if damage is not bytes else b"")
    assert Shelf(folder, KEY).get() is None


def test_the_oldest_go_first(folder, monkeypatch):
    monkeypatch.setattr(cache, "_SHELVES", 2)
    for place, name in enumerate("bc"):
        Shelf(folder, name).put(name.encode())
        os.utime(folder / name, (place, place))
    Shelf(folder, "d").put(b"d")
    assert sorted(p.name for p in folder.iterdir()) == ["c", "d"]


def test_without_a_folder_nothing_is_kept():
    Shelf(None, KEY).put(b"volts")
    assert Shelf(None, KEY).get() is None
