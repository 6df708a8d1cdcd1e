"""The frozen sets: whole, judged, and their deadly drawings held."""

from __future__ import annotations

import hashlib
import tomllib
from typing import TYPE_CHECKING

import pytest
from tests.unseen.study import HERE, read_set, told_of
from tests.unseen.table import table

if TYPE_CHECKING:
    from pathlib import Path

SETS = ("one", "two", "three")
FROZEN = {
    "one": "73fc8cb74a24890e",
    "two": "b139508b28a07431",
    "three": "a0613a8c6acd5d38",
}
DEADLY = [(s, d.file) for s in SETS for d in read_set(s) if d.level == "danger"]


def digest(folder: Path) -> str:
    """Of all drawings of a set and what their writer says of them."""
    files = sorted([*folder.glob("*.tube"), folder / "expect.toml"])
    return hashlib.sha256(b"".join(f.read_bytes() for f in files)).hexdigest()[:16]


@pytest.mark.parametrize("name", SETS)
def test_a_set_is_frozen(name: str) -> None:
    assert digest(HERE / name) == FROZEN[name]
    wrong = [d for d in read_set(name) if not d.sound]
    assert (len(wrong), len(read_set(name))) == (60, 80)


@pytest.mark.parametrize("name", SETS)
def test_every_drawing_of_the_first_run_is_judged(name: str) -> None:
    judged = tomllib.loads((HERE / name / "runs/first-sight.judged.toml").read_text("utf-8"))
    assert sorted(judged["drawing"]) == [d.file for d in read_set(name)]


def test_the_table_is_current() -> None:
    page = (HERE / "README.md").read_text("utf-8")
    assert table() in page


@pytest.mark.parametrize(("name", "file"), DEADLY)
def test_what_can_kill_is_held(name: str, file: str) -> None:
    told = told_of(HERE / name / file)
    assert told.verdict == "held"
    assert {"danger", "warning", "caution"} & {f.level for f in told.findings}


TAUGHT = [
    ("slips-three/d02", "capacitor.reversed", ("T1.ht", "T1.lt")),
    ("slips-three/d06", "signal.jack-contact-exchanged", ("J3",)),
    ("slips-three/d11", "output.channels-out-of-phase", ("T3",)),
    ("slips-three/d12", "signal.source-on-common", ("J1",)),
    ("slips-three/d17", "heater.no-common-lift", ("V2", "V3")),
    ("slips-three/d19", "heater.left-lit", ("V2",)),
    ("slips-three/d23", "supply.open-rectifier", ("T1.bias", "D5")),
    ("slips-three/d24", "signal.decks-out-of-step", ("C8", "C7")),
    ("slips-three/d28", "grid.leak-on-own-cathode", ("R6",)),
    ("slips-three/d35", "heater.half-not-wired", ("V4",)),
    ("slips-three/d39", "signal.oscillator-in-phase", ("L2.tick",)),
    ("slips-three/d40", "signal.channels-share-resistor", ("R53",)),
    ("slips-three/d42", "supply.rectifier-overload", ("PL1",)),
    ("slips-three/d46", "signal.equaliser-exchanged", ("C6", "C7")),
    ("slips-three/d49", "signal.feedback-capacitor-too-large", ("C11",)),
    ("slips-four/f11", "signal.jack-contact-exchanged", ("J1",)),
    ("slips-four/f45", "transistor.adjustment-open", ("R5", "U1")),
    ("slips-two/a30", "grid.bias-unused", ("R1",)),
    ("slips-two/b50", "capacitor.over-voltage", ("S1",)),
    ("slips-two/c14", "heater.wrong-voltage", ("E1",)),
    ("seventeen/003", "signal.springs-exchanged", ("TK1",)),
    ("seventeen/008", "supply.relay-not-as-drawn", ("K2", "K1")),
    ("seventeen/036", "signal.coil-passes-dc", ("L1",)),
    ("seventeen/046", "signal.cross-coupled-to-itself", ("R15",)),
]
"""What first sights missed and is mended: the first finding, and the places it begins with."""


@pytest.mark.parametrize(("drawing", "rule", "places"), TAUGHT, ids=[t[0] for t in TAUGHT])
def test_what_a_set_taught_stays(drawing: str, rule: str, places: tuple[str, ...]) -> None:
    first, *_ = told_of(HERE / f"{drawing}.tube").findings
    assert first.rule == rule
    assert first.at[: len(places)] == places
