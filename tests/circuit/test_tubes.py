"""The tube library. Known ratings are the data sheets', each with its source beside it."""

import dataclasses
import tomllib
from collections import Counter

import pytest

from coldcheck.circuit import tubes
from coldcheck.circuit.tubes import (
    DATA,
    POINT_UNITS,
    RATING_NAMES,
    DataProblem,
    Sourced,
    UnknownTube,
    accepted_names,
    known_types,
    load_type,
    tube_type,
)
from coldcheck.circuit.tubes_index import index_text
from coldcheck.circuit.tubes_types import ONE_RECALL, TWO_RECALLS, SectionKind

TRIODE = """
name = "T9"
group = "amplifying"
description = "triode"
base = "bench"
cathode = "indirect"
pins-source = "us"
sources.us = { text = "bench", confidence = "memory" }
pins = { 1 = "plate", 2 = "grid", 3 = "cathode", 4 = "h1", 5 = "h2" }
[[heater]]
mode = "single"
volts = { value = 6.3, unit = "volt", source = "us" }
amps = { value = 0.3, unit = "ampere", source = "us" }
[ratings]
plate-voltage = { value = 250, unit = "volt", source = "us" }
[[section]]
names = [""]
kind = "triode"
"""


@pytest.fixture(params=known_types())
def kind(request):
    return tube_type(request.param)


def test_the_index_is_current():
    assert (DATA / "index.toml").read_text(encoding="utf-8") == index_text()


def test_how_much_is_on_file():
    """Counted when entered: 59 types from the collected sheets and from one memory, then 432
    recalled twice and compared, whose numbers say in how many of the two recalls they were. What
    sheets say of small currents (24 here) and points off curves (12) came later.
    """
    held = [tube_type(n) for n in known_types()]
    later = [t for t in held if {TWO_RECALLS, ONE_RECALL} & {c for _, c in numbers(t)}]
    assert len(held) == 491
    assert len(later) == 432
    assert Counter(t.group for t in held) == {
        "amplifying": 394,
        "rectifier": 72,
        "regulator": 9,
        "indicator": 7,
        "thyratron": 5,
        "detector": 4,
    }
    early = [t for t in held if t not in later]
    assert sum(len(t.ratings) for t in early) == 418
    assert sum(len(t.points) for t in early) == 72 + 24 + 12


def numbers(kind):
    """(number, how sure it is) of everything on file about a type."""
    tables = [kind.ratings, *kind.ratings_of.values(), *kind.capacitances.values(), *kind.points]
    found = [v for t in tables for v in t.values() if isinstance(v, Sourced)]
    found += [n for h in kind.heaters for n in (h.volts, h.amps)]
    return [(v.value, v.confidence) for v in found]


@pytest.mark.parametrize(
    ("name", "rating", "value"),
    [
        ("12AX7", "heater-positive-peak", 180.0),  # found: public copy of the 12AX7 data sheet
        ("ECC83", "grid-leak-cathode-bias", 2e6),  # memory: Philips ECC83 data sheet
        ("6V6GT", "plate-dissipation", 14.0),  # found: public document quoting the sheet
        ("6V6GT", "heater-negative-dc", 100.0),  # found: the same
        ("6SN7GT", "plate-voltage", 300.0),  # memory: RCA 6SN7GT
        ("6SN7GTB", "plate-voltage", 450.0),  # memory: RCA / GE 6SN7GTB
        ("EL84", "cathode-current", 0.065),  # found: wiki4.ru/wiki/EL84
        ("5687", "plate-dissipation-both", 7.5),  # found: op316.com/tubes/datalib/p5687.htm
        ("GZ34", "first-capacitor", 60e-6),  # memory: Philips GZ34
        ("5Y3", "first-capacitor", 20e-6),  # found: tubeofile.com/api/tubes/5Y3
        ("EZ80", "heater-negative-peak", 500.0),  # found: tubeofile.com/api/tubes/EZ40
        ("0D3", "maximum-current", 0.040),  # found: onpedia.com voltage-regulator-tube
        ("KT88", "screen-voltage", 600.0),  # memory: GEC/M-OV KT88
        ("300B", "plate-dissipation", 40.0),  # found: the maker's sheet
    ],
)
def test_known_ratings(name, rating, value):
    assert tube_type(name).rating(rating).value == value


@pytest.mark.parametrize(
    ("name", "rating"),
    [
        ("12AY7", "grid-leak-fixed-bias"),
        ("6SL7GT", "cathode-current"),
        ("5AR4", "heater-negative-peak"),
        ("0A2", "plate-voltage"),
    ],
)
def test_a_rating_nobody_printed_is_absent(name, rating):
    assert tube_type(name).rating(rating) is None


def test_asking_for_no_rating_at_all_is_an_error():
    with pytest.raises(KeyError):
        tube_type("12AX7").rating("plate-colour")


def test_the_12ax7_says_which_of_its_numbers_are_memory():
    ratings = tube_type("12AX7").ratings
    assert {n for n, r in ratings.items() if r.confidence == "memory"} == {
        "cathode-current",
        "grid-leak-fixed-bias",
        "grid-leak-cathode-bias",
    }


def test_every_number_has_unit_source_and_confidence(kind):
    numbers = [*kind.ratings.values(), *(n for h in kind.heaters for n in (h.volts, h.amps))]
    numbers += [v for p in kind.points for v in p.values() if isinstance(v, Sourced)]
    assert numbers
    known = {"found", "memory", TWO_RECALLS, ONE_RECALL, "derived"}
    assert all(n.source and n.confidence in known for n in numbers)
    assert {k: r.unit for k, r in kind.ratings.items()} == {
        k: RATING_NAMES[k] for k in kind.ratings
    }
    assert kind.pins_source


def test_every_electrode_has_a_pin(kind):
    """Its own, that of a filament all sections share, or one it is joined to inside."""
    for section in kind.sections:
        reached = {e for s, e in kind.pins.values() if s == section.name}
        reached |= {e for s, e in kind.joined if s == section.name}
        reached |= {e for s, e in kind.pins.values() if not s and e in ("f1", "f2")}
        assert set(section.electrodes) <= reached
        ends = {"f1", "f2"} if kind.cathode == "filament" else {"cathode"}
        assert ends <= set(section.electrodes)


def test_a_section_has_the_electrodes_of_its_kind(kind):
    needed = {
        "triode": {"plate", "grid"},
        "pentode": {"plate", "screen", "grid"},
        "converter": {"plate", "screen", "grid"},
        "mixer": {"plate", "screen", "grid", "grid3"},
        "indicator": {"plate", "grid", "target"},
        "thyratron": {"plate"},
        "diode": {"plate"},
        "regulator": {"plate"},
    }
    for section in kind.sections:
        if section.kind is SectionKind.RECTIFIER:
            plates = {e for e in section.electrodes if e.startswith("plate")}
            assert plates in ({"plate"}, {"plate1", "plate2"})
        else:
            assert needed[section.kind.value] <= set(section.electrodes)


def test_the_heater_has_its_pins(kind):
    reached = {e for s, e in kind.pins.values() if s == ""}
    ends = {"cold": set(), "filament": {"f1", "f2"}, "indirect": {"h1", "h2"}}[kind.cathode]
    assert ends <= reached | {kind.cathode_heater}
    if any(h.mode == "parallel" for h in kind.heaters):
        assert "tap" in reached


def test_series_and_parallel_heaters_take_the_same_power(kind):
    watts = {h.volts.value * h.amps.value for h in kind.heaters}
    assert all(w == pytest.approx(max(watts), rel=0.03) for w in watts)


def test_no_two_names_share_a_type_by_accident():
    names = accepted_names()
    assert names["ECC83"] == names["7025"] == "12AX7"
    assert names["GZ34"] == "5AR4"
    assert "5814" not in names  # its heater current differs
    assert all(name == name.upper() for name in names)


@pytest.mark.parametrize("name", ["ecc83", "Ecc83", "12ax7", "VR-150", "5 Y 3"])
def test_names_as_people_write_them(name):
    assert tube_type(name).name in ("12AX7", "0D3", "5Y3GT")


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("25SQ7", ("6SQ7", "12SQ7")),  # the same at another heater
        ("6SQ7GT", ("6SQ7",)),  # another issue
        ("PCC83", ("ECC83",)),
        ("12L6GT", ()),  # 6L6, 25L6, 35L6 and 50L6 are four tubes
        ("12AX8", ()),  # it looks like a 12AX7, and is none
        ("807X", ()),
        ("EF87", ()),
        ("zzzzzzz", ()),
    ],
)
def test_an_unknown_type_names_its_relatives_and_nothing_that_looks_alike(name, near):
    with pytest.raises(UnknownTube) as caught:
        tube_type(name)
    assert caught.value.near == near
    assert name in str(caught.value)


def test_one_type_is_one_object():
    assert tube_type("ECC83") is tube_type("12AX7")


@pytest.mark.parametrize(
    ("pin", "lead"),
    [("8", ("", "cathode")), ("2", ("", "h1")), ("4", ("", "plate2")), ("6", ("", "plate1"))],
)
def test_5ar4_joins_its_cathode_to_the_heater(pin, lead):
    kind = tube_type("5AR4")
    assert kind.pins[pin] == lead
    assert kind.cathode_heater == "h2"


def test_12ax7_units_and_12av6_diodes():
    """Unit 1 is on pins 6 to 8 (found: the data sheet); the 12AV6 diodes are recalled."""
    assert tube_type("12AX7").pins["6"] == ("A", "plate")
    assert tube_type("12AX7").pins["1"] == ("B", "plate")
    assert {"diode1", "diode2"} <= set(tube_type("12AV6").section().electrodes)


def test_0d3_jumper():
    assert tube_type("0D3").jumpers == (("3", "7"),)


def test_supply_resistance_rises_with_voltage():
    for name in known_types():
        ohms = [r for _, r in tube_type(name).supply_resistance]
        assert ohms == sorted(ohms)
    assert tube_type("5AR4").supply_resistance[0] == (300.0, 75.0)  # memory: Philips GZ34
    assert tube_type("5AR4").supply_resistance_source.confidence.startswith("memory")


def test_a_number_becomes_a_quantity():
    assert tube_type("12AX7").rating("cathode-current").quantity().m_as("milliampere") == 8.0


def test_every_unit_is_one_the_registry_knows():
    for unit in {*RATING_NAMES.values(), *POINT_UNITS.values()}:
        Sourced(1.0, unit, "bench", "memory").quantity()


def test_ratings_can_be_overridden_in_a_drawing():
    own = Sourced(330.0, "volt", "the drawing", "drawing")
    mine = tube_type("12AX7").with_ratings("MINE", {"plate-voltage": own})
    assert (mine.name, mine.also) == ("MINE", ())
    assert mine.rating("plate-voltage") is own
    assert mine.rating("plate-dissipation") == tube_type("12AX7").rating("plate-dissipation")
    assert tube_type("12AX7").rating("plate-voltage").value == 300.0


@pytest.mark.parametrize(("rating", "unit"), [("plate-colour", "volt"), ("plate-voltage", "watt")])
def test_a_wrong_override_is_refused(rating, unit):
    with pytest.raises((KeyError, ValueError)):
        tube_type("12AX7").with_ratings("X", {rating: Sourced(1.0, unit, "", "drawing")})


def test_types_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        tube_type("12AX7").name = "other"
    with pytest.raises(TypeError):
        tube_type("12AX7").ratings["plate-voltage"] = None


def test_a_users_own_type_loads():
    mine = load_type(TRIODE, "mine.toml")
    assert mine.section().electrodes == ("plate", "grid", "cathode")
    assert mine.section().law is None
    assert mine.rating("plate-voltage").confidence == "memory"


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('base = "bench"', 'base = "bench"\ncolour = "red"', "colour"),
        ('base = "bench"', "", "base"),
        ('group = "amplifying"', 'group = "lamp"', "group"),
        (
            '"volt", source = "us" }\n[[section]]',
            '"volt" }\n[[section]]',
            "ratings.plate-voltage.source",
        ),
        ('value = 250, unit = "volt"', 'value = 250, unit = "watt"', "ratings.plate-voltage.unit"),
        ("value = 250", 'value = "250"', "ratings.plate-voltage.value"),
        ("value = 250", "value = nan", "ratings.plate-voltage.value"),
        ("plate-voltage =", "plate-colour =", "ratings.plate-colour"),
        ('confidence = "memory"', 'confidence = "sure"', "sources.us.confidence"),
        ('mode = "single"', 'mode = "odd"', "heater 1.mode"),
        ('1 = "plate"', '1 = "anodes"', "pins.1"),
        ('1 = "plate"', '1 = "A.plate"', "section"),
        ('names = [""]', 'names = ["B"]', "section 1.names"),
        ('kind = "triode"', 'kind = "hexode"', "section 1.kind"),
        ('pins-source = "us"', 'pins-source = "nobody"', "pins.source"),
        ('base = "bench"', 'base = "bench"\njumpers = [["1", "9"]]', "jumpers"),
        ('name = "T9"', "name = ", "(file)"),
    ],
)
def test_a_faulty_file_is_refused_with_file_and_key(old, new, key):
    assert old in TRIODE
    with pytest.raises(DataProblem) as caught:
        load_type(TRIODE.replace(old, new), "mine.toml")
    assert (caught.value.origin, caught.value.key) == ("mine.toml", key)
    assert str(caught.value).startswith("mine.toml: ")


def test_a_hot_cathode_needs_a_heater():
    text = TRIODE[: TRIODE.index("[[heater]]")] + TRIODE[TRIODE.index("[ratings]") :]
    with pytest.raises(DataProblem, match="heater"):
        load_type(text, "mine.toml")


def test_a_name_claimed_by_two_files_is_refused(tmp_path):
    (tmp_path / "T9.toml").write_text(TRIODE)
    (tmp_path / "T8.toml").write_text(TRIODE.replace('"T9"', '"T8"\nalso = ["t-9"]'))
    with pytest.raises(DataProblem, match="already"):
        index_text(tmp_path)


def test_the_index_lists_every_name(tmp_path):
    (tmp_path / "T9.toml").write_text(TRIODE)
    assert tomllib.loads(index_text(tmp_path)) == {"T9": "T9.toml"}


def test_the_public_names_are_there():
    assert all(hasattr(tubes, name) for name in tubes.__all__)
