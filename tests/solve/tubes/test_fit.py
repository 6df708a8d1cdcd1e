"""The fit of a new file: what it needs, and what it says where that is missing."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from coldcheck.circuit.tubes import DATA, load_type
from coldcheck.circuit.tubes_checks import LAW_PARAMETERS
from coldcheck.solve.tubes import fit
from coldcheck.solve.tubes.laws import law_for


def unfitted(name: str) -> str:
    """A file of ours as it was before its law: the section tables with names and kind alone."""
    text = (DATA / f"{name}.toml").read_text("utf-8")
    return re.sub(r"\[section\.law\].*", "", text.replace(fit.MARK, ""), flags=re.DOTALL)


@pytest.mark.parametrize(
    ("name", "form"),
    [("6C4", "triode"), ("EL84", "pentode"), ("5Y3GT", "rectifier"), ("0A2", "regulator")],
)
def test_a_file_without_a_law_gets_one(name: str, form: str) -> None:
    before = unfitted(name)
    after = fit.refitted(before, f"{name}.toml")
    law = load_type(after, name).sections[0].law
    assert law is not None
    assert set(LAW_PARAMETERS[form]) <= law.parameters.keys()
    ours = load_type((DATA / f"{name}.toml").read_text("utf-8"), name).sections[0].law
    for parameter, value in ours.parameters.items():
        assert law.parameters[parameter] == pytest.approx(value, rel=1e-3), parameter
    assert after.startswith(before.partition("[[section]]")[0].rstrip())


def test_a_law_of_another_day_is_no_obstacle() -> None:
    text = (DATA / "5Y3GT.toml").read_text("utf-8")
    old = re.sub(r"perveance = \S+", "k = 1.0", text)
    assert fit.refitted(old, "5Y3GT.toml") == text


def test_a_type_without_its_law_is_read_and_has_none() -> None:
    assert load_type(unfitted("5Y3GT"), "5Y3GT.toml").sections[0].law is None


def without(text: str, key: str) -> str:
    return re.sub(rf"^{key} = .*\n", "", text, flags=re.MULTILINE)


@pytest.mark.parametrize(
    ("name", "key", "said"),
    [
        ("6C4", "amplification-factor", "point.amplification-factor: the law needs it"),
        ("6C4", "grid-voltage", "point: the law needs its grid-voltage or its cathode-resistor"),
        ("5Y3GT", "plate-current", "point.plate-current: the law needs it"),
        ("0A2", "regulation", "ratings.regulation: the law needs it"),
    ],
)
def test_what_is_missing_is_named_and_the_law_left_out(name: str, key: str, said: str) -> None:
    text = without(unfitted(name), key)
    kind = load_type(fit.refitted(text, f"{name}.toml"), name)
    assert [": ".join(pair) for pair in fit.lacking(kind)] == [said]
    assert kind.sections[0].law is None


def test_a_file_without_points_is_named() -> None:
    text = re.sub(r"\[\[point\]\].*?(?=\n\[\[|\Z)", "", unfitted("6C4"), flags=re.DOTALL)
    ((_, why),) = fit.lacking(load_type(text, "6C4.toml"))
    assert "at least one published point" in why


def test_unequal_sections_have_a_law_each_from_their_own_points() -> None:
    """12DW7: one half like a 12AX7's (mu 100), the other like a 12AU7's (memory: RCA, GE)."""
    kind = load_type(fit.refitted((DATA / "12DW7.toml").read_text("utf-8"), "12DW7.toml"), "12DW7")
    laws = [law for s in kind.sections if (law := law_for(s))]
    at = [fit.figures(law, v) for law, v in zip(laws, [(250.0, -2.0), (250.0, -8.5)], strict=True)]
    mus = [f["transconductance"] * f["plate-resistance"] for f in at]
    assert mus == [pytest.approx(100, rel=0.05), pytest.approx(17, rel=0.1)]


def test_a_point_that_lacks_a_voltage_says_nothing_to_the_fit() -> None:
    text = (DATA / "6C4.toml").read_text("utf-8")
    extra = '[[point]]\nplate-current = { value = 1, unit = "ampere", source = "recalled" }\n\n'
    more = text.replace(fit.MARK, extra + fit.MARK)
    law = load_type(fit.refitted(more, "6C4.toml"), "6C4").sections[0].law
    assert law == load_type(fit.refitted(text, "6C4.toml"), "6C4").sections[0].law


@pytest.mark.parametrize(("names", "said"), [([], "which types"), (["6C5X"], "there is no ")])
def test_the_command_says_what_it_lacks(names: list[str], said: str) -> None:
    with pytest.raises(SystemExit, match=said):
        fit.main(names)


def test_how_far_a_law_is_off_is_told_by_what_is_left_out() -> None:
    """One point leaves what its family shows; a second that does not fit widens it."""
    one = load_type((DATA / "6C4.toml").read_text("utf-8"), "6C4.toml")
    assert fit.law_off(one, "triode", "") == fit.USUALLY_OFF["triode"]
    (point,) = one.points
    for factor, low, high in ((1.0, 0.0, fit.USUALLY_OFF["triode"]), (1.5, 0.2, 0.4)):
        amps = replace(point["plate-current"], value=factor * point["plate-current"].value)
        two = replace(one, points=(point, {**point, "plate-current": amps}))
        assert low < fit.law_off(two, "triode", "") < high


def test_a_small_current_tells_a_voltage() -> None:
    """12AT7: 10 uA at -12 V with 250 V on the plate (memory: GE)."""
    kind = load_type((DATA / "12AT7.toml").read_text("utf-8"), "12AT7.toml")
    (tail,) = [p for p in fit.points_of(kind, "triode") if p.volts == (250.0, -12.0)]
    assert tail.wanted == {"plate-current": (1e-5, fit.TAIL_SPREAD)}
    (rated,) = [p for p in fit.points_of(kind, "triode") if p.wanted["plate-current"][0] > 9e-3]
    assert rated.wanted["plate-current"][1] < 0.02


def test_a_screen_current_at_full_drive_is_told_to_the_law_where_there_is_a_load() -> None:
    """6F6: 10.5 mA at maximum signal into 7 kohm (memory: RCA RC-19 to RC-30)."""
    text = (DATA / "6F6.toml").read_text("utf-8")
    kind = load_type(text, "6F6.toml")
    law = law_for(kind.sections[0])
    point = fit.points_of(kind, "pentode")[0]
    assert point.wanted[fit.DRIVEN][0] == 10.5e-3
    assert fit.predicted(law, point)[fit.DRIVEN] == pytest.approx(10.5e-3, rel=0.05)
    bare = load_type(without(text, "load"), "6F6.toml")
    assert fit.DRIVEN not in fit.points_of(bare, "pentode")[0].wanted
