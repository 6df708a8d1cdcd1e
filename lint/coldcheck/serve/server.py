"""The service on the Language Server Protocol, over standard input and output."""

from __future__ import annotations

import asyncio
import logging
import os
import sys
from contextlib import suppress
from dataclasses import field
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, TypeVar, cast

from lsprotocol import types
from pygls.exceptions import JsonRpcException
from pygls.lsp.server import LanguageServer
from pygls.uris import to_fs_path

from coldcheck import __version__
from coldcheck.drawing.lines import MAX_BYTES
from coldcheck.records import dataclass
from coldcheck.report.shared.plain import clean
from coldcheck.serve import wire
from coldcheck.serve.completion import MOST, completion
from coldcheck.serve.definition import definition, occurrences, span_of
from coldcheck.serve.edits import tidying
from coldcheck.serve.fixes import fixes, fixes_of_reading
from coldcheck.serve.frames import Frames
from coldcheck.serve.hover import hover
from coldcheck.serve.protocol import Answering, refusal
from coldcheck.serve.rename import Refused, renamable, rename
from coldcheck.serve.service import Service
from coldcheck.serve.words import part_around, word_at, words_of

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

    from coldcheck.serve.marks import Mark
    from coldcheck.serve.page import Page
    from coldcheck.serve.reading import Read
    from coldcheck.serve.words import Word
    from coldcheck.verdict.review import Review

    T = TypeVar("T")

ENDED, NOT_ENDED = 0, 1
"""Exit statuses of the protocol: ended as agreed, or left alone."""

_WATCHED = ("**/*.tube", "**/*.toml")


@dataclass(slots=True)
class Editor:
    """One editor: what it can do, and the service it talks to."""

    server: LanguageServer
    review: Callable[[Read], Review]
    loop: asyncio.AbstractEventLoop | None = None
    ended: bool = False
    service: Service = field(init=False)

    def __post_init__(self) -> None:
        self.service = Service(self._publish, self.log, review=self.review)

    def changed(self, uri: str) -> None:
        """Hand the text as it is now to the service."""
        document = self.server.workspace.get_text_document(uri)
        path = to_fs_path(uri) if uri.startswith("file:") else None
        name = path or uri
        self.service.changed(uri, name, path is not None, document.source, document.version)

    def read(self, uri: str) -> Read:
        """The text as it is now, read. Raises Refused where it is not open."""
        found = self.service.read_now(uri)
        if found is None:
            raise Refused("the drawing is not open")
        if len(found.text.text) > MAX_BYTES:
            raise Refused(f"the drawing is too large: at most {MAX_BYTES // 1_000_000} MB")
        return found

    def word(self, read: Read, position: types.Position) -> Word | None:
        """The name under the cursor; anywhere in a bracket, that of the part."""
        column = read.page.column(position.line, position.character)
        known = words_of(read.page.lines)
        line = position.line + 1
        return word_at(known, line, column) or part_around(
            known, read.page.line(line), line, column
        )

    @property
    def versioned(self) -> bool:
        """Whether the editor takes changes that are tied to a version."""
        workspace = self.server.client_capabilities.workspace
        able = workspace.workspace_edit if workspace is not None else None
        return bool(able is not None and able.document_changes)

    def _publish(self, uri: str, page: Page, version: int | None, marks: tuple[Mark, ...]) -> None:
        """From whichever thread: the words are sent by the one that speaks the protocol."""
        found = [wire.diagnostic(m, page, self.service.page_of) for m in marks]
        params = types.PublishDiagnosticsParams(uri=uri, diagnostics=found, version=version)
        self._soon(lambda: self.server.text_document_publish_diagnostics(params))

    def log(self, text: str) -> None:
        """A line for whoever reads the editor's log."""
        params = types.LogMessageParams(type=types.MessageType.Error, message=text)
        self._soon(lambda: self.server.window_log_message(params))

    def _soon(self, call: Callable[[], None]) -> None:
        if self.loop is not None:
            with suppress(RuntimeError):  # the editor has gone meanwhile
                self.loop.call_soon_threadsafe(call)


def _answering(editor: Editor, answer: Callable[[Any], T]) -> Callable[[Any], Awaitable[T | None]]:
    """A question answered beside the protocol; what escapes is logged, a refusal is told."""

    @wraps(answer)
    async def answered(params: Any) -> T | None:
        try:
            return await asyncio.to_thread(answer, params)
        except Refused as refused:
            raise JsonRpcException(str(refused), types.LSPErrorCodes.RequestFailed.value) from None
        except Exception as error:
            editor.log(clean(f"coldcheck: no answer: {type(error).__name__}: {error}"))
            return None

    return answered


def editor_server(review: Callable[[Read], Review]) -> Editor:
    """A server with everything registered. Texts come whole, so that lines are counted by us."""
    server = LanguageServer(
        "coldcheck",
        __version__,
        text_document_sync_kind=types.TextDocumentSyncKind.Full,
        protocol_cls=Answering,
    )
    editor = Editor(server, review)
    _register_life(editor)
    _register_texts(editor)
    _register_reading(editor)
    _register_writing(editor)
    return editor


def _register_life(editor: Editor) -> None:
    server = editor.server

    @server.feature(types.INITIALIZE)
    async def initialize(_: types.InitializeParams) -> None:
        editor.loop = asyncio.get_running_loop()
        encoding = server.workspace.position_encoding
        editor.service.encoding = str(getattr(encoding, "value", encoding or "utf-16"))

    @server.feature(types.INITIALIZED)
    async def initialized(_: types.InitializedParams) -> None:
        workspace = server.client_capabilities.workspace
        able = workspace.did_change_watched_files if workspace is not None else None
        if able is not None and able.dynamic_registration:
            watchers = [types.FileSystemWatcher(glob_pattern=glob) for glob in _WATCHED]
            options = types.DidChangeWatchedFilesRegistrationOptions(watchers=watchers)
            method = types.WORKSPACE_DID_CHANGE_WATCHED_FILES
            asked = types.Registration(id="files", method=method, register_options=options)
            server.client_register_capability(types.RegistrationParams([asked]))

    @server.feature(types.SHUTDOWN)
    async def shutdown(_: None) -> None:
        editor.ended = True
        editor.service.end()


def _register_texts(editor: Editor) -> None:
    server, service = editor.server, editor.service

    @server.feature(types.TEXT_DOCUMENT_DID_OPEN)
    def did_open(params: types.DidOpenTextDocumentParams) -> None:
        editor.changed(params.text_document.uri)

    @server.feature(types.TEXT_DOCUMENT_DID_CHANGE)
    def did_change(params: types.DidChangeTextDocumentParams) -> None:
        editor.changed(params.text_document.uri)

    @server.feature(types.TEXT_DOCUMENT_DID_CLOSE)
    def did_close(params: types.DidCloseTextDocumentParams) -> None:
        service.closed(params.text_document.uri)

    @server.feature(types.WORKSPACE_DID_CHANGE_WATCHED_FILES)
    def did_change_files(params: types.DidChangeWatchedFilesParams) -> None:
        paths = (to_fs_path(change.uri) for change in params.changes)
        service.files_changed(Path(path) for path in paths if path is not None)


def _register_reading(editor: Editor) -> None:
    server, service = editor.server, editor.service

    def hovered(params: types.HoverParams) -> types.Hover | None:
        read = editor.read(params.text_document.uri)
        word = editor.word(read, params.position)
        text = hover(service.view(params.text_document.uri), word) if word is not None else ""
        if word is None or not text:
            return None
        shown = types.MarkupContent(kind=types.MarkupKind.Markdown, value=text)
        return types.Hover(shown, wire.range_of(read.page.range(span_of(read, word))))

    def defined(params: types.DefinitionParams) -> types.Location | None:
        read = editor.read(params.text_document.uri)
        word = editor.word(read, params.position)
        span = definition(read, word) if word is not None else None
        return None if span is None else wire.location(span, service.page_of)

    def referred(params: types.ReferenceParams) -> list[types.Location] | None:
        read = editor.read(params.text_document.uri)
        word = editor.word(read, params.position)
        spans = occurrences(read, word) if word is not None else ()
        return [wire.location(span, service.page_of) for span in spans]

    def completed(params: types.CompletionParams) -> types.CompletionList | None:
        read = editor.read(params.text_document.uri)
        line = params.position.line + 1
        column = read.page.column(params.position.line, params.position.character)
        held = service.held(params.text_document.uri)
        review = held.known.review if held is not None and held.known is not None else None
        found = completion(read, review, read.page.lines, line, column)
        items = [wire.item(offer, read.page, line, column) for offer in found]
        return types.CompletionList(is_incomplete=len(items) >= MOST, items=items)

    server.feature(types.TEXT_DOCUMENT_HOVER)(_answering(editor, hovered))
    server.feature(types.TEXT_DOCUMENT_DEFINITION)(_answering(editor, defined))
    server.feature(types.TEXT_DOCUMENT_REFERENCES)(_answering(editor, referred))
    options = types.CompletionOptions(trigger_characters=[".", ":", "["])
    server.feature(types.TEXT_DOCUMENT_COMPLETION, options)(_answering(editor, completed))


def _register_writing(editor: Editor) -> None:
    server, service = editor.server, editor.service

    def prepared(params: types.PrepareRenameParams) -> types.PrepareRenamePlaceholder:
        read = editor.read(params.text_document.uri)
        word = editor.word(read, params.position)
        if word is None:
            raise Refused("there is no point here to rename")
        renamable(read, word)
        place = wire.range_of(read.page.range(span_of(read, word)))
        return types.PrepareRenamePlaceholder(range=place, placeholder=word.text)

    def renamed(params: types.RenameParams) -> types.WorkspaceEdit:
        read = editor.read(params.text_document.uri)
        word = editor.word(read, params.position)
        if word is None:
            raise Refused("there is no point here to rename")
        edits = rename(read, word, params.new_name.strip(), service.open_pages())
        made = [wire.text_edit(edit, read.page) for edit in edits]
        return wire.workspace_edit(
            read.text.uri, read.text.version, made, versioned=editor.versioned
        )

    def tidied(params: types.DocumentFormattingParams) -> list[types.TextEdit]:
        read = editor.read(params.text_document.uri)
        return [wire.text_edit(edit, read.page) for edit in tidying(read.page)]

    def fixed(params: types.CodeActionParams) -> list[types.CodeAction]:
        only = params.context.only
        if only is not None and not any(types.CodeActionKind.QuickFix.startswith(k) for k in only):
            return []
        read = editor.read(params.text_document.uri)
        first, last = params.range.start.line + 1, params.range.end.line + 1
        held = service.held(params.text_document.uri)
        found = list(fixes_of_reading(read, first, last))
        if held is not None and held.known is not None and held.fresh:
            found += fixes(held.known, first, last)
        uri, version, page = read.text.uri, read.text.version, read.page
        return [
            wire.action(
                fix,
                wire.workspace_edit(
                    uri,
                    version,
                    (wire.text_edit(edit, page) for edit in fix.edits),
                    versioned=editor.versioned,
                ),
                params.context.diagnostics,
            )
            for fix in found
        ]

    server.feature(types.TEXT_DOCUMENT_PREPARE_RENAME)(_answering(editor, prepared))
    server.feature(types.TEXT_DOCUMENT_RENAME)(_answering(editor, renamed))
    server.feature(types.TEXT_DOCUMENT_FORMATTING)(_answering(editor, tidied))
    kinds = types.CodeActionOptions(code_action_kinds=[types.CodeActionKind.QuickFix])
    server.feature(types.TEXT_DOCUMENT_CODE_ACTION, kinds)(_answering(editor, fixed))


def serve(review: Callable[[Read], Review]) -> int:
    """Speak the protocol until the editor ends it; 0 where it asked for the end first.

    Whatever prints (a rule of another package, a library) would break the protocol: it goes to
    standard error from here on.
    """
    logging.getLogger("pygls").setLevel(logging.CRITICAL)
    speech = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    editor = editor_server(review)

    def refuse(code: int, reason: str) -> None:
        speech.write(refusal(code, reason))
        speech.flush()

    editor.server.start_io(cast("BinaryIO", Frames(sys.stdin.buffer, refuse)), speech)
    editor.service.end()
    return ENDED if editor.ended else NOT_ENDED
