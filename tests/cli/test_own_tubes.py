"""A tube of one's own: the template filled in, fitted, and used in a drawing of its project."""

from __future__ import annotations

import re

import pytest

from coldcheck.circuit.tubes import DATA, DataProblem, load_type
from coldcheck.circuit.tubes_template import KINDS, template
from coldcheck.cli import FAILED, OK, TUBE_KINDS
from coldcheck.solve.tubes.own import fitted

FIGURES = {
    "volts": "6.3", "amps": "0.3", "plate-voltage": "250", "grid-voltage": "-8",
    "plate-current": "0.009", "amplification-factor": "20", "transconductance": "0.0026",
    "plate-resistance": "7700", "screen-voltage": "250", "screen-current": "0.002",
    "plate-dissipation": "2.5", "screen-dissipation": "2", "cathode-current": "0.02",
}  # fmt: skip


def filled(text: str, **figures: str) -> str:
    """A template with its lines opened and figures in them; rows without a figure stay closed."""
    known = {**FIGURES, **figures}
    lines = []
    for line in text.splitlines():
        found = re.fullmatch(r"# ([\w-]+) = (\{.*|\".*)", line)
        if found and "?" not in line:
            line = line.removeprefix("# ")
        elif found and found[1] in known:
            line = line.removeprefix("# ").replace("?", known[found[1]])
        lines.append(line)
    return "\n".join(lines).replace('base = "?" ', 'base = "octal 8" ').replace(
        'text = "?"', 'text = "a sheet"'
    ) + "\n"  # fmt: skip


@pytest.fixture
def project(tmp_path, monkeypatch):
    """A project with an empty folder of tube data."""
    (tmp_path / "valves").mkdir()
    (tmp_path / "coldcheck.toml").write_text('data = ["valves"]\n')
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_tube_from_the_template_is_reviewed_with(run, project) -> None:
    """As the README says it: --new, fill in, --fit, review."""
    file = project / "valves" / "XQ1.toml"
    status, out, _ = run("tubes", "--new", "XQ-1")
    assert (status, out) == (OK, "valves/XQ1.toml: fill it in, then coldcheck tubes --fit "
                                 "valves/XQ1.toml\n")  # fmt: skip
    file.write_text(filled(file.read_text()))
    status, out, _ = run("tubes", "--fit", "valves/XQ1.toml")
    assert status == OK
    assert re.search(r"plate current\s+9 mA\s+9(\.0\d+)? mA", out)
    assert "nothing was found that does not fit" in out
    drawing = project / "stage.tube"
    drawing.write_text(
        "B --+[E1 250 V]-- gnd\ntube V1 XQ-1\nB -- V1:3\nV1:8 -- gnd\nG --[E2 8 V]+-- gnd\n"
        "G -- V1:5\n"
    )
    status, out, _ = run("review", "stage.tube")
    assert re.search(r"V1\s+XQ-1\s+250\.0\s+9", out)
    assert "undecided" not in out


def test_an_old_file_is_left_alone_and_a_library_file_too(run, project) -> None:
    run("tubes", "--new", "XQ1")
    before = (project / "valves" / "XQ1.toml").read_text()
    status, _, err = run("tubes", "--new", "XQ1")
    assert status == FAILED
    assert "is there already" in err
    assert (project / "valves" / "XQ1.toml").read_text() == before
    status, _, err = run("tubes", "--fit", str(DATA / "6C4.toml"))
    assert status == FAILED
    assert "the library's own" in err


def test_without_a_project_it_is_written_here(run, tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    status, out, _ = run("tubes", "--new", "XQ1", "--kind", "pentode")
    assert status == OK
    assert (tmp_path / "XQ1.toml").is_file()
    assert 'data = ["FOLDER"]' in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--new", "a/b"], "no name of a tube"),
        (["--kind", "pentode"], "--kind goes with --new"),
        (["12AX7", "--new", "XQ1"], "one at a time"),
        (["--fit", "nothing.toml"], "nothing.toml"),
    ],
)
def test_what_is_asked_wrongly_is_said(run, project, words, said) -> None:
    status, _, err = run("tubes", *words)
    assert status == FAILED
    assert said in err


def test_the_command_offers_the_kinds_there_are() -> None:
    assert TUBE_KINDS == KINDS


@pytest.mark.parametrize("kind", KINDS)
def test_a_template_is_refused_until_it_is_filled_in(kind) -> None:
    with pytest.raises(DataProblem):
        load_type(template("XQ1", "XQ1.toml", kind), "XQ1.toml", fitted=False)


@pytest.mark.parametrize("kind", KINDS)
def test_every_template_filled_in_is_a_tube(kind) -> None:
    text = filled(template("XQ1", "XQ1.toml", kind))
    found = fitted(text, "XQ1.toml")
    lawful = [s.law is not None for s in found.kind.sections]
    assert all(lawful) is (kind != "heater-only")
    assert not [r for r in found.remarks if "?" in r]


def test_of_a_tube_of_which_only_the_heater_is_known_that_is_said() -> None:
    found = fitted(filled(template("XQ1", "XQ1.toml", "heater-only")), "XQ1.toml")
    assert found.kind.heaters[0].amps.value == 0.3
    assert any(r.startswith("no law: point") for r in found.remarks)


@pytest.mark.parametrize(
    ("figures", "said"),
    [
        ({"amplification-factor": "40"}, "amplification factor 40, but transconductance times"),
        ({"plate-dissipation": "1.5"}, "plate takes 2.25 W, rated 1.5 W"),
        ({"transconductance": "0.004"}, "plate resistance 30.8"),
    ],
)
def test_figures_that_do_not_fit_together_are_remarked_on(figures, said) -> None:
    text = filled(template("XQ1", "XQ1.toml", "triode"), **figures)
    assert any(said in r for r in fitted(text, "XQ1.toml").remarks)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('8 = "cathode"', '9 = "cathode"', "pins: octal 8 has 8 pins; not given: 8"),
        ('8 = "cathode"', '9 = "cathode"', "pins: octal 8 has 8 pins, not 9"),
        ('base = "octal 8"', 'base = "?"', "base: still ?"),
        ('text = "a sheet"', 'text = "?"', "sources: still ?"),
    ],
)
def test_what_is_left_open_is_remarked_on(old, new, said) -> None:
    text = filled(template("XQ1", "XQ1.toml", "triode"))
    assert old in text
    assert any(said in r for r in fitted(text.replace(old, new), "XQ1.toml").remarks)


def test_a_heater_in_two_ways_that_takes_two_powers_is_remarked_on() -> None:
    text = (DATA / "12AU7.toml").read_text("utf-8")
    odd = text.replace('value = 0.3, unit = "ampere"', 'value = 0.4, unit = "ampere"')
    remarks = fitted(odd, "12AU7.toml").remarks
    assert "heater: one heater wired in two ways takes 1.89 W and 2.52 W" in remarks
