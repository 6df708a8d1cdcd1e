"""Jacks without a plug: a loop still has to pass."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from coldcheck.verdict.review import Review

PAIRS = Path(__file__).parents[3] / "samples" / "mistakes"


def muted(looked: Review) -> list[tuple[str, ...]]:
    return [f.at for f in looked.findings if f.rule == "signal.return-muted"]


def test_a_return_on_gnd(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    found = only(sample("signal.return-muted", "wrong"), "signal.return-muted")
    assert (found.at, found.state, found.level) == (("J3", "J2"), "unplugged", "notice")
    assert found.remedy == "Wire J3.switch to the tip of J2 in place of gnd"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("J3.switch -- gnd", "J3.switch -- J2.tip"),
        ("J3.switch -- gnd", ""),  # not wired: nothing mutes it
        ("J3.switch -- gnd", "J3.switch -- gnd\nsignal AUX 0.3 V 1 kHz\nAUX -- J3.tip"),
        ("J2.tip --[R5 100k 0.5 W]-- gnd", "J2.tip --[R5 100k 0.5 W]-- gnd\nJ2.tip -- OUT"),
        ("signal IN 20 mV 1 kHz\n", ""),  # no signal is drawn, so none is lost
    ],
)
def test_what_is_no_muted_return(old: str, new: str, review: Callable[[str], Review]) -> None:
    text = (PAIRS / "signal.return-muted" / "wrong.tube").read_text("utf-8")
    assert text.count(old) == 1
    assert muted(review(text)) == [("J3", "J2")]
    assert muted(review(text.replace(old, new))) == []


@pytest.mark.parametrize(
    ("way", "told"),
    [
        ("J1.tip --[C1 22 nF 400 V film]-- V1A.grid", True),  # through a capacitor as well
        ("J1.tip --[R1 68k]-- V1A.grid", True),
        ("J1.tip --[D1 1N4007]-> V1A.grid", False),  # a detector's: no wire of the grid
    ],
)
def test_an_open_input(way: str, told: bool, review: Callable[[str], Review]) -> None:
    """1 Mohm is left to gnd, or 2.2 kohm where the contact rests on them; 10 kohm are few."""
    text = (
        "jack J1\ntube V1 12AX7\nB1 --+[E1 250 V]-- gnd\nJ1.sleeve -- gnd\n"
        f"{way} --[R2 1M]-- gnd\nJ1.tip --[R3 1M]-- gnd\n"
        "V1A.cathode --[R4 1k5]-- gnd\nB1 --[R5 100k]-- V1A.plate\n"
    )
    for contact, open_ in (("", told), ("J1.switch --[R6 2k2]-- gnd\n", False)):
        found = [f.at for f in review(text + contact).findings if f.rule == "signal.jack-open"]
        assert found == [("J1",)] * open_


# --- signal.sleeve-open, signal.wipers-joined -----------------------------------------------------


def test_a_sleeve_in_the_air(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample("signal.sleeve-open", "wrong"), "signal.sleeve-open")
    assert (found.at, found.level) == (("J1", "J1.sleeve"), "notice")


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("", True),
        ("J1.sleeve -- X\nX --[R9 10 ohm]-- gnd\n", False),
        ("J1.sleeve --[R9 10 ohm]-- gnd\n", False),
        ("J1.sleeve -- gnd\n", False),
        ("J1.sleeve -- gnd\njack J9\n", False),  # one that is not used at all
    ],
)
def test_whatever_is_on_it_will_do(more: str, told: bool, review: Callable[[str], Review]) -> None:
    text = (PAIRS / "signal.sleeve-open" / "wrong.tube").read_text("utf-8") + more
    assert bool([f for f in review(text).findings if f.rule == "signal.sleeve-open"]) is told


def test_a_sleeve_is_never_led_to_a_common_on_the_mains(review: Callable[[str], Review]) -> None:
    text = (PAIRS / "signal.sleeve-open" / "wrong.tube").read_text("utf-8")
    text += "mains 230 V 50 Hz\nneutral -- gnd\nline --[R77 100k 5 W]-- gnd\n"
    (found,) = [f for f in review(text).findings if f.rule == "signal.sleeve-open"]
    assert found.remedy.startswith("Not to gnd, which is on the mains")


def test_joined_wipers(sample: Callable[[str, str], Review], only: Callable[..., object]) -> None:
    found = only(sample("signal.wipers-joined", "wrong"), "signal.wipers-joined")
    assert (found.at, found.level) == (("P1", "P2", "MIX"), "notice")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("P2.bottom -- gnd", "P2.bottom -- P2.wiper"),  # a rheostat
        ("P2.top\npot", "P1.top\nP2.top -- P1.top\npot"),  # side by side
    ],
)
def test_wipers_that_may_be_one_point(old: str, new: str, review: Callable[[str], Review]) -> None:
    text = (PAIRS / "signal.wipers-joined" / "wrong.tube").read_text("utf-8")
    assert text.count(old) == 1
    found = [f for f in review(text.replace(old, new)).findings if f.rule == "signal.wipers-joined"]
    assert found == []


def test_a_wiper_right_on_a_mixing_grid(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    rule = "signal.wipers-joined"
    found = only(sample(f"{rule}/mixed", "wrong"), rule)
    assert (found.at, found.level, found.state) == (("P1", "R6"), "notice", "drawing")
    only(sample(f"{rule}/mixed", "right"), rule, count=0)


@pytest.mark.parametrize(
    "more",
    [
        "P1.top --[C9 100 pF 500 V mica]-- P1.wiper",  # treble past the control: the same signal
        "V2A.plate --[R12 2M2]-- F --[C9 10 nF 400 V film]-- P1.wiper",  # its own stage's feedback
        "",
    ],
)
def test_the_controls_own_signal_and_feedback_are_in_order(
    more: str, review: Callable[[str], Review]
) -> None:
    text = (PAIRS / "signal.wipers-joined" / "mixed" / "wrong.tube").read_text("utf-8")
    text = text.replace(" --[R6 470k 0.5 W]-- MIX", " --[R6 470k 0.5 W]-- gnd") + f"{more}\n"
    assert not [f for f in review(text).findings if f.rule == "signal.wipers-joined"]


AERIAL = """transformer L1
    winding ant 12 turns 1 ohm
    winding sec 100 turns 230 uH 4 ohm
tube V1 6BA6
jack J1
B1 --+[E1 200 V]-- gnd
signal L1.ant.1 1 mV 1 MHz
{tip}
L1.ant.2 -- gnd
L1.sec.1 -- V1.grid
L1.sec.2 -- gnd
V1.cathode --[R1 100 ohm]-- gnd
"""


@pytest.mark.parametrize(
    ("tip", "fires"),
    [
        ("J1.tip -- L1.ant.1", False),
        ("J1.tip --[C1 1n 500 V]-- L1.ant.1", False),
        ("J1.tip --[R9 1k]-- L1.ant.1", True),
    ],
)
def test_an_aerial_is_one_wire(tip: str, fires: bool, review: Callable[[str], Review]) -> None:
    looked = review(AERIAL.format(tip=tip))
    assert any(f.rule == "signal.sleeve-open" for f in looked.findings) is fires


def test_a_jack_inside_out(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    found = only(sample("signal.jack-reversed", "wrong"), "signal.jack-reversed")
    assert (found.at, found.level) == (("J1", "J1.tip", "J1.sleeve"), "notice")
    assert found.remedy == "Exchange J1.tip and J1.sleeve"


def test_a_jack_inside_out_on_a_live_common(
    changed: Callable[[str, str, str, str], Review],
) -> None:
    """The bushing does not go to a gnd that is on the mains."""
    mains = "mains 120 V 60 Hz\ngnd -- neutral"
    looked = changed("signal.jack-reversed", "wrong", "gnd -- chassis", mains)
    remedies = [f.remedy for f in looked.findings if f.rule == "signal.jack-reversed"]
    assert len(remedies) == 1
    assert remedies[0].startswith("Take the signal to J1.tip. Not to gnd, which is on the mains")


def test_both_leads_of_a_jack_off_gnd(changed: Callable[[str, str, str, str], Review]) -> None:
    looked = changed("signal.jack-reversed", "wrong", "J1.tip -- gnd", "J1.tip -- V1B.plate")
    assert [f for f in looked.findings if f.rule == "signal.jack-reversed"] == []


def test_a_wiper_ahead_of_the_stopper_where_signals_meet(
    sample: Callable[[str, str], Review], only: Callable[..., object]
) -> None:
    """What is missing is as large as the other mixing resistor, 470 kohm."""
    found = only(sample("signal.wipers-joined/stopper", "wrong"), "signal.wipers-joined")
    assert found.at == ("P1", "R6")
    assert "470 kohm, as R6 is," in found.remedy
