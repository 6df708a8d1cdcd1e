"""The messages of the protocol, one by one from a stream that may hold anything.

The library below would wait for as many bytes as a header promises, and pass over a header it
cannot read. Here each message has an answer: what is no message is refused in the protocol's own
way, and where nobody can know any more where the next one begins, that is the end of the stream.
"""

from __future__ import annotations

import json
from dataclasses import field
from typing import IO, TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable

MOST_MESSAGE = 16_000_000
"""Bytes of one message: eight drawings of the largest size there may be."""

MOST_HEADER, MOST_HEADERS = 1_000, 20
PARSE_ERROR, INVALID_REQUEST = -32700, -32600


class _Broken(Exception):  # noqa: N818 - never leaves this module
    """What comes next in the stream cannot be told; the message says why."""


@dataclass(slots=True)
class Frames:
    """Reads like a file, and hands on whole messages only.

    refuse
        Told what is wrong with a message, and the protocol's number for that.
    """

    stream: IO[bytes]
    refuse: Callable[[int, str], None]
    _lines: list[bytes] = field(default_factory=list)
    _body: bytes = b""

    def readline(self) -> bytes:
        """The next line of a header; empty at the end of the stream."""
        if not self._lines:
            self._body = self._message()
            if not self._body:
                return b""
            self._lines = [b"\r\n", b"Content-Length: %d\r\n" % len(self._body)]
        return self._lines.pop()

    def read(self, _: int) -> bytes:
        """The message whose header was read."""
        return self._body

    def _message(self) -> bytes:
        """The next message that is an object; empty at the end, and after what is no message."""
        try:
            while (length := self._length()) is not None:
                body = self.stream.read(length)
                if len(body) == length and self._sound(body):
                    return body
                if len(body) < length:
                    raise _Broken("the stream ended in the middle of a message")
        except _Broken as broken:
            self.refuse(PARSE_ERROR, str(broken))
        return b""

    def _length(self) -> int | None:
        """The length a header gives; ``None`` where there is none any more."""
        found: list[int] = []
        for number in range(MOST_HEADERS):
            line = self.stream.readline(MOST_HEADER)
            if not line and not number:
                return None
            if not line.endswith(b"\n"):
                raise _Broken("a header without an end")
            if not line.strip():
                return _one(found)
            name, _, value = line.partition(b":")
            if name.strip().lower() == b"content-length":
                found.append(_bytes(value.strip()))
        raise _Broken("a header of too many lines")

    def _sound(self, body: bytes) -> bool:
        """Whether a message is an object of JSON; what it is instead is told."""
        try:
            message = json.loads(body)
        except (ValueError, RecursionError):
            self.refuse(PARSE_ERROR, "a message that is not JSON")
            return False
        if not isinstance(message, dict) or message.get("jsonrpc") != "2.0":
            self.refuse(INVALID_REQUEST, "a message that is no object of JSON-RPC 2.0")
            return False
        return True


def _one(lengths: list[int]) -> int:
    if len(lengths) != 1:
        raise _Broken(f"a header with {len(lengths)} lengths")
    return lengths[0]


def _bytes(value: bytes) -> int:
    if not value.isdigit() or len(value) > len(str(MOST_MESSAGE)):
        raise _Broken("a length that is no number, or a very large one")
    if int(value) > MOST_MESSAGE:
        raise _Broken(f"a message of more than {MOST_MESSAGE // 1_000_000} MB")
    return int(value)
