"""One word for one thing: the words that may not come back are in no text a user sees."""

from __future__ import annotations

import pytest
from tests.report.terms import BANNED, ROOT, found, literals, offenders, standing

PAGES = ["README.md", "grammar/README.md", "samples/README.md"]
PAGES += [p.relative_to(ROOT).as_posix() for p in sorted((ROOT / "samples/guide").glob("*.md"))]

SENTENCES = {
    "C1 stands 500 V": "stands 500 V (is rated)",
    "the winding stands at 368 V": "stands at (is at)",
    "a limit by straight lines": "straight lines (small-signal estimate)",
    "the heater line floats": "heater line (heater bus)",
    "a clip on the bias line": "bias line (bias supply)",
    "there is no way round": "no way round (no return path)",
    "50 V a division": "a core (per core)",
    "2 A a tube": "a core (per core)",
    "V1A plate": "V1A plate (V1A.plate)",
    "it is told": "told (reported)",
    "a steep tube": "steep tube (high-transconductance)",
    "an RCD trips": "RCD (RCD (GFCI))",
    "the green-yellow wire": "green-yellow wire (protective-earth wire)",
    "heater-k": "heater-k (heater to cathode)",
}


@pytest.mark.parametrize("sentence", SENTENCES)
def test_the_words_are_noticed(sentence: str) -> None:
    assert list(found(sentence)) == [SENTENCES[sentence]]


def test_every_word_has_its_sentence() -> None:
    assert set(SENTENCES.values()) == set(BANNED)


def test_the_right_words_are_not() -> None:
    right = (
        "C1 is rated 500 V and is at 368 V; the heater bus; line 12; line; a tube; 50 V per "
        "division; V1A.plate; an RCD (GFCI); the protective-earth wire (green-yellow; US: green or "
        "bare); no return path; heater to cathode; outstanding 5; the sheet stands for it"
    )
    assert list(found(right)) == []


def test_strings_are_read_with_what_is_filled_in_and_without_docstrings() -> None:
    source = '"""told"""\ndef f(x):\n    """Told."""\n    return f"{x} stands {x:.0f} " "V"\n'
    texts = list(literals(source))
    assert texts[0] == "{} stands {} V"
    assert [name for text in texts for name in found(text)] == ["stands 500 V (is rated)"]


def test_no_text_of_the_program_has_one_that_is_not_on_the_list() -> None:
    assert offenders() - standing() == {}


def test_the_list_is_no_longer_than_it_has_to_be() -> None:
    gone = set(standing()) - set(offenders())
    assert gone == set(), "run python -m tests.report.terms"


def test_only_rules_are_on_the_list() -> None:
    assert {module.split("/")[2] for module, _ in standing()} <= {"rules"}


@pytest.mark.parametrize("page", PAGES)
def test_the_pages_keep_to_the_terms(page: str) -> None:
    lines = (ROOT / page).read_text("utf-8").splitlines()
    assert [(n, line) for n, line in enumerate(lines, 1) if list(found(line))] == []


def test_every_term_is_explained() -> None:
    table = (ROOT / "DEVELOPERS.md").read_text("utf-8").split("## Terms\n")[1].split("\n## ")[0]
    for name in BANNED:
        better = name.rpartition(" (")[2] if not name.startswith("RCD") else "RCD (GFCI"
        assert better.rstrip(")").split(" core")[0] in table, name
