"""Whatever is sent to the service has an answer: a result, an error of the protocol, or the end."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import threading
from contextlib import suppress
from typing import IO, Any

import pytest

from coldcheck.serve.frames import MOST_MESSAGE, Frames

URI = "file:///nowhere/x.tube"
PLACE = {"textDocument": {"uri": URI}, "position": {"line": 0, "character": 0}}
BIG = "B1 --[R1 1k]-- gnd\n" * 220_000


def framed(body: bytes) -> bytes:
    return b"Content-Length: %d\r\n\r\n%b" % (len(body), body)


def sent(**message: Any) -> bytes:
    return framed(json.dumps({"jsonrpc": "2.0", **message}).encode())


def opened(uri: str, text: str) -> bytes:
    item = {"uri": uri, "languageId": "tube", "version": 1, "text": text}
    return sent(method="textDocument/didOpen", params={"textDocument": item})


START = sent(id="start", method="initialize", params={"processId": None, "capabilities": {}})
END = sent(id="end", method="shutdown") + sent(method="exit")


def answers(raw: bytes, until: int = 0) -> list[dict[str, Any]]:
    """What a started service says to these bytes; a service that waits for ever fails.

    The stream ends after ``until`` answers of whatever kind.
    """
    command = [sys.executable, "-m", "coldcheck", "serve"]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=pipe) as service:
        assert service.stdin is not None
        assert service.stdout is not None
        assert service.stderr is not None
        patience = threading.Timer(120, service.kill)
        patience.start()
        service.stdin.write(START)
        service.stdin.flush()
        assert answer(service.stdout)["id"] == "start"
        service.stdin.write(raw)
        service.stdin.flush()
        found = [answer(service.stdout) for _ in range(until)]
        with suppress(BrokenPipeError):
            service.stdin.close()
        while said := answer(service.stdout):
            found.append(said)
        assert service.stderr.read() == b""
        patience.cancel()
    assert service.returncode in (0, 1)
    return found


def answer(stream: IO[bytes]) -> dict[str, Any]:
    """The next message; empty at the end."""
    header = stream.readline()
    while header and stream.readline().strip():
        pass
    return json.loads(stream.read(int(header.split(b":")[1]))) if header else {}


@pytest.mark.parametrize(
    "raw",
    [
        b"Content-Length: abc\r\n\r\n{}",
        b"Content-Length: -5\r\n\r\n{}",
        b"Content-Length: 99999999999999\r\n\r\n{}",
        b"Content-Length: 99999999999999999999999999999999999999\r\n\r\n{}",
        b"Content-Length: %d\r\n\r\n{}" % (MOST_MESSAGE + 1),
        b"Content-Length: 5\r\nContent-Length: 6\r\n\r\n{}",
        b"Something: 3\r\n\r\n{}",
        b"x" * 5_000,
    ],
)
def test_a_header_that_cannot_be_followed_is_refused_and_is_the_end(raw: bytes) -> None:
    (said,) = answers(raw)
    assert said["id"] is None
    assert said["error"]["code"] == -32700


@pytest.mark.parametrize(
    ("body", "code"),
    [
        (b"", -32700),
        (b"{nope", -32700),
        (b"\xff\xfe", -32700),
        (b"[" * 100_000, -32700),
        (b"[]", -32600),
        (b"7", -32600),
        (b'{"jsonrpc": "1.0", "id": 2, "method": "shutdown"}', -32600),
    ],
)
def test_what_is_no_message_is_refused_and_the_next_is_answered(body: bytes, code: int) -> None:
    said = answers(framed(body) + END)
    assert sorted(s["id"] or "none" for s in said) == ["end", "none"]
    assert [s["error"]["code"] for s in said if "error" in s] == [code]


@pytest.mark.parametrize(
    ("params", "code"),
    [
        ({}, -32602),
        ({"textDocument": {"uri": URI}}, -32602),
        ({"textDocument": {}, "position": {"line": 0, "character": 0}}, -32602),
        ({**PLACE, "position": {"line": "x", "character": 0}}, -32602),
        ({**PLACE, "textDocument": {"uri": ""}}, -32803),
        (PLACE, -32803),
    ],
)
def test_a_question_without_its_parameters_has_an_error(params: object, code: int) -> None:
    said = answers(sent(id=7, method="textDocument/hover", params=params) + END)
    (answer,) = [s for s in said if s.get("id") == 7]
    assert answer["error"]["code"] == code


def test_a_question_without_any_parameters_has_an_error() -> None:
    said = answers(sent(id=7, method="textDocument/hover") + END)
    assert [s["error"]["code"] for s in said if s.get("id") == 7] == [-32602]


def test_a_question_after_the_end_has_an_error() -> None:
    said = answers(sent(id=6, method="shutdown") + sent(id=7, method="textDocument/hover") + END)
    assert {s["error"]["code"] for s in said if s.get("id") in (7, "end")} <= {-32602, -32600}
    assert {s.get("id") for s in said} >= {6, 7, "end"}


def test_questions_about_a_drawing_that_is_too_large_are_refused() -> None:
    asked = opened(URI, BIG) + sent(id=7, method="textDocument/hover", params=PLACE)
    options = {"textDocument": {"uri": URI}, "options": {"tabSize": 4, "insertSpaces": True}}
    said = answers(asked + sent(id=8, method="textDocument/formatting", params=options), until=3)
    errors = {s["id"]: s["error"]["message"] for s in said if "error" in s}
    assert errors.keys() >= {7, 8}
    assert all("too large" in message for message in errors.values())


def test_whole_messages_pass_and_what_is_cut_off_is_told() -> None:
    told: list[tuple[int, str]] = []
    body = b'{"jsonrpc": "2.0"}'
    raw = b"content-length:  18 \r\nContent-Type: x\r\n\r\n" + body + framed(body)[:-1]
    frames = Frames(io.BytesIO(raw), lambda code, reason: told.append((code, reason)))
    assert frames.readline() == b"Content-Length: 18\r\n"
    assert frames.readline() == b"\r\n"
    assert frames.read(18) == body
    assert frames.readline() == b""
    assert told == [(-32700, "the stream ended in the middle of a message")]
