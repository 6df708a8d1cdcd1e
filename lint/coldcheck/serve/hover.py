"""What an editor shows of the name under the cursor."""

from __future__ import annotations

from pathlib import PurePath
from typing import TYPE_CHECKING

from coldcheck.bench.chart.points import point_named
from coldcheck.circuit.model import LANDMARKS
from coldcheck.circuit.transistors import transistor_types
from coldcheck.circuit.tubes import plain_name
from coldcheck.circuit.tubes_added import added_tubes
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.lines import FORMS
from coldcheck.report.pages.rule_page import documentation
from coldcheck.report.shared.markdown import escaped, own_words
from coldcheck.serve import told, words
from coldcheck.serve.hover_part import part, transformer, winding
from coldcheck.serve.hover_point import point
from coldcheck.serve.hover_tube import kind, transistor_kind, tube
from coldcheck.verdict.added import all_rules

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.circuit.model import Circuit
    from coldcheck.circuit.tubes import TubeType
    from coldcheck.serve.held import View
    from coldcheck.serve.words import Word
    from coldcheck.verdict.review import Review


def hover(view: View | None, word: Word) -> str:
    """The page on a name as Markdown; empty where there is nothing to say.

    Without a view (nothing was worked out yet) types, rules and statements are explained all the
    same.
    """
    if word.role == words.KEYWORD:
        return f"`{FORMS[word.text]}`" if word.text in FORMS else ""
    if word.role == words.RULE:
        return _rule(word.text)
    if word.role == words.TYPE and plain_name(word.text) in transistor_types():
        return transistor_kind(transistor_types()[plain_name(word.text)])
    if word.role == words.TYPE:
        return kind(word.text, _types(view))
    if view is None or view.known.review.circuit is None:
        return ""
    text = _named(view.known.review, view.known.review.circuit, word, view.prefix)
    if not text:
        return ""
    where = ""
    if view.prefix:
        drawing = escaped(PurePath(view.known.review.file).name)
        where = f"As {escaped(view.prefix.rstrip('/'))} of {drawing}."
    return told.page(text, where, f"*{view.caveat}*" if view.caveat else "")


def _named(review: Review, circuit: Circuit, word: Word, prefix: str) -> str:
    """A part, tube or transformer by its name, else a point."""
    name = word.full if word.full in LANDMARKS else f"{prefix}{word.full}"
    if word.role == words.WINDING or any(w.name == name for w in circuit.windings()):
        return winding(review, circuit, name)
    if word.role in (words.PART, words.NAME) or "." not in name:
        found = _thing(review, circuit, name)
        if found and not (word.role == words.POINT and name in circuit.points):
            return found
    spelled = point_named(circuit, name)
    return "" if spelled is None else point(review, circuit, spelled)


def _thing(review: Review, circuit: Circuit, name: str) -> str:
    sections = {s.name for s in circuit.sections()}
    if name in circuit.tubes or name in sections:
        return tube(review, circuit, name)
    if any(name in kind for kind in (circuit.transformers, circuit.outputs, circuit.coil_sets)):
        return transformer(review, circuit, name)
    if any(name in kind for kind in (circuit.couplers, circuit.thyristors, circuit.vibrators)):
        return part(review, circuit, name)
    if any(b.owner == name for b in circuit.branches.values() if b.kind is not PartKind.SIGNAL):
        return part(review, circuit, name)
    return ""


def _types(view: View | None) -> Mapping[str, TubeType]:
    """The types of the drawing, of the project and of other packages, by name."""
    if view is None:
        return added_tubes().types
    read = view.known.read
    project = read.settings.types if read.settings is not None else {}
    drawn = {t.type.name: t.type for t in read.circuit.tubes.values()}
    return {**added_tubes().types, **project, **drawn}


def _rule(name: str) -> str:
    found = next((r for r in all_rules() if r.id == name), None)
    if found is None:
        return ""
    lines = [f"* *{label}*: {own_words(text)}" for label, text in documentation(found)]
    head = f"**{found.level.upper()}** {own_words(found.title)}. `{found.id}`"
    return told.page(head, "\n".join(lines))
