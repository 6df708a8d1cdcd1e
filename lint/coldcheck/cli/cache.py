"""Documents of earlier reviews, kept by what they were made from.

A document is found under the hash of everything it depends on: the program's own files, the
drawing's text and name, the settings and the day. How it is to be shown and what gate is applied
to it are none of that. Documents are JSON; one that is damaged, of another form, or not ours is as
good as none. The folder is the user's own.
"""

from __future__ import annotations

import json
import os
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.drawing.lines import MAX_BYTES
from coldcheck.files import reading, writing
from coldcheck.files.finding import below
from coldcheck.files.places import where
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.verdict.document.content import Document

_LARGEST = 20_000_000
_LARGEST_SHELF, _SHELVES = 100_000_000, 16
"""Bytes of what is worked out of one drawing, and how many such are kept."""

_HEAD = 32
"""Bytes of a digest."""

_KEPT = 4000
"""So many documents are kept; the oldest go first."""


def users_folder(name: str) -> Path | None:
    """A folder of the user's own cache, made where there is none; ``None`` if it cannot be ours."""
    from platformdirs import user_cache_path

    folder = user_cache_path("coldcheck", appauthor=False) / name
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        return folder if _ours(folder) else None
    except OSError:
        return None


@dataclass(frozen=True, slots=True)
class Cache:
    """A folder of documents; ``None`` keeps nothing."""

    folder: Path | None

    @classmethod
    def of_user(cls) -> Cache:
        """The cache in the user's own cache folder; without one, nothing is kept."""
        return cls(users_folder("documents"))

    def lies_in(self, root: Path) -> bool:
        """Whether its folder is below another, by whatever name."""
        return self.folder is not None and where(self.folder).is_relative_to(root)

    def get(self, key: str) -> Document | None:
        """The document under a key, or ``None``; never raises for what the file holds."""
        from coldcheck.verdict.document.kept import from_json

        if self.folder is None:
            return None
        path = self._path(key)
        try:
            if not _ours(path):
                return None
            head, _, body = reading.ordinary(path, _LARGEST).decode("utf-8").partition("\n")
            if head != _digest(key, body):
                return None
            kept = json.loads(body)
            return from_json(kept["document"]) if _unchanged(kept["sources"]) else None
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
            return None

    def put(self, key: str, document: Document) -> None:
        """Keep a document; a cache that cannot be written is no reason to stop."""
        from coldcheck.verdict.document.kept import to_json

        if self.folder is None:
            return
        sources = {file: digest_of(Path(file)) for file in document.files}
        whole = {"sources": sources, "document": to_json(document)}
        body = json.dumps(whole, ensure_ascii=False, separators=(",", ":"))
        path = self._path(key)
        with suppress(OSError, ValueError):
            path.parent.mkdir(exist_ok=True, mode=0o700)
            writing.replace(path, f"{_digest(key, body)}\n{body}")

    def tidy(self) -> None:
        """Let the oldest documents go when there are too many."""
        if self.folder is None:
            return
        with suppress(OSError):
            files = [(p.stat().st_mtime, p) for p in self.folder.glob("*/*.json")]
            for _, path in sorted(files)[: max(len(files) - _KEPT, 0)]:
                path.unlink(missing_ok=True)

    def _path(self, key: str) -> Path:
        assert self.folder is not None
        return self.folder / key[:2] / f"{key[2:]}.json"


@dataclass(frozen=True, slots=True)
class Shelf:
    """What was worked out of a drawing, as bytes under one key; ``None`` keeps nothing."""

    folder: Path | None
    key: str

    @classmethod
    def of_user(cls, key: str) -> Shelf:
        """In the user's own cache folder; without one, nothing is kept."""
        return cls(users_folder("libraries"), key)

    def get(self) -> bytes | None:
        """What was kept, or ``None``; never raises for what the file holds."""
        if self.folder is None:
            return None
        with suppress(OSError, ValueError):
            path = self.folder / self.key
            content = reading.ordinary(path, _LARGEST_SHELF) if _ours(path) else b""
            head, body = content[:_HEAD], content[_HEAD:]
            return body if head == _bytes_digest(self.key, body) else None
        return None

    def put(self, content: bytes) -> None:
        """Keep it, and let the oldest go; not being able to is no reason to stop."""
        if self.folder is None or len(content) + _HEAD > _LARGEST_SHELF:
            return
        with suppress(OSError, ValueError):
            writing.replace(self.folder / self.key, _bytes_digest(self.key, content) + content)
            files = [(p.stat().st_mtime, p) for p in self.folder.iterdir()]
            for _, path in sorted(files)[: max(len(files) - _SHELVES, 0)]:
                path.unlink(missing_ok=True)


def _bytes_digest(key: str, body: bytes) -> bytes:
    return sha256(key.encode() + body).digest()


def _unchanged(sources: dict[str, str]) -> bool:
    """Whether every file the drawing was made from still is what it was, or is not there still."""
    return all(digest_of(Path(file)) == digest for file, digest in sources.items())


def digest_of(path: Path) -> str:
    """The hash of a drawing's bytes; empty where it is not read."""
    try:
        return sha256(reading.drawing(path, MAX_BYTES)).hexdigest()
    except OSError:
        return ""


def _ours(path: Path) -> bool:
    """Whether the user owns it, where the system can tell."""
    return not hasattr(os, "getuid") or path.stat().st_uid == os.getuid()


def _digest(key: str, body: str) -> str:
    """Ties a document to its key, so that a file moved to another name is not taken for it."""
    return sha256(f"{key}\n{body}".encode()).hexdigest()


def key_of(parts: dict[str, str]) -> str:
    """The hash of everything a document depends on."""
    return sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


def program() -> str:
    """A hash of what is in the files of the program: the same on every machine that has the same.

    Packages that bring rules or tube data belong to the program.
    """
    from coldcheck.circuit.entries import stamp

    root = Path(__file__).resolve().parents[1]
    marks = [stamp()]
    for path in below(root, ""):
        if path.suffix in (".py", ".toml", ".json", ".lark"):
            mark = sha256(path.read_bytes()).hexdigest()
            marks.append(f"{path.relative_to(root).as_posix()} {mark}")
    return sha256("\n".join(marks).encode()).hexdigest()
