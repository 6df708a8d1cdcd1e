"""Tube data of other packages: read with the checks of our own, no name taken twice."""

from __future__ import annotations

from types import ModuleType
from typing import TYPE_CHECKING

from coldcheck.circuit.entries import Entry
from coldcheck.circuit.tubes import DATA
from coldcheck.circuit.tubes_added import gathered

if TYPE_CHECKING:
    from pathlib import Path

OWN = (DATA / "6C4.toml").read_text("utf-8").replace('"6C4"', '"HOUSE"', 1)


def folder(path: Path, **files: str) -> Path:
    path.mkdir()
    for name, text in files.items():
        (path / f"{name}.toml").write_text(text, "utf-8")
    return path


def test_a_folder_a_path_as_text_and_a_package_of_data(tmp_path: Path) -> None:
    place = folder(tmp_path / "a", HOUSE=OWN.replace("also = []", 'also = ["old-one"]'))
    module = ModuleType("data")
    module.__file__ = str(place / "__init__.py")
    for found in (place, str(place), module):
        added = gathered([Entry("lamps 1", found, None)])
        assert set(added.types) == {"HOUSE", "OLDONE"}
        assert added.faults == ()


def test_names_of_the_library_and_of_another_package_are_refused(tmp_path: Path) -> None:
    first = folder(tmp_path / "a", HOUSE=OWN)
    second = folder(tmp_path / "b", HOUSE=OWN, OTHER=OWN.replace('"HOUSE"', '"OTHER"', 1).replace(
        "also = []", 'also = ["ECC83"]'))  # fmt: skip
    added = gathered([Entry("lamps 1", first, None), Entry("bulbs 2", second, None)])
    assert set(added.types) == {"HOUSE"}
    assert sorted(f.reason for f in added.faults) == [
        "tube data of bulbs 2 not used: HOUSE: another package has a type HOUSE",
        "tube data of bulbs 2 not used: OTHER: the library has a type ECC83",
    ]


def test_damaged_data_and_what_is_no_folder_are_told(tmp_path: Path) -> None:
    bad = folder(tmp_path / "a", HOUSE=OWN.replace('group = "amplifying"', 'group = "lamps"'))
    found = [
        Entry("lamps 1", bad, None),
        Entry("bulbs 2", 7, None),
        Entry("arcs 3", folder(tmp_path / "b"), None),
        Entry("arcs 4", tmp_path / "nowhere", None),
        Entry("arcs 5", None, None, "ImportError: no module"),
    ]
    added = gathered(found)
    assert dict(added.types) == {}
    assert "tube data of lamps 1 not used" in added.faults[0].reason
    assert "HOUSE.toml: group" in added.faults[0].reason
    for fault, package in zip(added.faults[1:4], ("bulbs 2", "arcs 3", "arcs 4"), strict=True):
        assert fault.reason == f"the tube data of {package} is no folder with files NAME.toml"
    assert [f.whole for f in added.faults] == [False, True, True, True, True]
    assert added.faults[4].reason == "the tube data of arcs 5 failed: ImportError: no module"
