"""Where the settings of a drawing come from, and what wins."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING

import pytest

from coldcheck.circuit.tubes import DATA
from coldcheck.circuit.usual import USUAL, Usual
from coldcheck.judge.finding import LEVELS
from coldcheck.settings import keys
from coldcheck.settings.find import find, find_all, given
from coldcheck.settings.model import DEFAULTS, SettingsError

if TYPE_CHECKING:
    from pathlib import Path

OWN = (DATA / "12AX7.toml").read_text("utf-8").replace('"12AX7"', '"HOUSE"')


def put(path: Path, text: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A repository, so that nothing above it matters."""
    (tmp_path / ".git").mkdir()
    return tmp_path


def test_the_levels_are_those_of_the_rules() -> None:
    assert keys.LEVELS == LEVELS


def test_every_usual_deviation_has_a_key() -> None:
    assert {*keys.TOLERANCES.values(), "mains"} == {f.name for f in fields(Usual)}


def test_without_a_file_the_defaults_hold(root: Path) -> None:
    found = find(root / "a.tube")
    assert found == DEFAULTS
    assert (found.gate, found.usual, found.source("gate")) == ("notice", USUAL, "default")


def test_a_file_above_governs_and_says_where_each_value_is_from(root: Path) -> None:
    file = put(root / "pyproject.toml", """
[project]
name = "radios"
[tool.coldcheck]
gate = "caution"
[tool.coldcheck.off]
signal = "no signal sources here"
"heater.no-reference" = "bench  supplies"
[tool.coldcheck.mains]
voltage = "230 V"
frequency = "50 Hz"
tolerance = "6 %"
[tool.coldcheck.tolerance]
resistor = "5 %"
gas-tube = "4 %"
""")  # fmt: skip
    found = find(root / "deep" / "down" / "a.tube")
    assert found.gate == "caution"
    assert found.off == {
        "signal": "no signal sources here", "heater.no-reference": "bench supplies",
    }  # fmt: skip
    assert found.mains_voltage.m_as("volt") == 230
    assert found.mains_frequency.m_as("hertz") == 50
    assert found.usual == replace(USUAL, mains=0.06, resistor=0.05, gas_tube=0.04)
    assert found.origins["gate"].file == file
    assert found.source("gate") == "pyproject.toml, tool.coldcheck.gate"
    assert found.source("off.heater.no-reference") == (
        'pyproject.toml, tool.coldcheck.off."heater.no-reference"'
    )
    assert found.source("tolerance.tube") == "default"
    assert found.off_entry("signal.no-such") == "signal"
    assert found.off_entry("heater.no-reference") == "heater.no-reference"
    assert found.off_entry("heater.open") is None


def test_coldcheck_toml_goes_before_pyproject_in_one_folder(root: Path) -> None:
    put(root / "pyproject.toml", '[tool.coldcheck]\ngate = "danger"\n')
    put(root / "coldcheck.toml", 'gate = "advice"\n')
    assert find(root / "a.tube").gate == "advice"


def test_the_nearest_file_governs_alone(root: Path) -> None:
    put(root / "coldcheck.toml", 'gate = "advice"\n[mains]\ntolerance = "3 %"\n')
    put(root / "in" / "pyproject.toml", '[tool.coldcheck]\ngate = "danger"\n')
    found = find(root / "in" / "a.tube")
    assert (found.gate, found.usual.mains) == ("danger", USUAL.mains)


def test_a_pyproject_of_something_else_is_passed_by(root: Path) -> None:
    put(root / "coldcheck.toml", 'gate = "advice"\n')
    put(root / "in" / "pyproject.toml", '[tool.other]\ngate = "danger"\n')
    put(root / "odd" / "pyproject.toml", "tool = 1\n")
    assert find(root / "in" / "a.tube").gate == "advice"
    assert find(root / "odd" / "a.tube").gate == "advice"


def test_the_search_ends_where_a_repository_begins(tmp_path: Path) -> None:
    put(tmp_path / "coldcheck.toml", 'gate = "advice"\n')
    (tmp_path / "other" / ".git").mkdir(parents=True)
    assert find(tmp_path / "other" / "a.tube") == DEFAULTS
    put(tmp_path / "other" / "coldcheck.toml", 'gate = "danger"\n')
    assert find(tmp_path / "other" / "below" / "a.tube").gate == "danger"


def test_a_link_to_a_drawing_has_the_settings_of_the_drawing(root: Path) -> None:
    put(root / "real" / "coldcheck.toml", 'gate = "advice"\n')
    put(root / "real" / "a.tube", "")
    (root / "a.tube").symlink_to(root / "real" / "a.tube")
    assert find(root / "a.tube").gate == "advice"


FOLDERS = """
gate = "caution"
[off]
signal = "radios only"
[mains]
voltage = "230 V"
frequency = "50 Hz"
[folders."old"]
gate = "danger"
[folders."old/radios".mains]
voltage = "110 V"
[folders."old/radios".off]
signal = false
heater = "strings of unknown tubes"
"""


def test_the_deepest_folder_wins_key_by_key(root: Path) -> None:
    put(root / "coldcheck.toml", FOLDERS)
    (root / "old" / "radios" / "x").mkdir(parents=True)
    drawings = [root / f for f in ("a.tube", "old/a.tube", "old/radios/x/a.tube", "older/a.tube")]
    top, old, radios, older = find_all(drawings)
    assert (top.gate, old.gate, radios.gate, older.gate) == (
        "caution",
        "danger",
        "danger",
        "caution",
    )
    assert [s.mains_voltage.m_as("volt") for s in (top, old, radios)] == [230, 230, 110]
    assert radios.mains_frequency.m_as("hertz") == 50
    assert (set(old.off), set(radios.off)) == ({"signal"}, {"heater"})
    assert radios.source("gate") == 'coldcheck.toml, folders."old".gate'
    assert radios.source("mains.voltage") == 'coldcheck.toml, folders."old/radios".mains.voltage'


def test_data_folders_hold_the_projects_own_types(root: Path) -> None:
    put(root / "tubes" / "HOUSE.toml", OWN)
    (root / "old").mkdir()
    put(root / "coldcheck.toml", 'data = ["tubes"]\n[folders.old]\ndata = []\n')
    found = find(root / "a.tube")
    assert found.data == (root / "tubes",)
    assert found.types["HOUSE"].name == "HOUSE"
    assert not find(root / "old" / "a.tube").types


def test_instruments_pass_through_as_they_are(root: Path) -> None:
    put(root / "coldcheck.toml", '[[instruments]]\nname = "VOM"\nanything = 20000\n')
    assert find(root / "a.tube").instruments == [{"name": "VOM", "anything": 20000}]


class TestFingerprint:
    """It follows what a review depends on, and nothing else."""

    def of(self, root: Path, text: str) -> str:
        put(root / "coldcheck.toml", text)
        return find(root / "a.tube").fingerprint()

    def test_the_same_settings_elsewhere_have_the_same(self, root: Path) -> None:
        put(root / "tubes" / "HOUSE.toml", OWN)
        put(root / "copy" / "tubes" / "HOUSE.toml", OWN)
        text = 'gate = "danger"\ndata = ["tubes"]\n[off]\nsignal = "x"\n'
        assert self.of(root, text) == self.of(root / "copy", text)
        assert len(DEFAULTS.fingerprint()) == 64

    @pytest.mark.parametrize(
        "text",
        [
            '[off]\nsignal = "because"',
            '[off]\nsignal = "for another reason"',
            '[off]\n"signal.overdriven" = "because"',
            '[mains]\ntolerance = "6 %"',
            '[mains]\nvoltage = "230 V"\nfrequency = "50 Hz"',
            '[mains]\nvoltage = "230 V"\nfrequency = "60 Hz"',
            '[tolerance]\ntube = "6 %"',
            'data = ["tubes"]',
        ],
    )
    def test_whatever_a_review_depends_on_changes_it(self, root: Path, text: str) -> None:
        put(root / "tubes" / "HOUSE.toml", OWN)
        text = text.replace("signal.overdriven", "heater.no-reference")
        base = self.of(root, '[off]\nsupply = "for comparison"\n')
        assert self.of(root, text) != base

    def test_a_figure_in_the_tube_data_changes_it(self, root: Path) -> None:
        put(root / "tubes" / "HOUSE.toml", OWN)
        before = self.of(root, 'data = ["tubes"]')
        put(root / "tubes" / "HOUSE.toml", OWN.replace("value = 300", "value = 301"))
        assert self.of(root, 'data = ["tubes"]') != before

    def test_no_field_is_forgotten(self, root: Path) -> None:
        put(root / "coldcheck.toml", 'gate = "danger"\n[off]\nsignal = "x"\n')
        put(root / "tubes" / "HOUSE.toml", OWN)
        base = find(root / "a.tube")
        put(root / "coldcheck.toml", 'data = ["tubes"]\n[mains]\nvoltage="1 V"\nfrequency="2 Hz"\n')
        other = find(root / "a.tube")
        changed = {
            "off": {"signal": "y"}, "mains_voltage": other.mains_voltage,
            "mains_frequency": other.mains_frequency, "usual": replace(USUAL, zener=0.5),
            "types": other.types, "origins": other.origins,
        }  # fmt: skip
        # the folders show in the types; instruments are for the bench; a gate comes after
        apart = {"data", "instruments", "gate", "undecided"}
        assert set(changed) == {f.name for f in fields(base)} - apart
        prints = {replace(base, **{k: v}).fingerprint() for k, v in changed.items()}
        assert len(prints | {base.fingerprint()}) == len(changed) + 1

    def test_the_gate_does_not(self, root: Path) -> None:
        plain = self.of(root, '[off]\nsignal = "x"\n')
        gated = 'gate = "danger"\nundecided = "let through"\n[off]\nsignal = "x"\n'
        assert self.of(root, gated) == plain

    def test_instruments_do_not(self, root: Path) -> None:
        instruments = '[[instruments]]\nname = "VOM"\n'
        assert self.of(root, 'gate = "danger"\n') == self.of(
            root, f'gate = "danger"\n{instruments}'
        )


def test_a_file_is_read_once_for_many_drawings(root: Path, monkeypatch) -> None:
    from coldcheck.settings import find as module

    put(root / "coldcheck.toml", 'gate = "danger"\n')
    read = []
    monkeypatch.setattr(module, "read_file", _counted(module.read_file, read))
    find_all([root / f"{n}/{n}.tube" for n in range(20)])
    assert read == [root / "coldcheck.toml"]


def _counted(function, calls):
    def call(path):
        calls.append(path)
        return function(path)

    return call


def test_the_faults_of_two_files_are_told_together(root: Path) -> None:
    put(root / "a" / "coldcheck.toml", 'gate = "bad"\n')
    put(root / "b" / "coldcheck.toml", "colour = 1\n")
    with pytest.raises(SettingsError) as caught:
        find_all([root / "a" / "x.tube", root / "b" / "x.tube", root / "a" / "y.tube"])
    assert [(f.file.parent.name, f.key) for f in caught.value.faults] == [
        ("a", "gate"), ("b", "colour")]  # fmt: skip


def test_settings_in_no_file_are_read_as_a_file_is() -> None:
    table = {"gate": "danger", "mains": {"voltage": "230 V", "frequency": "50 Hz"}}
    found = given({**table, "off": {"signal": "bench supply only"}})
    assert (found.gate, found.mains_voltage.m_as("volt")) == ("danger", 230)
    assert found.off == {"signal": "bench supply only"}
    assert found.source("gate") == "settings, gate"
    assert given({}).fingerprint() == DEFAULTS.fingerprint()


def test_settings_in_no_file_say_all_that_is_wrong() -> None:
    with pytest.raises(SettingsError) as caught:
        given({"gaet": "danger", "mains": {"voltage": "230 V"}})
    said = [f.line() for f in caught.value.faults]
    assert said[0].startswith("settings: gaet: found an unknown key")
    assert said[1].startswith("settings: mains.voltage: found no mains.frequency")
