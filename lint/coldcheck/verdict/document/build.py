"""A live review becomes its document."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.verdict.document.content import Document
from coldcheck.verdict.document.heaters import windings_told
from coldcheck.verdict.document.off import off_told
from coldcheck.verdict.document.signal import signal_told
from coldcheck.verdict.document.states import rails, sections_told, state_told
from coldcheck.verdict.document.warming import warm_up_told
from coldcheck.verdict.ruling import ruled

if TYPE_CHECKING:
    from coldcheck.circuit.model import Circuit
    from coldcheck.verdict.document.content import Shown
    from coldcheck.verdict.review import Review
    from coldcheck.verdict.ruling import Ruling


def document_of(review: Review, *, pictured: bool = False) -> Document:
    """All that a review says; what it works out when asked is asked for here, once.

    ``pictured``: with the circuit laid out, for those who show it.
    """
    circuit, worked = review.circuit, review.worked
    whole = worked is not None and circuit is not None
    signal = worked.signal() if whole and worked is not None else None
    picture, without = _shown(review) if pictured else (None, "")
    return Document(
        file=review.file,
        title=review.title,
        readable=review.readable,
        findings=review.findings,
        not_judged=review.not_judged,
        lines=review.lines,
        sheets=dict(review.sheets),
        kinds={at: kind_of(circuit, at) for f in review.findings for at in f.at},
        files=_files(review),
        states={name: state_told(s) for name, s in review.solutions.items()},
        rails=rails(review),
        sections=sections_told(review),
        heater_windings=windings_told(review),
        signal=signal_told(signal, worked.hum()) if worked is not None and signal else None,
        off=off_told(worked.off()) if whole and worked is not None else None,
        warm_up=warm_up_told(review),
        shown=picture,
        not_shown=without,
    )


def _shown(review: Review) -> tuple[Shown | None, str]:
    from coldcheck.verdict.document.shown import shown

    return shown(review)


def ruling_of(review: Review) -> Ruling:
    """The document of a review with its own gate applied."""
    return ruled(document_of(review), review.gate)


def _files(review: Review) -> tuple[str, ...]:
    if review.circuit is None:
        return (review.file,)
    return tuple(getattr(review.circuit.drawing, "files", (review.file,)))


def kind_of(circuit: Circuit | None, place: str) -> str:
    """What a place is: a part, a point, or some other object."""
    if circuit is not None and (place in circuit.branches or place in circuit.tubes):
        return "part"
    return "point" if circuit is not None and place in circuit.points else "object"
