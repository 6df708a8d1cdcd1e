"""A revision that is trusted: its settings, ledger, waivers and tube data hold, not the change's.

What a review needs of the revision is laid out in a folder of its own, so that everything that
reads drawings and settings reads them there as it does anywhere.
"""

from __future__ import annotations

import os
import posixpath
import re
from contextlib import contextmanager
from dataclasses import field, replace
from hashlib import sha256
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.revisions import commit_of, contents_of, files_at, root_for
from coldcheck.drawing.model import Accept
from coldcheck.files import reading
from coldcheck.files.finding import below
from coldcheck.files.places import REPOSITORY, where
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from coldcheck.cli.revisions import Blob
    from coldcheck.verdict.waivers import Trusted

_LARGEST = 20_000_000
_LINK = "120000"
_ALIKE = 0.5
"""So much of a drawing in one of another name makes it the same drawing, moved."""

_WAIVING = re.compile(rb"(?:^|[\r\n])\s*((?:accept|sheet)\b[^\r\n]*)")
"""The lines that say what is waived where, as far as a text can be read."""


@dataclass(frozen=True, slots=True)
class Base:
    """A trusted revision of the repository at ``root``, laid out in ``folder``.

    ``waiving`` changes whenever a waiver or the use of a sheet does; ``gone`` are the drawings of
    the revision that are not there any more, in ``folder``, by the hash of their text.
    """

    revision: str
    root: Path
    folder: Path
    waiving: str = ""
    gone: Mapping[str, Path] = field(default_factory=dict)

    def name(self, file: Path) -> str:
        """A file as the repository names it; raises AskedWrongly for one of another."""
        try:
            return where(file).relative_to(self.root).as_posix()
        except ValueError:
            raise AskedWrongly(f"{file} is not in the repository of {self.revision}") from None

    def written(self, file: Path) -> str | None:
        """A file as the repository names it, by no link of the change; ``None`` where it is not in.

        A link that the change sets would choose which file of the revision is read.
        """
        plain = Path(os.path.abspath(file))  # noqa: PTH100 - not to follow links is the point
        if not plain.is_relative_to(self.root):  # named by a link that leads into the repository
            plain = where(plain.parent) / plain.name
        return plain.relative_to(self.root).as_posix() if plain.is_relative_to(self.root) else None

    def at(self, file: Path) -> Path:
        """Where a file of the repository is in the revision, if it is there."""
        return self.folder / self.name(file)

    def now(self, file: Path) -> Path:
        """Where a file of the revision is in the repository, if it is there."""
        return self.root / file.relative_to(self.folder)

    def source(self, file: Path) -> Path | None:
        """The drawing of the revision that one comes from: of its name, else moved unchanged."""
        same = self.at(file)
        if same.is_file():
            return same
        try:
            return self.gone.get(_hashed(reading.drawing(file, _LARGEST))) if self.gone else None
        except OSError:
            return None

    def like(self, file: Path) -> Path | None:
        """The drawing of the revision that is gone and has most lines in common, half at least."""
        try:
            lines = _lines(reading.drawing(file, _LARGEST)) if self.gone else set()
        except OSError:
            return None
        alike = {p: len(lines & own) / len(own) for p in self.gone.values()
                 if (own := _lines(p.read_bytes()))}  # fmt: skip
        best = max(alike, key=alike.__getitem__, default=None)
        return best if best is not None and alike[best] >= _ALIKE else None

    def drawings(self) -> list[Path]:
        """Every drawing of the revision."""
        return [p for p in below(self.folder, reading.SUFFIX) if p.is_file()]

    def waivers(self, file: Path) -> Trusted:
        """The waivers that a drawing has in the revision."""
        from coldcheck.drawing import read_drawing
        from coldcheck.verdict.waivers import Trusted, waiver_of

        source = self.source(file)
        statements = () if source is None else read_drawing(source).statements
        held = frozenset(waiver_of(s) for s in statements if isinstance(s, Accept))
        return Trusted(self.revision, held)


def _lines(data: bytes) -> set[bytes]:
    return {line.strip() for line in data.splitlines()} - {b""}


def _hashed(data: bytes) -> str:
    return sha256(ended(data)).hexdigest()


def ended(data: bytes) -> bytes:
    """A text whose lines end as git keeps them; a checkout may have them otherwise."""
    return data.replace(b"\r\n", b"\n")


@contextmanager
def trusted(
    revision: str | None, files: Sequence[str], ledger: str | None
) -> Iterator[Base | None]:
    """A revision laid out for as long as it is needed; nothing where none is trusted."""
    if revision is None:
        yield None
        return
    root = root_for(_folder(next((p for p in map(Path, files) if p.exists()), Path())))
    with TemporaryDirectory(prefix="coldcheck-") as name:
        folder = Path(name).resolve()
        (folder / REPOSITORY).touch()  # the search for settings ends here, and no link leads out
        base = Base(revision, root, folder)
        kept = "" if ledger is None else base.written(Path(ledger)) or ""
        _lay_out(root, commit_of(root, revision), folder, kept)
        drawings = base.drawings()
        gone = {_hashed(p.read_bytes()): p for p in drawings if not base.now(p).exists()}
        yield replace(base, waiving=_waiving(folder, drawings), gone=gone)


def _folder(path: Path) -> Path:
    real = where(path)
    return real if real.is_dir() else real.parent


def _lay_out(root: Path, commit: str, folder: Path, ledger: str) -> None:
    """Write the drawings, settings, tube data, links and the ledger of a commit below a folder."""
    wanted: list[Blob] = []
    entries = [entry for entry in files_at(root, commit) if _plain(entry.name)]
    kept = {ledger, *_behind(root, [e for e in entries if e.name == ledger and e.mode == _LINK])}
    for entry in entries:
        if entry.mode == "040000":
            (folder / entry.name).mkdir(parents=True, exist_ok=True)
        elif entry.number and entry.size <= _LARGEST and _matters(entry, kept):
            wanted.append(entry)
    wanted.sort(key=lambda entry: entry.mode == _LINK)  # nothing is written through a link
    for entry, data in zip(wanted, contents_of(root, wanted), strict=True):
        path = folder / entry.name
        if entry.mode == _LINK:
            path.symlink_to(data.decode("utf-8", errors="surrogateescape"))
        else:
            path.write_bytes(data)


def _matters(entry: Blob, ledgers: set[str]) -> bool:
    """Whether drawings, settings or data may be read in it, or by it: a link may be to a folder."""
    named = entry.name.endswith((reading.SUFFIX, ".toml")) or entry.name in ledgers
    return named or entry.mode == _LINK


def _behind(root: Path, links: Sequence[Blob]) -> Iterator[str]:
    """The files that links of a commit lead to, as the repository names them."""
    for link, data in zip(links, contents_of(root, links), strict=True):
        target = data.decode("utf-8", errors="surrogateescape")
        yield posixpath.normpath(posixpath.join(posixpath.dirname(link.name), target))


def _plain(name: str) -> bool:
    """Whether a name stays below the folder; git itself would not check out another."""
    path = PurePosixPath(name)
    return not path.is_absolute() and not {"..", REPOSITORY}.intersection(path.parts)


def _waiving(folder: Path, drawings: Sequence[Path]) -> str:
    made = sha256()
    for path in drawings:
        lines = b"\n".join(_WAIVING.findall(path.read_bytes()))
        made.update(f"{path.relative_to(folder)}\n".encode("utf-8", "surrogateescape") + lines)
    return made.hexdigest()
