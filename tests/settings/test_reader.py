"""What is wrong with a settings file: all of it at once, with key, finding, expectation, hint."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldcheck.circuit.tubes import DATA
from coldcheck.files import reading
from coldcheck.settings import keys
from coldcheck.settings.find import find
from coldcheck.settings.model import SettingsError
from coldcheck.settings.reader import OWN, _Reader

HOUSE = (DATA / "12AX7.toml").read_text("utf-8").replace('"12AX7"', '"HOUSE"')


def faults(folder: Path, text: str | bytes, name: str = OWN):
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(SettingsError) as caught:
        find(folder / "a.tube")
    assert all(f.file == path or f.file.suffix == ".toml" for f in caught.value.faults)
    assert str(caught.value).splitlines() == [f.line() for f in caught.value.faults]
    return caught.value.faults


@pytest.mark.parametrize(
    ("text", "key", "found", "hint"),
    [
        ('gait = "notice"', "gait", "an unknown key", "did you mean gate?"),
        ('gate = "notise"', "gate", '"notise"', "did you mean notice?"),
        ("gate = 3", "gate", "3", ""),
        ('off = "signal"', "off", '"signal"', ""),
        ("[off]\nsignal = true", "off.signal", "true", "why should the rule not run?"),
        ('[off]\nsignal = " "', "off.signal", '" "', "why should the rule not run?"),
        ("[off]\nsignal = false", "off.signal", "false", "why should the rule not run?"),
        ('[off]\nsignol = "x"', "off.signol", "no such rule", "did you mean signal?"),
        (
            '[off]\n"heater.no-refrence" = "x"', "off.heater.no-refrence", "no such rule",
            "did you mean heater.no-reference?",
        ),
        ('[off]\n"zzz" = "x"', "off.zzz", "no such rule", "coldcheck why lists the rules"),
        ('[mains]\nvolts = "230 V"', "mains.volts", "an unknown key", "did you mean voltage?"),
        ("[mains]\nvoltage = 230", "mains.voltage", "230", "write it in quotes, with its unit"),
        ('[mains]\nvoltage = "230"', "mains.voltage", '"230"', ""),
        ('[mains]\nvoltage = "230 Hz"', "mains.voltage", '"230 Hz"', ""),
        ('[mains]\nvoltage = "0 V"', "mains.voltage", '"0 V"', ""),
        ('[mains]\nvoltage = "230 kV"', "mains.voltage", '"230 kV"', ""),
        ('[mains]\nvoltage = "110 V"', "mains.voltage", "no mains.frequency", ""),
        ('[mains]\nfrequency = "50 Hz"', "mains.frequency", "no mains.voltage", ""),
        ('[mains]\ntolerance = "80 %"', "mains.tolerance", '"80 %"', ""),
        ('[mains]\ntolerance = "0 %"', "mains.tolerance", '"0 %"', ""),
        ('[tolerance]\nresistors = "5 %"', "tolerance.resistors", "an unknown key",
         "did you mean resistor?"),
        ("[tolerance]\nresistor = 0.05", "tolerance.resistor", "0.05",
         "write it in quotes, with its unit"),
        ('[tolerance]\nresistor = "5 V"', "tolerance.resistor", '"5 V"', ""),
        ("[tolerance.resistor]", "tolerance.resistor", "{}", "write it in quotes, with its unit"),
        ('data = "tubes"', "data", '"tubes"', ""),
        ("data = [1]", "data", "[1]", ""),
        ('data = ["tubs"]', "data", "no folder tubs", "did you mean tubes?"),
        ('data = ["empty"]', "data", "folders without data", ""),
        ("folders = 1", "folders", "1", ""),
        ('[folders."old/radois"]', 'folders."old/radois"', "no such folder",
         "did you mean old/radios?"),
        ('[folders."../x"]', 'folders."../x"', "another path", ""),
        ('[folders."/x"]', 'folders."/x"', "another path", ""),
        ('[folders."."]', 'folders."."', "another path", ""),
        ('[folders.old]\ngait = "x"', 'folders."old".gait', "an unknown key", "did you mean gate?"),
        ("[folders.old.folders.x]", 'folders."old".folders', "an unknown key",
         'name the folder from the top, as in folders."old/radios"'),
        ('[folders]\nold = "x"', 'folders."old"', '"x"', ""),
        ("[folders.old.off]\nsignal = false", 'folders."old".off.signal', "false", ""),
        ('[folders.old.mains]\nvoltage = "1 V"', 'folders."old".mains.voltage',
         "no mains.frequency", ""),
        ('[tool.coldcheck]\ngate = "notice"', "tool", "an unknown key",
         "coldcheck.toml has its keys at the top"),
    ],
)  # fmt: skip
def test_one_fault(tmp_path: Path, text: str, key: str, found: str, hint: str) -> None:
    for folder in ("old/radios", "tubes", "empty"):
        (tmp_path / folder).mkdir(parents=True)
    (fault,) = faults(tmp_path, text)
    assert (fault.key, fault.found, fault.hint) == (key, found, hint)
    assert fault.expected
    assert fault.line().startswith(f"{tmp_path / OWN}: {key}: found {found}; expected ")


def test_keys_in_pyproject_have_their_whole_name(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, "[tool.coldcheck]\ngait = 1\n", "pyproject.toml")
    assert fault.key == "tool.coldcheck.gait"
    (fault,) = faults(tmp_path, "[tool]\ncoldcheck = 1\n", "pyproject.toml")
    assert (fault.key, fault.expected) == ("tool.coldcheck", "a table of settings")


def test_all_of_it_at_once(tmp_path: Path) -> None:
    (tmp_path / "tubes").mkdir()
    (tmp_path / "tubes" / "HOUSE.toml").write_text(HOUSE.replace("value = 300", 'value = "300"'))
    (tmp_path / "tubes" / "BAD.toml").write_text("name")
    told = faults(
        tmp_path,
        """
gate = "x"
colour = 1
data = ["tubes"]
[off]
heter = "y"
[mains]
voltage = 3
[tolerance]
tube = "x"
""",
    )
    assert {(f.file.name, f.key) for f in told} == {
        (OWN, "gate"), (OWN, "colour"), (OWN, "off.heter"), (OWN, "mains.voltage"),
        (OWN, "tolerance.tube"), ("BAD.toml", "(file)"),
        ("HOUSE.toml", "ratings.plate-voltage.value"),
    }  # fmt: skip


def test_a_file_that_is_no_toml_says_where(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, 'gate = "notice"\noff = \n')
    assert "line 2" in fault.found
    assert fault.key == ""
    assert fault.line().startswith(f"{tmp_path / OWN}: found ")


def test_a_file_that_is_no_text(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, b'gate = "\xff"')
    assert fault.expected == "a text in UTF-8"


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_args: object, **_named: object) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(reading, "contents", refuse)
    (fault,) = faults(tmp_path, "")
    assert fault.found == "Permission denied"


def test_a_byte_order_mark_is_no_fault(tmp_path: Path) -> None:
    (tmp_path / OWN).write_bytes(b'\xef\xbb\xbfgate = "danger"\n')
    assert find(tmp_path / "a.tube").gate == "danger"


TREES = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8),
              st.sampled_from(["5 %", "230 V", "notice", "tubes", "."])),
    lambda inside: st.one_of(
        st.lists(inside, max_size=3),
        st.dictionaries(
            st.sampled_from([*keys.TOP, *keys.MAINS, *keys.TOLERANCES, "signal", "x", "", "a.b"]),
            inside, max_size=4,
        ),
    ),
    max_leaves=12,
)  # fmt: skip


@given(TREES)
@settings(max_examples=200)
def test_whatever_stands_in_a_file_it_is_read_or_refused_in_words(tree: object) -> None:
    file = _Reader(Path("/nowhere/coldcheck.toml"), "").file(tree)
    assert file.layers or file.faults
    for fault in file.faults:
        assert "\n" not in fault.expected
        assert fault.found
