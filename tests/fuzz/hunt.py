"""Hunting with hypothesis: many drawings, and for each distinct error the plainest one of it."""

from __future__ import annotations

import sys
from dataclasses import dataclass, field
from zlib import crc32

from hypothesis import HealthCheck, Phase, given, seed, settings
from tests.fuzz.errors import INSTANTS, outcome_of
from tests.fuzz.strategies import drawings

CHARTED = 8
"""One drawing in so many is also charted, which costs as much as its review."""

BLOCK = 500
"""Drawings between two looks at the count; a block ends early where it finds something."""


class Found(Exception):  # noqa: N818 - it is what was looked for
    """A drawing that shows the error looked for."""


@dataclass
class Tally:
    """What a hunt has seen."""

    drawings: int = 0
    readable: int = 0
    errors: dict = field(default_factory=dict)
    """Error -> the plainest drawing that shows it."""


def hunt(count, first_seed, *, chart=True, instants=INSTANTS, told=None, passed=None):
    """Review ``count`` drawings; the same seed gives the same drawings."""
    tally, number = Tally(), 0
    while tally.drawings < count:
        _block(
            tally,
            min(BLOCK, count - tally.drawings),
            f"{first_seed}-{number}",
            chart,
            instants,
            told,
        )
        number += 1
        if passed is not None:
            passed(first_seed, tally)
    return tally


def _block(tally, count, name, chart, instants, told):
    """Some drawings; ends at the first new error, after making its drawing plain."""
    wanted, plainest, reducing = None, "", False

    @seed(name)
    @settings(
        max_examples=count,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
        phases=(Phase.generate, Phase.shrink),
        report_multiple_bugs=False,
    )
    @given(drawings())
    def look(text):
        nonlocal wanted, plainest, reducing
        charted = wanted.doing == "chart" if wanted else crc32(text.encode()) % CHARTED == 0
        outcome = outcome_of(text, chart=chart and charted, instants=instants)
        if not reducing:
            tally.drawings += 1
            tally.readable += outcome.readable
        fresh = [e for e in outcome.errors if e not in tally.errors]
        wanted = wanted or next(iter(fresh), None)
        if wanted in fresh:
            plainest, reducing = text, True
            raise Found

    try:
        look()
    except Found:
        charted = wanted.doing == "chart"

        def shows(text):
            return wanted in outcome_of(text, chart=chart and charted, instants=instants).errors

        tally.errors[wanted] = _without_lines(plainest, shows)
        if told is not None:
            told(wanted, tally.errors[wanted])


def _without_lines(text, shows):
    """What is left when no line can go: hypothesis draws lines that later ones lean on."""
    lines = text.splitlines(keepends=True)
    for k in reversed(range(len(lines))):
        fewer = lines[:k] + lines[k + 1 :]
        if fewer and shows("".join(fewer)):
            lines = fewer
    return "".join(lines)


def told_hunt(count, first_seed, **options):
    """A hunt that prints what it finds when it finds it; can be sent to another process."""
    return hunt(count, first_seed, told=_say, passed=_progress, **options)


def _progress(first_seed, tally):
    print(f"seed {first_seed}: {tally.drawings} drawings", file=sys.stderr, flush=True)


def _say(error, text):
    print(f"{error.doing}: {error.type} in {error.place}\n{text}", flush=True)
