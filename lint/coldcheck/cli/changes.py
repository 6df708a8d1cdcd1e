"""What a change does to its own review, as documents beside those of the drawings."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.configured import settings_of
from coldcheck.cli.files import wanted
from coldcheck.drawing.lines import MAX_BYTES
from coldcheck.files import reading
from coldcheck.files.places import where
from coldcheck.report.shared.places import relative
from coldcheck.report.shared.plain import counted, listed
from coldcheck.verdict.change import Change, Differing, differing, told
from coldcheck.verdict.document.content import Document
from coldcheck.verdict.fingerprints import marked

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from coldcheck.cli.base import Base
    from coldcheck.cli.files import Wanted
    from coldcheck.judge.finding import Finding
    from coldcheck.settings.model import Settings

_SHOWN = 5


@dataclass(slots=True)
class Told:
    """Findings about the change, by the file that they are about."""

    base: Base
    found: dict[str, list[Finding]] = field(default_factory=dict)

    def say(
        self, kind: Change, file: str, message: str, at: tuple[str, ...] = (), *,
        line: int = 1, loosens: bool = True,
    ) -> None:  # fmt: skip
        """Take one in, once."""
        finding = told(kind, self.base.revision, file, message, at=at, line=line, loosens=loosens)
        known = self.found.setdefault(file, [])
        if finding not in known:
            known.append(finding)

    def documents(self) -> list[Document]:
        """A document for each file, which has no drawing in it."""
        title = f"the change since {self.base.revision}, which is trusted"
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
    """What the settings of the change say otherwise, for any folder of the drawings."""
    folders = {where(Path(d.file)).parent: d.file for d in drawings if not d.missing}
    files = list(folders.values())
    both = zip(settings_of(files, said.base), settings_of(files), strict=True)
    for old, new in both:
        for found in differing(old, new):
            file = _origin(said.base, found.key, old, new)
            loosens = found.kind is not Change.TOUCHED
            said.say(
                found.kind, file, _sentence(said.base, found), (found.key,),
                line=_line(file, found.key), loosens=loosens,
            )  # fmt: skip


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


def drawings_changed(said: Told, arguments: Iterable[str], drawings: list[Wanted]) -> list[Wanted]:
    """The drawings to review: those there are, and what the trusted revision reviewed alone.

    A folder that is gone is left out. What is a sheet now, or lies elsewhere, is told.
    """
    for argument in arguments:
        then = said.base.at(Path(argument))
        if not then.is_dir():
            continue
        if not Path(argument).exists():
            drawings = [d for d in drawings if d.file != argument]
        known = {where(Path(d.file)) for d in drawings}
        before = [said.base.now(Path(w.file)) for w in wanted([str(then)]) if not w.missing]
        drawings += list(_sheets_now(said, argument, [f for f in before if f not in known]))
        _gone(said, argument, [f for f in before if not f.exists()], known)
    return drawings


def _sheets_now(said: Told, argument: str, files: Iterable[Path]) -> Iterator[Wanted]:
    from coldcheck.cli.files import Wanted

    for file in files:
        if file.exists():
            name = relative(str(file), Path.cwd())
            text = f"{name} was reviewed alone, and is only a sheet now; it is reviewed alone still"
            said.say(Change.NOW_A_SHEET, argument, text, (name,))
            yield Wanted(name)


def _gone(said: Told, argument: str, files: Sequence[Path], known: set[Path]) -> None:
    """Drawings that went; one that lies unchanged where nobody looks is a loosening."""
    left = []
    outside = dict(_outside(said.base, known)) if files else {}
    for file in files:
        then = said.base.at(file).read_bytes()
        lies = next((p for p, now in outside.items() if now == then), None)
        if lies is None:
            left.append(said.base.name(file))
        else:
            name = said.base.name(lies)
            message = f"{said.base.name(file)} is {name} now, which this run does not review"
            said.say(Change.MOVED_AWAY, argument, message, (name,))
    if left:
        more = f" and {len(left) - _SHOWN} more" if len(left) > _SHOWN else ""
        names = f"{', '.join(left[:_SHOWN])}{more}" if more else listed(left)
        text = (
            f"{counted(len(left), 'drawing')} of {said.base.revision} not there any more: {names}"
        )
        said.say(Change.GONE, argument, text, loosens=False)


def _outside(base: Base, known: set[Path]) -> Iterator[tuple[Path, bytes]]:
    """Drawings of the repository that are not among those known, as far as they can be read."""
    for path in base.root.rglob(f"*{reading.SUFFIX}"):
        if path not in known:
            with suppress(OSError):
                yield path, reading.drawing(path, MAX_BYTES)
