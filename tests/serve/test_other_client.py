"""The editor service and a client that has nothing of ours: sansio-lsp-client.

It knows the protocol by itself (its own types and framing), and gives and takes bytes alone.
"""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING, TypeVar

import pytest
import sansio_lsp_client as lsp

if TYPE_CHECKING:
    from collections.abc import Iterator

URI = "untitled:stage.tube"
TEXT = "B1 --+[E1 24 V]-- gnd\nB1 --[R1 10k 0.5 W]-- M --[R2 10k 0.5 W]-- gnd\n"
BAD = TEXT + "gnd --+[C1 10 uF 50 V]-- M\n"

E = TypeVar("E")


class Talk:
    """A client, and the process it speaks to."""

    def __init__(self) -> None:
        command = [sys.executable, "-m", "coldcheck", "serve"]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self.client = lsp.Client(process_id=os.getpid(), trace="off")
        self.heard: list[lsp.Event] = []

    def send(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(self.client.send())
        self.process.stdin.flush()

    def next(self, kind: type[E]) -> E:
        """The next event of a kind; what comes before it is kept."""
        assert self.process.stdout is not None
        while not any(isinstance(e, kind) for e in self.heard):
            data = os.read(self.process.stdout.fileno(), 65536)
            assert data, "the service went away"
            self.heard += self.client.recv(data)
            self.send()  # answers that the client gives by itself
        found = next(e for e in self.heard if isinstance(e, kind))
        self.heard.remove(found)
        return found

    def close(self) -> int:
        self.client.shutdown()
        self.send()
        self.next(lsp.Shutdown)
        self.client.exit()
        self.send()
        for stream in (self.process.stdin, self.process.stdout):
            assert stream is not None
            stream.close()
        return self.process.wait(60)


@pytest.fixture
def talk() -> Iterator[Talk]:
    made = Talk()
    made.send()
    assert made.next(lsp.Initialized).capabilities["hoverProvider"]
    made.send()
    yield made
    assert made.close() == 0


def marks(talk: Talk) -> list[lsp.Diagnostic]:
    """What is said of the text when it was reviewed: at once is only what the reader sees."""
    while True:
        said = talk.next(lsp.PublishDiagnostics)
        assert said.uri == URI
        if said.diagnostics:
            return said.diagnostics


def test_marks_hovers_and_layout(talk: Talk) -> None:
    item = lsp.TextDocumentItem(uri=URI, languageId="tube", version=1, text=BAD)
    talk.client.did_open(item)
    talk.send()
    (mark,) = marks(talk)
    assert (mark.code, mark.range.start.line) == ("capacitor.reversed", 2)
    place = lsp.TextDocumentIdentifier(uri=URI)
    at = lsp.TextDocumentPosition(textDocument=place, position=lsp.Position(line=1, character=7))
    talk.client.hover(at)
    talk.send()
    assert "R1" in str(talk.next(lsp.Hover).contents)
    talk.client.formatting(place, lsp.FormattingOptions(tabSize=4, insertSpaces=True))
    talk.send()
    assert talk.next(lsp.DocumentFormatting).result in (None, [])
