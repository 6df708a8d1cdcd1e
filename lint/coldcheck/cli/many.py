"""Reviewing many drawings: all cores, in the order asked for, nothing done twice."""

from __future__ import annotations

import os
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.cache import Cache, digest_of, key_of, program
from coldcheck.cli.configured import settings_of
from coldcheck.cli.typed import TYPED, drawing_of
from coldcheck.drawing.sheet_files import project_root
from coldcheck.files.places import where

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from datetime import date

    from coldcheck.cli.base import Base
    from coldcheck.verdict.document.content import Document
    from coldcheck.verdict.review import Review

POOL_FROM = 4
"""Fewer drawings than this are not worth starting processes for."""


def documents(
    files: Sequence[str],
    today: date,
    cache: Cache,
    workers: int | None = None,
    base: Base | None = None,
    watched: Callable[[Iterable[Document], int], Iterable[Document]] = lambda made, _: made,
    *,
    pictured: bool = False,
) -> list[Document]:
    """The document of every drawing, in the order of ``files``; ``pictured``: laid out as well.

    ``watched`` sees the documents as they are made (for a progress bar), and how many will be.
    """
    keys = _keys(files, today, base, pictured) if cache.folder is not None else [""] * len(files)
    known = {n: found for n, key in enumerate(keys) if (found := _kept(cache, key)) is not None}
    missing = [n for n in range(len(files)) if n not in known]
    review = partial(reviewed, today=today, base=base, pictured=pictured)
    made = _made([files[n] for n in missing], review, workers)
    for n, document in zip(missing, watched(made, len(missing)), strict=True):
        known[n] = document
        if keys[n] and document != given_up(document.file) and not document.broken:
            cache.put(keys[n], document)
    if missing:
        cache.tidy()
    return [known[n] for n in range(len(files))]


def _kept(cache: Cache, key: str) -> Document | None:
    return cache.get(key) if key else None


def _made(
    files: Sequence[str], review: Callable[[str], Document], workers: int | None
) -> Iterator[Document]:
    """Review here, or in as many processes as there are cores."""
    count = min(workers or os.cpu_count() or 1, len(files))
    if count < 2 or len(files) < POOL_FROM:
        yield from map(review, files)
        return
    from coldcheck.cli.workers import Died, Pool

    for answer in Pool(review, files, count):
        yield given_up(answer.file) if isinstance(answer, Died) else answer


def reviewed(
    file: str, today: date, base: Base | None = None, *, pictured: bool = False
) -> Document:
    """Review one drawing by its own settings; what breaks down costs this drawing alone."""
    from coldcheck.cli.fallen import without_numbers, without_review
    from coldcheck.verdict.document.build import document_of

    review: Review | None = None
    try:
        review = _review(file, today, base)
        return document_of(review, pictured=pictured)
    except MemoryError:
        return given_up(file)
    except Exception as error:
        if os.environ.get("COLDCHECK_DEBUG"):
            raise
        left = without_review(file, error) if review is None else without_numbers(review, error)
    return document_of(left)


def _review(file: str, today: date, base: Base | None) -> Review:
    from coldcheck.cli.memory import bounded
    from coldcheck.settings.find import find
    from coldcheck.verdict.engine import review_drawing, review_file

    path = Path(file)
    if file == TYPED:
        return review_drawing(drawing_of(file), today, find(path))
    settings = find(base.at(path) if base else path)
    with bounded():
        if base is None:
            return review_file(path, today, settings)
        return review_file(path, today, settings, trusted=base.waivers(path))


def given_up(file: str) -> Document:
    """The document of a drawing for which the memory did not suffice; it is no verdict.

    It hangs on this machine, and another time may be better: such a document is not kept.
    """
    from coldcheck.circuit.limits import HINT, TOO_LARGE
    from coldcheck.cli.memory import BOUND
    from coldcheck.cli.review import unopened

    return unopened(file, f"the review did not come to an end: {BOUND}", TOO_LARGE, HINT)


def _keys(files: Sequence[str], today: date, base: Base | None, pictured: bool) -> list[str]:
    """What each document depends on, hashed; empty for a file that cannot be read."""
    common = {"program": program(), "today": today.isoformat(), "pictured": str(pictured)}
    settings = settings_of(files, base)
    projects: dict[Path, str] = {}
    return [
        key_of(
            {
                **common,
                **_trusted(file, base),
                "file": file,
                "project": _project(where(Path(file)).parent, projects),
                "text": digest,
                "settings": own.fingerprint(),
            }
        )
        if (digest := digest_of(Path(file)))
        else ""
        for file, own in zip(files, settings, strict=True)
    ]


def _project(folder: Path, known: dict[Path, str]) -> str:
    """Where the folder of the project is, outside of which no sheet is read."""
    if folder not in known:
        known[folder] = os.path.relpath(project_root(folder), folder)
    return known[folder]


def _trusted(file: str, base: Base | None) -> dict[str, str]:
    """What a document depends on of a trusted revision, besides the settings."""
    if base is None:
        return {}
    source = base.source(Path(file))
    name = "" if source is None else str(source.relative_to(base.folder))
    return {"trusting": base.revision, "waiving": base.waiving, "source": name}
