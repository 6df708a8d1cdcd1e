"""What stands for a drawing whose review or report broke down, so that the others go on."""

from __future__ import annotations

from dataclasses import replace

from coldcheck.circuit.entries import in_words
from coldcheck.drawing.model import Span
from coldcheck.judge.finding import Finding, NotJudged, Unjudged
from coldcheck.verdict.doubts import REVIEW
from coldcheck.verdict.review import Review


def without_review(file: str, error: Exception) -> Review:
    """The review of a drawing whose reading or judging raised: nothing was judged."""
    why = f"the review broke down: {in_words(error)}"
    finding = Finding(
        rule="drawing.not-reviewed",
        level="notice",
        state="drawing",
        at=(),
        span=Span(file, 1, 1, 2),
        message=why,
        remedy="Report it together with the drawing: this is a fault of coldcheck. Nothing about "
        "the drawing was judged",
        certainty="certain",
    )
    said = NotJudged(REVIEW, (), why, Unjudged.REVIEW_FAILED)
    return Review(file, "", None, (finding,), (said,), {}, (), readable=False)


def without_numbers(review: Review, error: Exception) -> Review:
    """A review of which a report could not be made: its findings, without its numbers."""
    why = f"the report broke down, so its numbers are left out: {in_words(error)}"
    said = NotJudged(REVIEW, (), why, Unjudged.REPORT_FAILED)
    left = (*review.not_judged, said)
    return replace(review, circuit=None, solutions={}, worked=None, not_judged=left)
