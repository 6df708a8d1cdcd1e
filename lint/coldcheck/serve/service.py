"""The open texts, what is known of each, and when it is worked out anew.

Reading a text (milliseconds) and reviewing it (seconds) have a thread each, so that a slip of the
pen is marked while the review of an earlier text is still under way. A result that a change has
overtaken is dropped. Nothing here knows the protocol.
"""

from __future__ import annotations

import threading
from dataclasses import field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.files.places import where
from coldcheck.records import dataclass
from coldcheck.report.shared.plain import clean
from coldcheck.serve import marks
from coldcheck.serve.held import Held, View, instance, note, same, sheets
from coldcheck.serve.later import Later
from coldcheck.serve.page import UTF16, Page
from coldcheck.serve.reading import Known, Read, Text, read_text, reviewed
from coldcheck.serve.rename import user

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from coldcheck.serve.marks import Mark
    from coldcheck.verdict.review import Review

READ_AFTER, REVIEW_AFTER = 0.1, 0.25
"""Seconds without a change after which a text is read, and then reviewed."""


@dataclass(slots=True)
class Service:
    """See the module.

    publish
        Told the marks of a file whenever they change: its URI, the page its columns are counted
        on, the version (``None`` for a file that is not open), the marks.
    log
        Told, in a sentence, what went wrong inside.
    """

    publish: Callable[[str, Page, int | None, tuple[Mark, ...]], None]
    log: Callable[[str], None]
    encoding: str = UTF16
    review: Callable[[Read], Review] = reviewed
    delays: tuple[float, float] = (READ_AFTER, REVIEW_AFTER)
    _held: dict[str, Held] = field(default_factory=dict)
    _told: dict[str, frozenset[str]] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)
    _serial: int = 0
    _reader: Later = field(init=False)
    _reviewer: Later = field(init=False)

    def __post_init__(self) -> None:
        self._reader, self._reviewer = Later(self._escaped), Later(self._escaped)

    # -- what the editor tells ---------------------------------------------------------------

    def changed(self, uri: str, file: str, saved: bool, text: str, version: int | None) -> None:
        """A text is open, or it is another now. At the first time nothing is waited for."""
        with self._lock:
            old = self._held.get(uri)
            new = Text(uri, file, saved, text, version, self._next(), self.encoding)
            self._held[uri] = replace(old, text=new) if old else Held(new)
            self._ask(uri, self.delays[0] if old else 0.0)
            self._others_that_use(new)

    def closed(self, uri: str) -> None:
        """A text is no longer open; its marks go, and drawings that use it go by its file."""
        with self._lock:
            gone = self._held.pop(uri, None)
            self._reader.drop(uri)
            self._reviewer.drop(uri)
            if gone is not None:
                self._spread(self._told.pop(uri, frozenset({gone.text.file})))
                self._others_that_use(gone.text)
                self._no_longer_alone(gone.read, None)

    def files_changed(self, files: Iterable[Path]) -> None:
        """Files changed on the disk: a sheet, settings, tube data. All is read again.

        What is open counts as it is in the editor, so saving it changes nothing.
        """
        with self._lock:
            if {where(file) for file in files} <= set(self.open_pages()):
                return
            for uri, held in self._held.items():
                self._held[uri] = replace(held, text=replace(held.text, serial=self._next()))
                self._ask(uri, self.delays[0])

    def end(self) -> None:
        """Stop working."""
        self._reader.end()
        self._reviewer.end()

    # -- what the editor asks ----------------------------------------------------------------

    def held(self, uri: str) -> Held | None:
        """What there is of a text; ``None`` where it is not open."""
        with self._lock:
            return self._held.get(uri)

    def read_now(self, uri: str) -> Read | None:
        """The text as it is now, read; ``None`` where it is not open."""
        held = self.held(uri)
        if held is None:
            return None
        if held.read is not None and held.read.text.serial == held.text.serial:
            return held.read
        return read_text(held.text, self.open_text)

    def view(self, uri: str) -> View | None:
        """What can be said about a text: its own last good review, or that of a drawing it is in.

        ``None`` where the text is not open or nothing was worked out yet.
        """
        with self._lock:
            held = self._held.get(uri)
            if held is None:
                return None
            if held.known is not None and not (held.read and self._used(held.read)):
                return View(held.known, note(held))
            for other in self._held.values():
                prefix = None if other.known is None else instance(other.known, held.text.path)
                if other.known is not None and prefix is not None:
                    return View(other.known, note(other), prefix)
            return None

    def open_text(self, path: Path) -> str | None:
        """The text of a file that is open, by its real path."""
        with self._lock:
            return next((h.text.text for h in self._held.values() if h.text.path == path), None)

    def open_pages(self) -> Mapping[Path, Text]:
        """The open texts that have a file, by its real path."""
        with self._lock:
            found = ((h.text.path, h.text) for h in self._held.values())
            return {path: text for path, text in found if path is not None}

    # -- the work ----------------------------------------------------------------------------

    def _next(self) -> int:
        self._serial += 1
        return self._serial

    def _ask(self, uri: str, delay: float) -> None:
        self._reviewer.drop(uri)
        self._reader.put(uri, partial(self._read, uri), delay)

    def _others_that_use(self, text: Text) -> None:
        """Drawings that have this text as a sheet mean something else now."""
        for uri, held in list(self._held.items()):
            if held.read is not None and uri != text.uri and text.path in sheets(held.read):
                self._held[uri] = replace(held, text=replace(held.text, serial=self._next()))
                self._ask(uri, self.delays[0])

    def _no_longer_alone(self, old: Read | None, new: Read | None) -> None:
        """Open texts that became a sheet of this drawing, or are one no more, are read anew."""
        now = sheets(new) if new else frozenset()
        before = sheets(old) if old else frozenset()
        for uri, held in list(self._held.items()):
            if held.text.path in now ^ before:
                self._held[uri] = replace(held, text=replace(held.text, serial=self._next()))
                self._ask(uri, self.delays[0])

    def _read(self, uri: str) -> None:
        held = self.held(uri)
        if held is None:
            return
        try:
            read = read_text(held.text, self.open_text)
            found = self._of_reading(read, held.known)
        except Exception as error:
            self._failed(held.text, error)
            return
        with self._lock:
            if self._overtaken(held.text):
                return
            self._no_longer_alone(held.read, read)
            self._held[uri] = replace(self._held[uri], read=read)
            self._tell(uri, found)
            if read.good and not self._used(read):
                self._reviewer.put(uri, partial(self._review, read), self.delays[1])

    def _of_reading(self, read: Read, known: Known | None) -> tuple[Mark, ...] | None:
        """The marks before there is a review; ``None`` to leave them as they are."""
        before = marks.kept(known, read) if known else ()
        if self._used(read):
            return () if read.good else marks.marks_of(reviewed(read))
        if read.settings is None:
            return (*marks.marks_of_faults(read), *before)
        if not read.good:
            return (*marks.marks_of(reviewed(read)), *before)
        return before if known else None

    def _review(self, read: Read) -> None:
        uri = read.text.uri
        if self._overtaken(read.text):
            return
        try:
            review = self.review(read)
            using = user(read.text, self.open_pages())
            found = marks.marks_of(review) if using is None else (marks.of_a_sheet(read, using),)
        except Exception as error:
            self._failed(read.text, error)
            return
        with self._lock:
            if self._overtaken(read.text):
                return
            self._held[uri] = replace(self._held[uri], known=Known(read, review))
            self._tell(uri, found)

    def _overtaken(self, text: Text) -> bool:
        held = self.held(text.uri)
        return held is None or held.text.serial != text.serial

    def _used(self, read: Read) -> bool:
        """Whether an open drawing has this one as a sheet: then it is reviewed there, as a part."""
        with self._lock:
            others = (h.read for h in self._held.values() if h.text.uri != read.text.uri)
            return any(o is not None and read.text.path in sheets(o) for o in others)

    def _failed(self, text: Text, error: Exception) -> None:
        """One line to the log, one mark on the drawing; the service goes on."""
        self._escaped(error)
        with self._lock:
            if not self._overtaken(text):
                self._tell(text.uri, (marks.failure(text.file, error),))

    def _escaped(self, error: Exception) -> None:
        self.log(clean(f"coldcheck: a review failed: {type(error).__name__}: {error}"))

    # -- telling -----------------------------------------------------------------------------

    def _tell(self, uri: str, found: tuple[Mark, ...] | None) -> None:
        """Keep the marks of one drawing and publish those of every file they touch."""
        if found is None:
            return
        held = self._held[uri]
        self._held[uri] = replace(held, marks=found)
        files = frozenset((held.text.file, *(m.span.file for m in found)))
        before = self._told.get(uri, frozenset())
        self._told[uri] = files
        self._spread(files | before)

    def _spread(self, files: Iterable[str]) -> None:
        """Publish all marks of these files, from whichever drawing they come."""
        for file in sorted(files):
            path = where(Path(file))
            together: dict[Mark, None] = {}
            for held in self._held.values():
                here = (m for m in held.marks if m.span.file == file or same(m.span.file, path))
                together.update(dict.fromkeys(here))
            uri, page = self.page_of(file)
            version = self._held[uri].text.version if uri in self._held else None
            self.publish(uri, page, version, tuple(together))

    def page_of(self, file: str) -> tuple[str, Page]:
        """The URI and the page of a file, open or not."""
        with self._lock:
            path = where(Path(file))
            texts = (h.text for h in self._held.values() if h.text.file == file)
            text = next(texts, None) or self.open_pages().get(path)
            return (path.as_uri(), self._page(file)) if text is None else (text.uri, text.page)

    def _page(self, file: str) -> Page:
        """The page of a file that is not open: its lines as some drawing read them."""
        for held in self._held.values():
            if held.read is not None and file in held.read.drawing.sheets:
                return Page(held.read.drawing.sheets[file] or ("",), self.encoding)
        return Page(("",), self.encoding)
