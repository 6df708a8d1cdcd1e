"""The mutation study: the targets, the record, and forty mutants tried again.

``python -m tests.planted --record`` tries them all; that takes minutes, so here a random but
seeded part of the quick samples is compared with what is on record.
"""

from __future__ import annotations

import random
from collections import Counter

import pytest
from tests.planted import record, study

from coldcheck.judge.finding import LEVELS
from coldcheck.teach.plants import KINDS

SEED, TRIED = 20260, 40
QUICK = ("fog-bell", "harbour-light", "old-pier", "night-watch")
KNOWN = record.Recorded()


@pytest.fixture(scope="module")
def mutants():
    return list(study.exhibits(QUICK))


def test_the_targets_are_met_and_every_miss_is_explained():
    assert list(record.complaints(KNOWN, record.explained())) == []


def test_the_record_is_of_every_sample_and_kind():
    assert tuple(KNOWN.samples) == study.names()
    assert [k.kind for k in KNOWN.kinds] == list(KINDS)
    assert sum(KNOWN.samples.values()) == KNOWN.total.planted
    assert KNOWN.total.planted >= 500
    assert KNOWN.total.planted - KNOWN.total.found == len(KNOWN.missed)
    assert KNOWN.total.extra == sum(len(e) for e in KNOWN.extra.values())


def test_at_least_ten_samples_are_clean():
    assert len(study.names()) >= 10
    for name in QUICK:
        assert study.whole(name).at_or_above("notice") == ()


def test_as_many_mutants_are_made_as_are_on_record(mutants):
    made = Counter(m.sample for m in mutants)
    assert dict(made) == {name: KNOWN.samples[name] for name in QUICK}
    assert len({(m.sample, m.kind, m.plant.place) for m in mutants}) == len(mutants)


def test_some_mutants_tried_again_give_what_is_recorded(mutants):
    some = random.Random(SEED).sample(mutants, TRIED)
    assert [d for d in map(KNOWN.differs, map(study.outcome, some)) if d] == []


def test_the_readme_has_the_table_on_record():
    part = record.readme_part(record.README.read_text(encoding="utf-8"))
    lines = (*KNOWN.kinds, KNOWN.total)
    assert part == record.readme_table(lines, len(KNOWN.samples))


# -- the bookkeeping itself ------------------------------------------------------------------------


def outcome(**changes):
    fields = {
        "sample": "harbour-light", "kind": "k lost", "place": "R1", "named": True, "found": True,
        "expected": False, "extra": (),
    }  # fmt: skip
    return study.Outcome(**{**fields, **changes})


def test_a_record_comes_back_as_it_was_written():
    some = [
        outcome(),
        outcome(place="R2", found=False, expected=True),
        outcome(place="R3", extra=("resistor.over-power at R9", "grid.positive at V1, V2")),
    ]
    known = record.Recorded(record.written(some))
    assert known.samples == {"harbour-light": 3}
    assert known.total == study.Count("all", 3, 3, 2, 1, 2)
    assert known.missed == {("harbour-light", "k lost", "R2")}
    assert [known.differs(item) for item in some] == ["", "", ""]
    assert "missed, recorded not so" in known.differs(outcome(found=False))
    assert "recorded not so" in known.differs(outcome(place="R2"))
    assert "extra" in known.differs(outcome(place="R3"))


def test_what_keeps_the_targets_from_being_met():
    some = [outcome(place=f"R{n}", found=n > 2, extra=("x at y",)) for n in range(1, 21)]
    known = record.Recorded(record.written(some))
    reasons = record.explained(
        '[[missed]]\nkind = "k lost"\nwhy = "no"\nplaces = { harbour-light = ["R2", "R9"] }\n'
    )
    said = "\n".join(record.complaints(known, reasons))
    assert "90.0 % found" in said
    assert "1.00 extra" in said
    assert "R1: missed without an explanation" in said
    assert "R2: missed" not in said
    assert "R9: explained, but not missed" in said
    assert "R2: that is no explanation" in said


def test_the_table_goes_between_its_marks_only():
    text = f"a\n{record.START}\nold\n{record.END}\nb\n"
    assert record.readme_part(record.with_table(text, "new\n")) == "new\n"
    assert record.with_table(text, "new\n").startswith("a\n")
    with pytest.raises(ValueError, match="no <!--"):
        record.with_table("a\n", "new\n")


@pytest.mark.parametrize(
    ("at", "rule", "told"),
    [(("R6",), "grid.no-return", True), (("R4",), "grid.no-return", False)],
)
def test_an_outcome_is_found_only_at_its_place(monkeypatch, at, rule, told):
    """The mutant's review is put in by hand: one finding, and the missed ``expect`` beside it."""
    mutant = next(m for m in study.exhibits(("harbour-light",), ("grid return left out",))
                  if m.plant.at == ("R6",))  # fmt: skip
    clean = study.whole("harbour-light")
    finding = next(iter(_findings(clean, rule, at)))
    missed = next(iter(_findings(clean, study.INTENT, ("LIFT",))))
    monkeypatch.setattr(study, "review_drawing", lambda *_: _review(clean, (finding, missed)))
    found = study.outcome(mutant)
    assert (found.named, found.found, found.expected) == (True, told, True)
    assert len(found.extra) == (0 if told else 1)
    assert LEVELS.index(finding.level) >= study.NOTICE


def _findings(review, rule, at):
    from coldcheck.anatomy.case import Case
    from coldcheck.verdict.registry import rule_by_id

    case = Case(review.circuit, review.solutions)
    yield rule_by_id(rule).finding(case, at, "a message", "a remedy")


def _review(review, findings):
    from dataclasses import replace

    return replace(review, findings=findings)
