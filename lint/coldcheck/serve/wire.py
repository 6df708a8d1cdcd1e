"""What the service found, in the types of the protocol."""

from __future__ import annotations

from typing import TYPE_CHECKING

from lsprotocol import types

from coldcheck.serve import completion as offers
from coldcheck.serve.edits import LinesEdit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from coldcheck.drawing.model import Span
    from coldcheck.serve.completion import Offer
    from coldcheck.serve.edits import Edit
    from coldcheck.serve.fixes import Fix
    from coldcheck.serve.marks import Mark
    from coldcheck.serve.page import Page, Range

    PageOf = Callable[[str], tuple[str, Page]]

_ITEMS = {
    offers.STATEMENT: types.CompletionItemKind.Keyword,
    offers.LEAD: types.CompletionItemKind.Field,
    offers.PIN: types.CompletionItemKind.Field,
    offers.TYPE: types.CompletionItemKind.Class,
    offers.PLACE: types.CompletionItemKind.Variable,
    offers.PART: types.CompletionItemKind.Module,
    offers.WORD: types.CompletionItemKind.Keyword,
    offers.UNIT: types.CompletionItemKind.Unit,
    offers.RULE: types.CompletionItemKind.EnumMember,
    offers.STATE: types.CompletionItemKind.Enum,
}


def range_of(found: Range) -> types.Range:
    """A range of the page."""
    (line, character), (end_line, end) = found
    return types.Range(types.Position(line, character), types.Position(end_line, end))


def location(span: Span, page_of: PageOf) -> types.Location:
    """A place in a file, open or not."""
    uri, page = page_of(span.file)
    return types.Location(uri, range_of(page.range(span)))


def diagnostic(mark: Mark, page: Page, page_of: PageOf) -> types.Diagnostic:
    """One mark; its further places as related information."""
    related = [
        types.DiagnosticRelatedInformation(location(span, page_of), text)
        for span, text in mark.others
    ]
    return types.Diagnostic(
        range=range_of(page.range(mark.span)),
        message=mark.message,
        severity=types.DiagnosticSeverity(mark.severity),
        code=mark.code,
        code_description=types.CodeDescription(mark.href) if mark.href else None,
        source="coldcheck",
        related_information=related or None,
    )


def text_edit(edit: Edit | LinesEdit, page: Page) -> types.TextEdit:
    """One change, with the line ends of the text."""
    if isinstance(edit, LinesEdit):
        return _lines_edit(edit, page)
    start = page.character(edit.line, edit.column)
    end = page.character(edit.line, edit.end_column)
    number = edit.line - 1
    return types.TextEdit(range_of(((number, start), (number, end))), edit.text)


def _lines_edit(edit: LinesEdit, page: Page) -> types.TextEdit:
    """Whole lines; where the last line of the text is among them it has no line end of its own."""
    first, after = edit.line - 1, edit.line - 1 + edit.count
    if after < len(page.lines):
        text = "".join(f"{line}{page.newline}" for line in edit.lines)
        start = page.character(1, 1) if first == 0 else 0
        return types.TextEdit(range_of(((first, start), (after, 0))), text)
    text = page.newline.join(edit.lines)
    start_at = (first, page.character(first + 1, 1))
    if first >= len(page.lines) or (first > 0 and not edit.lines):
        start_at = (first - 1, page.character(first, len(page.line(first)) + 1))
        text = "".join(f"{page.newline}{line}" for line in edit.lines)
    return types.TextEdit(range_of((start_at, page.end())), text)


def workspace_edit(
    uri: str, version: int | None, edits: Iterable[types.TextEdit], *, versioned: bool
) -> types.WorkspaceEdit:
    """Changes to one text, tied to its version where the editor can do that."""
    made = list(edits)
    if not versioned:
        return types.WorkspaceEdit(changes={uri: made})
    document = types.OptionalVersionedTextDocumentIdentifier(uri=uri, version=version)
    change = types.TextDocumentEdit(text_document=document, edits=list(made))
    return types.WorkspaceEdit(document_changes=[change])


def action(
    fix: Fix, edit: types.WorkspaceEdit, marked: Iterable[types.Diagnostic]
) -> types.CodeAction:
    """A fix as a quick fix for the marks it answers."""
    same = [d for d in marked if d.code == fix.rule and d.range.start.line == fix.line - 1]
    return types.CodeAction(
        title=fix.title,
        kind=types.CodeActionKind.QuickFix,
        diagnostics=same or None,
        is_preferred=fix.preferred or None,
        edit=edit,
    )


def item(offer: Offer, page: Page, line: int, column: int) -> types.CompletionItem:
    """One offer, written in the place of what was typed of it."""
    number = line - 1
    start, end = page.character(line, offer.start), page.character(line, column)
    return types.CompletionItem(
        label=offer.text,
        kind=_ITEMS[offer.kind],
        detail=offer.detail or None,
        filter_text=offer.text,
        text_edit=types.TextEdit(range_of(((number, start), (number, end))), offer.text),
    )
