from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from rich.cells import cell_len
from rich.console import Console
from tests.gates import at

from coldcheck.judge.figure import figure
from coldcheck.judge.finding import LEVELS
from coldcheck.report.review import text
from coldcheck.report.shared.signal_words import STYLES
from coldcheck.verdict.document.build import ruling_of

PINNED = Path(__file__).with_name("pinned")


def pinned(name: str) -> str:
    return (PINNED / name).read_text(encoding="utf-8")


def test_piped_report_is_as_pinned(review, paper):
    text.render(ruling_of(review), paper.console)
    assert paper.text == pinned("piped.txt")


def test_terminal_report_is_as_pinned(review, colourless):
    text.render(ruling_of(review), colourless.console)
    assert colourless.text == pinned("terminal.txt")


def test_unreadable_report_is_as_pinned(unreadable, paper):
    text.render(ruling_of(unreadable), paper.console)
    assert paper.text == pinned("unreadable.txt")


def test_the_line_in_gnu_form_is_one_physical_line(review, paper):
    text.render(ruling_of(review), paper.console)
    lines = [x for x in paper.text.splitlines() if x.startswith("parlour.tube:")]
    assert lines == [
        "parlour.tube:2.1: warning, supply.no-bleeder: C1 and C2 still hold more than 60 V 140 s "
        "after switching off.",
        "parlour.tube:6.1: notice, heater.cathode-stress: The cathode of V1 stands 156.8 V above "
        "its heater at the worst instant; the data sheet allows 100 V.",
    ]


def test_findings_stand_in_the_order_the_review_gives_them(review, paper):
    """What is first there is the thing to change, wherever it stands in the drawing."""
    turned = replace(review, findings=review.findings[::-1])
    assert len({f.span.line for f in turned.findings}) > 1
    text.render(ruling_of(turned), paper.console)
    places = [x.split(":")[1] for x in paper.text.splitlines() if x.startswith("parlour.tube:")]
    assert places == [
        f"{f.span.line}.{f.span.column}" for f in turned.findings if f.level != "advice"
    ]


def test_a_terminal_report_fits_and_no_line_ends_in_blanks(review, unreadable, terminal):
    for one in (review, unreadable):
        text.render(ruling_of(one), terminal.console)
    plain = [line for line in _without_style(terminal.text).splitlines() if line]
    assert max(cell_len(line) for line in plain) <= 80
    assert not [line for line in plain if line != line.rstrip()]


def _without_style(printed: str) -> str:
    from rich.text import Text

    return Text.from_ansi(printed).plain


def test_each_level_has_its_word_and_the_standard_colour(review, terminal):
    finding = review.findings[0]
    many = tuple(replace(finding, level=level) for level in LEVELS)
    text.render(ruling_of(replace(review, findings=many)), terminal.console)
    plain = _without_style(terminal.text)
    words = [
        line.split()[0]
        for line in plain.splitlines()
        if line.startswith(" ") and line.split()[0].lower() in LEVELS
    ]
    assert words == [level.upper() for level in LEVELS]
    for level in ("danger", "warning", "caution", "notice"):
        red, green, blue = (int(STYLES[level].split("#")[2][i : i + 2], 16) for i in (0, 2, 4))
        assert f"48;2;{red};{green};{blue}m {level.upper()} " in terminal.text


def test_colour_is_never_in_piped_text(review, paper):
    text.render(ruling_of(review), paper.console)
    assert "\x1b" not in paper.text


@pytest.mark.parametrize("form", ["paper", "terminal"])
def test_text_of_the_user_cannot_steer_the_terminal(form, review, request):
    console = request.getfixturevalue(form)
    evil = "[red]\x1b[2J\x07\u202e:smile:[/red]"
    finding = replace(
        review.findings[0],
        at=(evil,),
        message=evil,
        remedy=evil,
        source=evil,
        path=(evil,),
        evidence={evil: evil, "peak": figure(3, "V")},
    )
    waived = replace(finding, accepted=evil)
    judged = replace(review.not_judged[0], at=(evil,), reason=evil)
    dirty = replace(
        review,
        title=evil,
        file=evil,
        findings=(finding, waived),
        not_judged=(judged,),
        lines=(evil,) * 6,
    )
    text.render(ruling_of(dirty), console.console)
    for sign in ("\x1b[2J", "\x07", "\u202e"):
        assert sign not in console.text
    # as it stands: neither taken for markup nor for an emoji
    assert "[red]\\x1b[2J\\x07\\u202e:smile:[/red]" in _without_style(console.text)


def test_a_pass_says_only_what_was_judged(clean_review, paper):
    text.render(ruling_of(clean_review), paper.console)
    assert (
        "verdict: let through — nothing found at notice or above in what was judged; "
        "no remark on what was not judged" in paper.text.replace("\n", " ")
    )
    assert "safe" not in paper.text.lower()


def judged(review):
    """The review as if nothing had been left open."""
    return replace(review, not_judged=())


def test_the_gate_is_in_the_verdict(review):
    assert (
        text.verdict_line(at(review, "warning")) == "verdict: held — 1 finding at warning or above"
    )
    assert text.verdict_line(at(judged(review), "danger")) == (
        "verdict: let through — nothing found at danger in what was judged; "
        "no remark on what was not judged"
    )


def test_an_accepted_finding_is_listed_apart_and_not_counted(review, paper):
    text.render(at(review, "advice"), paper.console)
    assert "tube.idle-dissipation at V1, advice" in paper.text
    assert "runs hot by design, see log 14" in paper.text
    assert "2 findings at advice or above" in paper.text
    assert "[tube.idle-dissipation]" not in paper.text


def test_a_state_that_was_not_solved_has_its_reason_and_no_number(review, paper):
    lost = {
        n: replace(s, converged=False, reason="it did not settle")
        for n, s in review.solutions.items()
    }
    text.render(ruling_of(replace(review, solutions=lost)), paper.console)
    assert "not solved  warm: it did not settle" in paper.text
    assert "Supply rails" not in paper.text
    assert "Tubes" not in paper.text


def test_the_caution_ends_every_report(review, unreadable, paper):
    for one in (review, unreadable):
        text.render(ruling_of(one), paper.console)
    assert " ".join(paper.text.split()).count(text.CAUTION) == 2
    assert paper.text.rstrip().endswith("what may be powered.")


EDGE = "492 V across C1, rated 500 V, before the tubes draw current; the usual spread reaches 512 V"


def with_edge(review):
    edge = replace(
        review.findings[0],
        rule="capacitor.over-voltage",
        level="advice",
        certainty="possible",
        state="cold",
        at=("C1",),
        span=replace(review.findings[0].span, line=2),
        message=EDGE,
        evidence={"peak": figure(492, "V"), "reach": figure(512, "V")},
        limit=figure(500, "V"),
        excess=0.984,
    )
    return replace(review, findings=(*review.findings, edge))


def test_a_possible_edge_is_one_line_after_the_findings(review, paper):
    text.render(ruling_of(with_edge(review)), paper.console)
    lines = paper.text.splitlines()
    title = lines.index(
        "Possible: within the limit as predicted, beyond it within the usual spread"
    )
    assert lines[title + 1 : title + 3] == [
        f"parlour.tube:2.1: advice, capacitor.over-voltage: {EDGE}",
        "",
    ]
    grave = next(k for k, x in enumerate(lines) if "heater.cathode-stress: " in x)
    assert grave < title


def test_a_possible_edge_on_a_terminal_has_its_line_and_state(review, colourless):
    text.render(ruling_of(with_edge(review)), colourless.console)
    said = " ".join(colourless.text.split())
    assert f"line 2 {EDGE} (cold) – capacitor.over-voltage" in said
    assert " ADVICE " not in colourless.text
    assert max(cell_len(x) for x in colourless.text.splitlines()) <= 80


def test_the_summary_counts(review, clean_review, unreadable):
    all_three = (review, clean_review, unreadable)
    assert text.summary(map(at, all_three)) == "3 drawings: 1 held, 1 unreadable, 1 let through"


def test_a_narrow_console_does_not_fail(review, unreadable):
    from io import StringIO

    console = Console(
        file=StringIO(), width=10, force_terminal=True, color_system="truecolor", _environ={}
    )
    for one in (review, unreadable):
        text.render(ruling_of(one), console)
    assert "verdict" in console.file.getvalue()


def test_without_a_cold_state_the_table_has_no_cold_columns(review, paper):
    warm_only = {"warm": review.solutions["warm"]}
    text.render(ruling_of(replace(review, solutions=warm_only)), paper.console)
    lines = paper.text.splitlines()
    assert "Supply rails, volts to gnd" in lines
    assert lines[lines.index("Supply rails, volts to gnd") + 2].split() == [
        "RES",
        "301.4",
        "–",
        "6.51",
        "292.2",
        "310.6",
    ]
