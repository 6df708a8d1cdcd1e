"""A real client of the protocol: pygls' own, in a thread of its own, with the server as a process.

Tests call it without knowing of the event loop. What the server publishes is kept by URI, and can
be waited for.
"""

from __future__ import annotations

import asyncio
import sys
import threading
from concurrent.futures import TimeoutError as TooLate
from typing import Any

from lsprotocol import types
from pygls.lsp.client import LanguageClient

PATIENCE = 120.0
"""Seconds after which a silent server fails the test: a bound against hanging, no measure."""


class Editor:
    """An editor with one server; ``told`` is what was published, in order."""

    def __init__(self, encodings: list[str] | None = None) -> None:
        self.told: list[types.PublishDiagnosticsParams] = []
        self.logged: list[str] = []
        self._changed = threading.Condition()
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        self._versions: dict[str, int] = {}
        self.client = LanguageClient("test", "1")
        feature = self.client.feature  # it marks what it is given, which a method does not bear
        feature(types.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)(lambda params: self._published(params))
        feature(types.WINDOW_LOG_MESSAGE)(lambda params: self._logged(params))
        self._run(self.client.start_io(sys.executable, "-m", "coldcheck", "serve"))
        self.capabilities = self._initialize(encodings)

    def _initialize(self, encodings: list[str] | None) -> types.ServerCapabilities:
        general = types.GeneralClientCapabilities(position_encodings=encodings)  # type: ignore[arg-type]
        capabilities = types.ClientCapabilities(general=general if encodings else None)
        params = types.InitializeParams(capabilities=capabilities)
        result = self._run(self.client.initialize_async(params))
        self._do(lambda: self.client.initialized(types.InitializedParams()))
        return result.capabilities

    # -- what an editor says ------------------------------------------------------------------

    def open(self, uri: str, text: str) -> list[types.Diagnostic]:
        """Open a text and wait for what is said of it."""
        self._versions[uri] = 1
        item = types.TextDocumentItem(uri, "tube", 1, text)
        self._do(lambda: self.client.text_document_did_open(types.DidOpenTextDocumentParams(item)))
        return self.diagnostics(uri)

    def change(self, uri: str, text: str) -> None:
        """Another text; nothing is waited for."""
        self._versions[uri] += 1
        document = types.VersionedTextDocumentIdentifier(self._versions[uri], uri)
        changes = [types.TextDocumentContentChangeWholeDocument(text)]
        params = types.DidChangeTextDocumentParams(document, changes)
        self._do(lambda: self.client.text_document_did_change(params))

    def close(self, uri: str) -> None:
        """Close a text."""
        params = types.DidCloseTextDocumentParams(types.TextDocumentIdentifier(uri))
        self._do(lambda: self.client.text_document_did_close(params))

    def ask(self, what: str, uri: str, line: int = 0, character: int = 0, **more: Any) -> Any:
        """A request about a place (both from 0): ``ask("hover", ...)``."""
        document = types.TextDocumentIdentifier(uri)
        place = {"position": types.Position(line, character)} if what in _AT_A_PLACE else {}
        method = getattr(self.client, f"text_document_{what}_async")
        return self._run(method(_PARAMS[what](text_document=document, **place, **more)))

    def diagnostics(self, uri: str, version: int | None = None, sure: Any = None) -> Any:
        """Wait for marks of a text in its newest version (that are as ``sure`` says)."""
        wanted = self._versions.get(uri) if version is None else version
        with self._changed:
            found = self._changed.wait_for(lambda: self._last(uri, wanted, sure), PATIENCE)
        assert found, f"nothing was published for {uri}"
        return found[-1].diagnostics

    def wait_for_log(self) -> str:
        """Wait for a line of the log."""
        with self._changed:
            assert self._changed.wait_for(lambda: self.logged, PATIENCE)
        return self.logged[-1]

    def end(self) -> int:
        """Shut down and exit; the server's status."""
        self._run(self.client.shutdown_async(None))
        process = self.client._server
        assert process is not None
        self._do(lambda: self.client.exit(None))
        status = self._run(process.wait())
        self._run(self.client.stop())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(PATIENCE)
        self._loop.close()
        return int(status)

    # -- inside ----------------------------------------------------------------------------------

    def _last(self, uri: str, version: int | None, sure: Any) -> list[Any]:
        here = [p for p in self.told if p.uri == uri and version in (None, p.version)]
        return [p for p in here[-1:] if sure is None or sure(p.diagnostics)]

    def _published(self, params: types.PublishDiagnosticsParams) -> None:
        with self._changed:
            self.told.append(params)
            self._changed.notify_all()

    def _logged(self, params: types.LogMessageParams) -> None:
        with self._changed:
            self.logged.append(params.message)
            self._changed.notify_all()

    def _run(self, awaited: Any) -> Any:
        future = asyncio.run_coroutine_threadsafe(_awaited(awaited), self._loop)
        try:
            return future.result(PATIENCE)
        except TooLate:
            raise AssertionError("the server does not answer") from None

    def _do(self, call: Any) -> None:
        async def called() -> None:
            call()

        self._run(called())


async def _awaited(awaited: Any) -> Any:
    return await awaited


_AT_A_PLACE = ("hover", "definition", "references", "completion", "rename", "prepare_rename")
_PARAMS: dict[str, Any] = {
    "hover": types.HoverParams,
    "definition": types.DefinitionParams,
    "references": types.ReferenceParams,
    "completion": types.CompletionParams,
    "rename": types.RenameParams,
    "prepare_rename": types.PrepareRenameParams,
    "formatting": types.DocumentFormattingParams,
    "code_action": types.CodeActionParams,
}


def applied(text: str, edits: Any) -> str:
    """The text with the edits made as an editor makes them: UTF-16 units, from the end on."""
    ends = {"\r\n", "\n", "\r"}
    starts, at = [0], 0
    while at < len(text):
        step = 2 if text[at : at + 2] in ends else 1
        if text[at : at + step] in ends:
            starts.append(at + step)
        at += step

    def offset(place: types.Position) -> int:
        rest = text[starts[place.line] :].encode("utf-16-le")[: 2 * place.character]
        return starts[place.line] + len(rest.decode("utf-16-le"))

    for edit in sorted(edits, key=lambda e: offset(e.range.start), reverse=True):
        start, end = offset(edit.range.start), offset(edit.range.end)
        text = text[:start] + edit.new_text + text[end:]
    return text
