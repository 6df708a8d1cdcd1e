"""Reviewing many drawings: all cores, in the order asked for, nothing done twice."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.cache import Cache, digest_of, key_of, program

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from datetime import date

    from coldcheck.verdict.document.content import Document

POOL_FROM = 4
"""Fewer drawings than this are not worth starting processes for."""


def documents(
    files: Sequence[str],
    today: date,
    cache: Cache,
    workers: int | None = None,
    watched: Callable[[Iterable[Document], int], Iterable[Document]] = lambda made, _: made,
) -> list[Document]:
    """The document of every drawing, in the order of ``files``.

    ``watched`` sees the documents as they are made (for a progress bar), and how many will be.
    """
    keys = _keys(files, today) if cache.folder is not None else [""] * len(files)
    known = {n: found for n, key in enumerate(keys) if (found := _kept(cache, key)) is not None}
    missing = [n for n in range(len(files)) if n not in known]
    made = _made([files[n] for n in missing], today, workers)
    for n, document in zip(missing, watched(made, len(missing)), strict=True):
        known[n] = document
        if keys[n]:
            cache.put(keys[n], document)
    if missing:
        cache.tidy()
    return [known[n] for n in range(len(files))]


def _kept(cache: Cache, key: str) -> Document | None:
    return cache.get(key) if key else None


def _made(files: Sequence[str], today: date, workers: int | None) -> Iterator[Document]:
    """Review here, or in as many processes as there are cores."""
    count = min(workers or os.cpu_count() or 1, len(files))
    if count < 2 or len(files) < POOL_FROM:
        yield from (reviewed(file, today) for file in files)
        return
    from concurrent.futures import ProcessPoolExecutor
    from functools import partial
    from multiprocessing import get_context

    # A fresh interpreter in each process: forking one that runs threads is not safe everywhere.
    with ProcessPoolExecutor(count, mp_context=get_context("spawn")) as pool:
        each = max(1, min(16, len(files) // (4 * count)))
        yield from pool.map(partial(reviewed, today=today), files, chunksize=each)


def reviewed(file: str, today: date) -> Document:
    """Review one drawing by its own settings."""
    from coldcheck.settings.find import find
    from coldcheck.verdict.document.build import document_of
    from coldcheck.verdict.engine import review_file

    try:
        return document_of(review_file(Path(file), today, find(Path(file))))
    except Exception as error:
        error.add_note(f"while reviewing {file}")
        raise


def _keys(files: Sequence[str], today: date) -> list[str]:
    """What each document depends on, hashed; empty for a file that cannot be read."""
    from coldcheck.settings.find import find_all

    common = {"program": program(), "today": today.isoformat()}
    settings = find_all([Path(f) for f in files])
    return [
        key_of({**common, "file": file, "text": digest, "settings": own.fingerprint()})
        if (digest := digest_of(Path(file)))
        else ""
        for file, own in zip(files, settings, strict=True)
    ]
