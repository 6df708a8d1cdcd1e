"""What a change does to its own review, as documents beside those of the drawings."""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import field
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.base import ended
from coldcheck.cli.configured import settings_of
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.files import Wanted, wanted
from coldcheck.cli.touched import SETTINGS
from coldcheck.drawing.lines import MAX_BYTES
from coldcheck.files import reading
from coldcheck.files.finding import below
from coldcheck.files.places import where
from coldcheck.records import dataclass
from coldcheck.report.shared.places import relative
from coldcheck.report.shared.plain import counted, listed
from coldcheck.settings.model import DEFAULTS
from coldcheck.settings.reader import read_file
from coldcheck.verdict.change import Change, Differing, differing, told
from coldcheck.verdict.document.content import Document
from coldcheck.verdict.fingerprints import marked
from coldcheck.verdict.ruling import Gate, counting

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from coldcheck.cli.base import Base
    from coldcheck.judge.finding import Finding
    from coldcheck.settings.model import Settings
    from coldcheck.verdict.ruling import Ruling

_SHOWN = 5


@dataclass(slots=True)
class Told:
    """Findings about the change, by the file that they are about."""

    base: Base
    found: dict[str, list[Finding]] = field(default_factory=dict)

    def say(
        self, kind: Change, file: str, message: str, at: tuple[str, ...] = (), *,
        line: int = 1, loosens: bool = True, place: str = "",
    ) -> None:  # fmt: skip
        """Take one in, once; ``place`` is the file it stands at, where that is another."""
        finding = told(
            kind, self.base.revision, place or file, message, at=at, line=line, loosens=loosens
        )
        known = self.found.setdefault(file, [])
        if finding not in known:
            known.append(finding)

    def documents(self) -> list[Document]:
        """A document for each file, which has no drawing in it."""
        title = f"what the change since {self.base.revision} does to its own review"
        return [
            Document(
                file,
                title,
                True,
                tuple(marked(None, found)),
                (),
                _lines(file),
                files=(file,),
                drawn=False,
            )
            for file, found in self.found.items()
        ]


def _lines(file: str) -> tuple[str, ...]:
    try:
        return tuple(reading.text(Path(file)).splitlines())
    except (OSError, UnicodeDecodeError):
        return ()


def settings_changed(said: Told, drawings: Sequence[Wanted]) -> None:
    """What the settings of the change say otherwise, for any folder of the drawings.

    Also for folders that only settings of the change speak of: a drawing may come there later.
    """
    folders = {where(Path(d.file)).parent: d.file for d in drawings if not d.missing}
    files = list(folders.values())
    for old, new in zip(settings_of(files, said.base), settings_of(files), strict=True):
        _compared(said, old, new)
    for folder in dict.fromkeys(_spoken_of(said.base)):
        file = str(folder / f"any{reading.SUFFIX}")
        if folder not in folders:
            with suppress(AskedWrongly):  # what cannot be read holds nothing back, nor through
                (now,) = settings_of([file])
                _compared(said, _before(said.base, folder), now)


def _before(base: Base, folder: Path) -> Settings:
    """The settings of a folder in the revision; where those cannot be read, what is above it.

    A file that nothing could read yet is no file: what it says when it can be is new.
    """
    for place in (folder, *folder.parents):
        with suppress(AskedWrongly):
            return settings_of([str(place / f"any{reading.SUFFIX}")], base)[0]
    return DEFAULTS


def _compared(said: Told, old: Settings, new: Settings) -> None:
    for found in differing(old, new):
        file = _origin(said.base, found.key, old, new)
        loosens = found.kind is not Change.TOUCHED
        said.say(
            found.kind, file, _sentence(said.base, found), (found.key,),
            line=_line(file, found.key), loosens=loosens,
        )  # fmt: skip


def _spoken_of(base: Base) -> Iterator[Path]:
    """The folders of the repository whose settings files differ, and those named in these."""
    for name in SETTINGS:
        there = [*below(base.root, name), *map(base.now, below(base.folder, name))]
        for now in dict.fromkeys(path for path in there if path.name == name):
            before = base.folder / now.relative_to(base.root)
            if _bytes(now) != _bytes(before):
                yield now.parent
                files = (read_file(p) for p in (now, before) if p.is_file())
                layers = (layer for file in files if file for layer in file.layers)
                yield from (now.parent / layer.folder for layer in layers)


def _bytes(path: Path) -> bytes:
    try:
        return ended(reading.contents(path))
    except OSError:
        return b""


def moved_to_looser(said: Told, drawings: Sequence[Wanted]) -> None:
    """Drawings of the revision that lie, changed or not, where it judges by less."""
    base = said.base
    for item in drawings:
        file = Path(item.file)
        source = None if item.missing or base.at(file).exists() else base.like(file)
        if source is not None:
            old, new = settings_of([str(base.now(source)), item.file], base)
            for found in differing(old, new):
                text = f"{item.file} was {_here(base.now(source))}, and where it is {found.text}"
                if found.kind is not Change.TOUCHED:
                    said.say(found.kind, item.file, text, (found.key,))


def sheets_by_less(said: Told, rulings: Sequence[Ruling], level: str | None) -> None:
    """What stands in a sheet that is new or otherwise, and would count where the sheet lies.

    It was counted where the drawing lies that has it as a sheet, which the change chooses.
    """
    for ruling in rulings:
        found = {f.span.file for f in ruling.document.findings} - {ruling.document.file}
        for file in sorted(found):
            gate = _gate_where(said.base, file, level)
            if gate is not None and any(
                f.span.file == file and f not in ruling.counting
                for f in counting(ruling.document, gate)
            ):
                text = f"{file} is reviewed as a sheet of {ruling.document.file} only as far as"
                text += f" {ruling.gate.level}, and where it lies {gate} counts"
                said.say(Change.WIDER_GATE, file, text, (file,))


def _gate_where(base: Base, file: str, level: str | None) -> str | None:
    """The gate of the folder of a sheet; ``None`` for one that is as it was."""
    path = Path(file)
    if _bytes(path) == _bytes(base.at(path)):
        return None
    (own,) = settings_of([file], base)
    return Gate.of(own, level).level


def _origin(base: Base, key: str, old: Settings, new: Settings) -> str:
    """The file a difference comes from, as one would name it from here."""
    origin, before = new.origins.get(key), old.origins.get(key)
    if origin is not None:
        return relative(str(origin.file), Path.cwd())
    file = base.root / "coldcheck.toml" if before is None else base.now(before.file)
    return relative(str(file), Path.cwd())


def _sentence(base: Base, found: Differing) -> str:
    return f"{found.text}; what {base.revision} says was used"


def _line(file: str, key: str) -> int:
    """The line that sets a key, as far as it can be seen; else the first."""
    name = key.partition(".")[2] or key
    lines = enumerate(_lines(file), 1)
    return next((n for n, text in lines if text.strip().strip('"').startswith(name)), 1)


def drawings_changed(
    said: Told, arguments: Sequence[str], drawings: Sequence[Wanted]
) -> list[Wanted]:
    """The drawings to review: those there are, and what the trusted revision reviewed alone.

    What is gone is left out. What is a sheet now, or lies elsewhere, is told.
    """
    base = said.base
    there = [d for d in drawings if Path(d.file).exists() or not base.at(Path(d.file)).exists()]
    known = {where(Path(d.file)) for d in there}
    asked = [str(base.at(Path(a))) for a in arguments]
    former = [p for w in wanted(asked) if (p := Path(w.file)).is_file()]
    before = [base.now(p) for p in former]
    sheets = [
        f for p, f in zip(former, before, strict=True)
        if f not in known and f.exists() and not (where(f) in known and _same_way(base, p))
    ]  # fmt: skip
    for file in sheets:
        name = _here(file)
        linked = where(file) != file
        now = "its name is a link now" if linked else "is only a sheet now"
        text = f"{name} was reviewed alone, and {now}; it is reviewed alone still"
        said.say(Change.NOW_A_SHEET, _here(base.root), text, (name,), place=name)
    _gone(said, [f for f in before if not f.exists()], known, {f.parent for f in known})
    return [*there, *(Wanted(_here(file)) for file in sheets)]


def _same_way(base: Base, file: Path) -> bool:
    """Whether the name of a drawing of the revision leads where it led."""
    return base.now(where(file)) == where(base.now(file))


def _here(file: Path) -> str:
    """A file or folder as one would name it from here."""
    return os.path.relpath(file)


def _gone(said: Told, files: Sequence[Path], known: set[Path], looked_at: set[Path]) -> None:
    """Drawings that went; where they, or new ones, lie where nobody looks that is a loosening.

    New ones count where a whole folder went that the run was to look at.
    """
    if not files:
        return
    outside = dict(_outside(said.base, known))
    texts = {ended(said.base.at(f).read_bytes()) for f in files}
    emptied = any(not f.parent.exists() for f in files) or not looked_at
    away = [
        p
        for p, text in outside.items()
        if not said.base.at(p).exists() and (emptied or ended(text) in texts)
    ]
    for path in away:
        message = f"{_here(path)} is new, or was moved there, and this run does not review it"
        name = _here(path)
        said.say(Change.MOVED_AWAY, _here(said.base.root), message, (name,), place=name)
    names = [_here(f) for f in files]
    more = f" and {len(names) - _SHOWN} more" if len(names) > _SHOWN else ""
    listing = f"{', '.join(names[:_SHOWN])}{more}" if more else listed(names)
    count = f"{counted(len(names), 'drawing')} of {said.base.revision}"
    text = f"{count} not there any more: {listing}"
    said.say(Change.GONE, _here(said.base.root), text, loosens=False, place=names[0])


def _outside(base: Base, known: set[Path]) -> Iterator[tuple[Path, bytes]]:
    """Drawings of the repository that are not among those known, as far as they can be read."""
    for path in below(base.root, reading.SUFFIX):
        if path not in known:
            with suppress(OSError):
                yield path, reading.drawing(path, MAX_BYTES)
