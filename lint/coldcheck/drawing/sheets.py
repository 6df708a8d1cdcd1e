"""``sheet`` lines replaced by the statements of their files, each use under its own name.

Bounds on what a drawing can ask for: sheets nest eight deep, are used 200 times, and all together
are no larger than one drawing may be. A file is read once, however often it is used.
"""

from __future__ import annotations

import os
from collections import Counter
from dataclasses import field, replace
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from coldcheck.drawing import lines as _lines
from coldcheck.drawing import model
from coldcheck.drawing.instances import LANDMARKS, Instance, instance_of
from coldcheck.drawing.sheet_files import SheetRefused, located, project_root, sheet_bytes
from coldcheck.files.places import where
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    Read: TypeAlias = Callable[[str, bytes], model.Drawing]
    Fetch: TypeAlias = Callable[[Path], bytes]

MAX_DEPTH = 8
MAX_INSTANCES = 200

NESTING = "drawing.sheet-nesting"
UNKNOWN = "drawing.unknown-name"
TWICE = "drawing.name-used-twice"
SYNTAX = "drawing.syntax"


def expanded(
    drawing: model.Drawing, path: Path, read: Read, fetch: Fetch = sheet_bytes
) -> model.Drawing:
    """The drawing of the file ``path`` with its sheets in it; what cannot be is a Problem.

    ``read`` makes a drawing of a file's name and bytes, ``fetch`` gives the bytes of a file inside
    the project and may raise SheetRefused. Never raises for content.
    """
    if not any(isinstance(s, model.SheetLine) for s in drawing.statements):
        return drawing
    here = where(path)
    work = _Expander(project_root(here.parent), _mains(drawing), read, fetch)
    statements = tuple(work.contents(drawing, _Level(Instance(), ((here, str(path)),))))
    return replace(
        drawing,
        statements=statements,
        problems=tuple(dict.fromkeys((*drawing.problems, *work.problems))),
        sheets=work.sheets,
    )


@dataclass(frozen=True, slots=True)
class _Level:
    """A place in the nesting: its names, and the files from the drawing down to it.

    ``files`` are (real path, name to show).
    """

    names: Instance
    files: tuple[tuple[Path, str], ...]

    def shown(self, text: str, path: Path) -> str:
        """What to call a sheet that is named ``text`` here."""
        name = os.path.normpath(str(Path(self.files[-1][1]).parent / text))
        return name if where(Path(name)) == path else str(path)


@dataclass(slots=True)
class _Expander:
    """Works through one drawing; lives for one call."""

    root: Path
    mains: model.Mains | None
    read: Read
    fetch: Fetch
    problems: dict[model.Problem, None] = field(default_factory=dict)
    sheets: dict[str, tuple[str, ...]] = field(default_factory=dict)
    _known: dict[Path, model.Drawing] = field(default_factory=dict)
    _uses: int = 0
    _bytes: int = 0
    _statements: int = 0

    def contents(self, drawing: model.Drawing, level: _Level) -> Iterator[model.Statement]:
        """The statements of a file, its sheets worked out."""
        for line in drawing.statements:
            if isinstance(line, model.SheetLine):
                if self._uses > MAX_INSTANCES:
                    continue  # said already
                try:
                    yield from self._instance(line, drawing, level)
                except SheetRefused as refused:
                    self._say(
                        refused.rule, line.path_span, refused.found, refused.expected,
                        refused.hint, drawing,
                    )  # fmt: skip
            else:
                statement = level.names.statement(line) if level.names.prefix else line
                if statement is not None:
                    yield statement

    def _instance(
        self, line: model.SheetLine, drawing: model.Drawing, level: _Level
    ) -> Iterator[model.Statement]:
        path = located(line.path, level.files[-1][0].parent, self.root)
        shown = level.shown(line.path, path)
        self._check_nesting(path, level)
        inner = self._drawing(path, shown)
        self._check_size(inner)
        driven = frozenset(inside.text for inside, _ in line.joints)
        prefix = f"{level.names.prefix}{line.name}/"
        below = _Level(instance_of(prefix, inner.statements, driven), (*level.files, (path, shown)))
        self._check_mains(inner)
        yield from self._joints(line, drawing, level, inner, below)
        yield from self.contents(inner, below)

    # -- bounds ----------------------------------------------------------------------------

    def _in_project(self, file: Path) -> str:
        return file.relative_to(self.root).as_posix()

    def _check_nesting(self, path: Path, level: _Level) -> None:
        above = [file for file, _ in level.files]
        trail = " has ".join(self._in_project(file) for file in (*above, path))
        if path in above:
            raise SheetRefused("a sheet inside itself", "sheets that end", trail, NESTING)
        if len(above) > MAX_DEPTH:
            found = f"sheets nested {len(above)} deep"
            raise SheetRefused(found, f"at most {MAX_DEPTH}", trail, NESTING)
        self._uses += 1
        if self._uses > MAX_INSTANCES:
            found = f"more than {MAX_INSTANCES} sheets in one drawing"
            raise SheetRefused(found, f"at most {MAX_INSTANCES}", "", NESTING)

    def _check_size(self, inner: model.Drawing) -> None:
        self._statements += len(inner.statements)
        if self._statements > _lines.MAX_STATEMENTS:
            found = f"sheets of more than {_lines.MAX_STATEMENTS} statements together"
            raise SheetRefused(found, "a drawing of fewer", "", NESTING)

    def _drawing(self, path: Path, shown: str) -> model.Drawing:
        """A sheet's own drawing; what is wrong in it is said once, however often it is used."""
        if path not in self._known:
            data = self._fetched(path, shown)
            self._bytes += len(data)
            if self._bytes > _lines.MAX_BYTES:
                limit = f"at most {_lines.MAX_BYTES // 1_000_000} MB"
                raise SheetRefused("sheets that are too big together", limit, "", NESTING)
            self._known[path] = inner = self.read(shown, data)
            self.sheets[inner.file] = inner.lines
            self.problems.update(dict.fromkeys(inner.problems))
        return self._known[path]

    def _fetched(self, path: Path, shown: str) -> bytes:
        try:
            return self.fetch(path)
        except SheetRefused as refused:
            if refused.absent:
                self.sheets.setdefault(shown, ())
            found = f"{self._in_project(path)}: {refused.found}"
            raise SheetRefused(found, refused.expected, refused.hint, refused.rule) from None

    def _check_mains(self, inner: model.Drawing) -> None:
        """A sheet may say what mains it is for, so that it can be read alone."""
        own = _mains(inner)
        if own is None or _same(own, self.mains):
            return
        if self.mains is None:
            expected, hint = "mains in the drawing that is reviewed", "say it there as well"
            self._say(SYNTAX, own.span, "mains in a sheet only", expected, hint, inner)
        else:
            found = f"a sheet for other mains, {own.voltage:~g} {own.frequency:~g}"
            expected = f"those of the drawing, {self.mains.voltage:~g} {self.mains.frequency:~g}"
            self._say(TWICE, own.span, found, expected, "", inner)

    # -- joints ----------------------------------------------------------------------------

    def _joints(
        self, line: model.SheetLine, drawing: model.Drawing, level: _Level,
        inner: model.Drawing, below: _Level,
    ) -> Iterator[model.Chain]:  # fmt: skip
        """A wire for each joined pair, the outer point first: the net has its name."""
        inside, around = _written(inner), _written(drawing)
        seen: set[str] = set()
        for within, here in line.joints:
            problem = self._wrong_inside(within, here, inside, inner, seen)
            problem = problem or self._wrong_here(here, around, drawing, level)
            seen.add(within.text)
            if problem:
                self._say(*problem, drawing)
            elif not _landmark(within):
                points = (level.names.point(here), below.names.point(within))
                yield model.Chain(points, (None,), line.span)

    def _wrong_inside(
        self, within: model.Point, here: model.Point, inside: Mapping[str, int],
        inner: model.Drawing, seen: set[str],
    ) -> tuple[str, model.Span, str, str, str] | None:  # fmt: skip
        text = within.text
        if _landmark(within):
            if here.text == text:
                return None
            hint = f"{text} is the same point in every sheet"
            return SYNTAX, within.span, f"{text} = {here.text}", "a point of the sheet's own", hint
        if text in seen:
            return TWICE, within.span, f"{text} a second time", "one point for one point", ""
        if within.lead or within.pin or inner.problems or inside[text]:
            return None
        hint = _nearest(text, inside)
        return UNKNOWN, within.span, text, f"a point of {inner.file}", hint

    def _wrong_here(
        self, here: model.Point, around: Mapping[str, int], drawing: model.Drawing, level: _Level
    ) -> tuple[str, model.Span, str, str, str] | None:
        """A point that stands only in this sheet line is joined to nothing else."""
        plain = not (here.lead or here.pin or _landmark(here))
        if not plain or drawing.problems or here.text in level.names.driven:
            return None
        if around[here.text] > 1:
            return None
        others = {name: n for name, n in around.items() if name != here.text}
        return UNKNOWN, here.span, here.text, "a point of this drawing", _nearest(here.text, others)

    def _say(
        self, rule: str, span: model.Span, found: str, expected: str, hint: str,
        drawing: model.Drawing,
    ) -> None:  # fmt: skip
        problem = model.Problem(span, rule, found, expected, hint, drawing.line(span))
        self.problems.setdefault(problem)


def _mains(drawing: model.Drawing) -> model.Mains | None:
    return next((s for s in drawing.statements if isinstance(s, model.Mains)), None)


def _same(one: model.Mains, other: model.Mains | None) -> bool:
    if other is None:
        return False
    share = one.tolerance in (None, other.tolerance)
    return share and (one.voltage, one.frequency) == (other.voltage, other.frequency)


def _landmark(point: model.Point) -> bool:
    return not (point.lead or point.pin) and point.owner.casefold() in LANDMARKS


def _written(drawing: model.Drawing) -> Counter[str]:
    """How often a file names each plain point: on wires, for signals, in its sheet lines."""
    found: Counter[str] = Counter()
    for line in drawing.statements:
        match line:
            case model.Chain():
                found.update(_plain(line.points))
            case model.SignalLine():
                found[line.name] += 1
            case model.SheetLine():
                found.update(_plain(here for _, here in line.joints))
            case _:
                pass
    return found


def _plain(points: Iterable[model.Point | None]) -> Iterator[str]:
    for point in points:
        if point is not None and not (point.lead or point.pin or _landmark(point)):
            yield point.text


def _nearest(name: str, names: Iterable[str]) -> str:
    folded = {other.casefold(): other for other in names}
    close = get_close_matches(name.casefold(), folded, n=1, cutoff=0.5)
    return f"did you mean {folded[close[0]]}?" if close else ""
