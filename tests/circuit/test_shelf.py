"""The later types: unequal sections, shared pins, bases not known for certain, and checks."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldcheck.circuit import build_circuit
from coldcheck.circuit.tubes import DATA, DataProblem, Sourced, known_types, load_type, tube_type
from coldcheck.circuit.tubes_types import ONE_RECALL, TWO_RECALLS, SectionKind
from coldcheck.drawing import parse_drawing


@pytest.fixture(params=known_types())
def kind(request):
    return tube_type(request.param)


def problems(text):
    return [(p.found, p.hint) for p in build_circuit(parse_drawing(text)).problems]


def figure(point, name):
    number = point.get(name)
    return number.value if isinstance(number, Sourced) else None


def test_mu_is_transconductance_times_plate_resistance(kind) -> None:
    for point in kind.points:
        mu, gm, rp = (figure(point, n) for n in ("amplification-factor", "transconductance",
                                                 "plate-resistance"))  # fmt: skip
        if None not in (mu, gm, rp):
            assert gm * rp == pytest.approx(mu, rel=0.15)


def test_a_heater_in_two_ways_takes_the_same_watts(kind) -> None:
    watts = [w.volts.value * w.amps.value for w in kind.heaters]
    assert watts == pytest.approx([max(watts, default=0.0)] * len(watts), rel=0.03)


def test_no_published_point_is_far_beyond_its_rating_without_saying_so(kind) -> None:
    for section in kind.sections:
        rated = kind.rating("plate-dissipation", section.name)
        for point in kind.points_of(section.name):
            volts, amps = figure(point, "plate-voltage"), figure(point, "plate-current")
            if rated is None or volts is None or amps is None or section.kind.value == "rectifier":
                continue
            beyond = volts * amps > 1.3 * rated.value
            triode = point.get("screen-voltage") is None and section.kind.value == "pentode"
            assert not beyond or triode or "characteristic" in str(point.get("note", ""))


def test_types_of_one_base_have_their_heater_on_the_same_pins() -> None:
    """Families of one basing code: 9A, 7AC, 8BD (but for pins that are connected inside)."""
    for code in ("noval 9A", "octal 7AC", "octal 8BD", "octal 8N", "7-pin miniature 7BT"):
        kinds = [t for t in map(tube_type, known_types()) if t.base == code and t.pins_known]
        assert len(kinds) > 3
        bases = {tuple((p, e) for p, e in t.pins.items() if e[1] not in _IDLE) for t in kinds}
        assert (
            len({frozenset(p for p, (_, e) in b if e in ("h1", "h2", "tap")) for b in bases}) == 1
        )


_IDLE = ("nc", "ic", "shield", "suppressor")


def test_unequal_sections_have_their_own_ratings() -> None:
    """6BM8: 1 W and 7 W (memory, two recalls agreeing)."""
    found = tube_type("ECL82")
    assert [s.kind for s in found.sections] == [SectionKind.TRIODE, SectionKind.PENTODE]
    assert found.rating("plate-dissipation", "A").value == 1
    assert found.rating("plate-dissipation", "B").value == 7
    assert found.rating("plate-dissipation") is None
    assert found.rating("plate-dissipation", "A").confidence == TWO_RECALLS
    assert found.rating("heater-negative-peak", "A").confidence == ONE_RECALL


def test_one_pin_for_two_electrodes() -> None:
    """6SC7 has one cathode, pin 6; the ECH81's triode and mixer too."""
    text = "tube V1 6SC7\nV1B.k --[R1 1k]-- gnd\nV1:6 --[R2 1k]-- gnd\nV1.k --[R3 1k]-- gnd\n"
    circuit = build_circuit(parse_drawing(text))
    assert not circuit.problems
    assert len({circuit.branches[r].a for r in ("R1", "R2", "R3")}) == 1
    assert len({s.net("cathode") for s in circuit.sections()}) == 1
    assert tube_type("ECH81").joined == {("B", "cathode"): ("A", "cathode")}


@pytest.mark.parametrize(("name", "lead"), [("6A8", "V1.grid4"), ("807", "V1.plate")])
def test_a_top_cap_has_a_name_of_its_own(name, lead) -> None:
    for written in ("V1.cap", "V1:cap"):
        circuit = build_circuit(parse_drawing(f"tube V1 {name}\n{written} --[R1 1k]-- gnd\n"))
        assert not circuit.problems
        assert circuit.points[lead] == circuit.branches["R1"].a


def test_the_pins_of_a_base_that_is_not_known_cannot_be_named() -> None:
    """6AH4GT: neither recall was sure of its base."""
    assert not tube_type("6AH4GT").pins_known
    assert not problems("tube V1 6AH4GT\nV1.plate --[R1 1k]-- B\n")
    ((found, hint),) = problems("tube V1 6AH4GT\nV1:5 --[R1 1k]-- B\n")
    assert found == "V1:5"
    assert hint == (
        "V1 is a 6AH4GT, whose pin numbers are not on file; its electrodes by name do as well: "
        "plate, grid, cathode, h1, h2"
    )


def test_pins_are_known_only_where_two_recalls_or_a_page_agree() -> None:
    for found in map(tube_type, known_types()):
        if found.pins_known and (DATA / f"{found.name}.toml").is_file():
            assert found.pins_source.confidence != ONE_RECALL, found.name


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('"B.cathode" = "A.cathode"', '"B.cathode" = "A.screen"', "joined.B.cathode"),
        ('"B.cathode" = "A.cathode"', '"A.cathode" = "A.cathode"', "joined.A.cathode"),
        ('"B.cathode" = "A.cathode"', '"C.cathode" = "A.cathode"', "joined.C.cathode"),
        ("[ratings.A]", "[ratings.C]", "ratings.C"),
        ('section = "A"', 'section = "C"', "point.section"),
    ],
)
def test_what_does_not_fit_a_tube_of_unequal_sections_is_refused(old, new, key) -> None:
    text = (DATA / "ECL80.toml").read_text("utf-8")
    assert old in text
    with pytest.raises(DataProblem) as caught:
        load_type(text.replace(old, new, 1), "ECL80.toml")
    assert caught.value.key == key


def test_a_drawing_reads_the_files_of_its_own_types_alone(monkeypatch) -> None:
    from coldcheck.circuit import tubes

    read = []
    real = Path.read_text

    def noted(self, *args, **kwargs):
        read.append(self.name)
        return real(self, *args, **kwargs)

    monkeypatch.setattr(Path, "read_text", noted)
    tubes._load.cache_clear()
    tubes.accepted_names.cache_clear()
    build_circuit(parse_drawing("tube V1 12SK7\ntube V2 ECL82\n"))
    assert sorted(n for n in read if n.endswith(".toml")) == [
        "12SK7.toml",
        "6BM8.toml",
        "index.toml",
    ]


_BASES = {
    "DAF91": "f1 ic diode1 screen plate grid f2",
    "DAF96": "f1 ic diode1 screen plate grid f2",
    "DF91": "f1 plate screen ic f1 grid f2",
    "DF96": "f1 plate screen ic f1 grid f2",
    "DL92": "f1 plate grid screen tap plate f2",
    "DL94": "f1 plate screen nc tap grid f2",
    "DL96": "f1 plate screen nc tap grid f2",
}
"""One table of pins 1 to 7 on electronics-notes.com and radio-electronics.com (found)."""


@pytest.mark.parametrize("name", _BASES)
def test_battery_miniatures_have_the_pins_of_a_public_table(name) -> None:
    pins = tube_type(name).pins
    assert [pins[str(n)][1] for n in range(1, 8)] == _BASES[name].split()


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("DK91", "f1 plate screen grid f1 grid3 f2"),
        ("DK92", "f1 plate grid2 grid screen grid3 f2"),
        ("DK96", "f1 plate grid2 grid screen grid3 f2"),
        ("1U4", "f1 plate screen ic f1 grid f2"),
        ("1U5", "f1 plate screen diode1 ic grid f2"),
    ],
)
def test_battery_miniatures_recalled_twice(name, wanted) -> None:
    """Memory (two recalls agreeing): RC-19/RC-30, and Philips and Mullard sheets."""
    pins = tube_type(name).pins
    assert [pins[str(n)][1] for n in range(1, 8)] == wanted.split()
    assert tube_type(name).pins_source.confidence == TWO_RECALLS


def test_the_negative_end_of_a_filament_on_two_pins_is_one_point() -> None:
    """A 1R5 by its pins: 1 and 5 to gnd, 7 to the cell; none of it is a short."""
    circuit = build_circuit(
        parse_drawing("tube V1 DK91\nA --+[E1 1.5 V]-- gnd\nV1:1 -- gnd\nV1:5 -- gnd\nV1:7 -- A\n")
    )
    assert not circuit.problems
    assert circuit.points["V1.f1"] != circuit.points["V1.f2"]
