"""The register of sources: every entry in form, every citation in the program leads to one."""

from __future__ import annotations

import pytest

from coldcheck.judge.threshold import Threshold
from coldcheck.sources.register import PRACTICE, Citation, Seen, register
from coldcheck.verdict.registry import RULES

CITED = sorted({t.source.source for rule in RULES for t in rule.thresholds})


@pytest.mark.parametrize("name", sorted(register()))
def test_an_entry_says_what_it_is(name: str) -> None:
    entry = register()[name]
    assert entry.title or entry.seen is Seen.PRACTICE
    assert entry.id == name


def test_every_citation_leads_to_an_entry() -> None:
    assert [name for name in CITED if name not in register()] == []


def test_words() -> None:
    touch = Citation("iec-60335-1", "cl. 8.1.4")
    assert touch.text.startswith("IEC 60335-1, ")
    assert touch.text.endswith("cl. 8.1.4 (in a public compilation)")
    assert PRACTICE.text == "common practice"
    assert Threshold("touch voltage", 60.0, "V", PRACTICE).text == (
        "touch voltage 60 V: common practice"
    )


def test_an_unknown_source_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        _ = Citation("nobody").text
