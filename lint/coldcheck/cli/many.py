"""Reviewing many drawings: all cores, in the order asked for, nothing done twice."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.cache import Cache, digest_of, key_of, program

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence
    from datetime import date

    from coldcheck.report.review.record import Look, Record
    from coldcheck.verdict.review import Review

POOL_FROM = 4
"""Fewer drawings than this are not worth starting processes for."""


@dataclass(frozen=True, slots=True)
class Order:
    """What is wanted of every drawing of a run; can cross to another process.

    wanted
        The costly parts of the record: text, json.
    gate
        The gate of the command line; ``None`` leaves it to the settings of each drawing.
    """

    wanted: frozenset[str]
    look: Look
    today: date
    gate: str | None = None


def records(
    files: Sequence[str],
    order: Order,
    cache: Cache,
    workers: int | None = None,
    watched: Callable[[Iterable[Record], int], Iterable[Record]] = lambda made, _: made,
) -> list[Record]:
    """The record of every drawing, in the order of ``files``.

    ``watched`` sees the records as they are made (for a progress bar), and how many there will be.
    """
    keys = _keys(files, order) if cache.folder is not None else [""] * len(files)
    known = {n: found for n, key in enumerate(keys) if (found := _kept(cache, key)) is not None}
    missing = [n for n in range(len(files)) if n not in known]
    made = _made([files[n] for n in missing], order, workers)
    for n, record in zip(missing, watched(made, len(missing)), strict=True):
        known[n] = record
        if keys[n] and not _given_up(record) and not record.review.broken:
            cache.put(keys[n], record)
    if missing:
        cache.tidy()
    return [known[n] for n in range(len(files))]


def _given_up(record: Record) -> bool:
    """Whether it hung on this machine's memory, so that another time may be better."""
    from coldcheck.circuit.limits import TOO_LARGE

    return any(f.rule == TOO_LARGE for f in record.review.findings)


def _kept(cache: Cache, key: str) -> Record | None:
    return cache.get(key) if key else None


def _made(files: Sequence[str], order: Order, workers: int | None) -> Iterator[Record]:
    """Review here, or in as many processes as there are cores."""
    count = min(workers or os.cpu_count() or 1, len(files))
    if count < 2 or len(files) < POOL_FROM:
        yield from (reviewed(file, order) for file in files)
        return
    from functools import partial

    from coldcheck.cli.workers import Died, Pool

    for answer in Pool(partial(reviewed, order=order), files, count):
        yield given_up(answer.file, order) if isinstance(answer, Died) else answer


def reviewed(file: str, order: Order) -> Record:
    """Review one drawing by its own settings; what breaks down costs this drawing alone."""
    from coldcheck.cli.fallen import without_numbers, without_review
    from coldcheck.report.review.record import record_of

    review: Review | None = None
    try:
        review = _review(file, order)
        return record_of(review, order.wanted, order.look)
    except MemoryError:
        return given_up(file, order)
    except Exception as error:
        if os.environ.get("COLDCHECK_DEBUG"):
            raise
        left = without_review(file, error) if review is None else without_numbers(review, error)
    return record_of(left, order.wanted, order.look)


def _review(file: str, order: Order) -> Review:
    from dataclasses import replace

    from coldcheck.cli.memory import bounded
    from coldcheck.settings.find import find
    from coldcheck.verdict.engine import review_file

    settings = find(Path(file))
    if order.gate is not None:
        settings = replace(settings, gate=order.gate)
    with bounded():
        return review_file(Path(file), order.today, settings)


def given_up(file: str, order: Order) -> Record:
    """The record of a drawing for which the memory did not suffice; it is no verdict."""
    from coldcheck.circuit.limits import HINT, TOO_LARGE
    from coldcheck.cli.memory import MOST_MEMORY
    from coldcheck.cli.review import unopened
    from coldcheck.report.review.record import record_of

    limit = f"at most {MOST_MEMORY // 1_000_000} MB of memory for one drawing"
    told = f"the review did not come to an end: {limit}, or what the system has left"
    return record_of(unopened(file, told, TOO_LARGE, HINT), order.wanted, order.look)


def _keys(files: Sequence[str], order: Order) -> list[str]:
    """What each record depends on, hashed; empty for a file that cannot be read."""
    from coldcheck.settings.find import find_all

    stamp, look = program(), order.look
    common = {
        "program": stamp,
        "look": f"{look.width} {look.colours} {look.terminal}",
        "wanted": " ".join(sorted(order.wanted)),
        "today": order.today.isoformat(),
        "gate": order.gate or "",
    }
    settings = find_all([Path(f) for f in files])
    return [
        key_of({**common, "file": file, "text": digest, "settings": own.fingerprint()})
        if (digest := digest_of(Path(file)))
        else ""
        for file, own in zip(files, settings, strict=True)
    ]
