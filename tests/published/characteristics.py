"""The laws from cut-off to saturation: single characteristics, and the whole shelf left out.

``characteristics.csv`` has what sheets print besides operating points: the grid voltage of a small
plate current or transconductance, currents at low plate volts, points of curves, the screen current
of an output stage at full drive. Before any law was fitted the types were split in two by
:func:`chosen_with`: what the fit expects of a family of types was chosen with one half, and only
the other half says how good that is. No row of either half is told to the law that predicts it: a
type's cut-off is predicted by its law fitted anew without what is told of small currents.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING
from zlib import crc32

import numpy as np
from scipy.optimize import brentq
from tests.published.points import FIGURES

from coldcheck.circuit.tubes import known_types, tube_type
from coldcheck.circuit.tubes_checks import law_form
from coldcheck.circuit.tubes_types import SectionKind, TubeType
from coldcheck.solve.tubes import fit
from coldcheck.solve.tubes.full_drive import Seat, full_drive
from coldcheck.solve.tubes.laws import amplifying_law

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.published.bench import Runner

    from coldcheck.solve.tubes.laws import Law

LOW_V, LEAST_A = -900.0, 1e-9
RATED, LITTLE = 0.2, 0.04
"""Share of the largest published current from which on a point counts as in the rated range, and
from which on as a small current rather than as cut off."""


def chosen_with(line: str) -> bool:
    """Whether what is expected of laws was chosen with the types of this line of types."""
    return crc32(line.encode()) & 1 == 0


def _form(kind: TubeType, section: str) -> tuple[str, str]:
    """The form of the law and the name of the section it is of."""
    found = next(s for s in kind.sections if not section or s.name == section)
    return law_form(found.kind) or "", found.name


@cache
def _without_tail(tube: str, section: str) -> Law:
    """The law of a type fitted to its operating points: not to small currents, nor to drive."""
    kind = _undriven(tube)
    form, name = _form(kind, section)
    tails = [
        raw
        for raw, point in zip(
            _usable(kind, form, name), fit.points_of(kind, form, name), strict=True
        )
        if all(spread == fit.TAIL_SPREAD for _, spread in point.wanted.values())
    ]
    rest = replace(kind, points=tuple(p for p in kind.points if p not in tails))
    law = amplifying_law(form, fit.fit(rest, form, name))
    assert law is not None
    return law


def _undriven(tube: str) -> TubeType:
    kind = tube_type(tube)
    points = tuple({k: v for k, v in p.items() if k != fit.DRIVEN} for p in kind.points)
    return replace(kind, points=points)


def _usable(kind: TubeType, form: str, section: str) -> list[object]:
    return [p for p in kind.points_of(section) if fit.usable(p, form)]


def _volts(plate: float, screen: float, grid: float) -> np.ndarray:
    rows = [plate, screen, grid] if screen else [plate, grid]
    return np.array(rows)[:, None]


def cut_off(
    _: float, tube: str, plate: float, ma: float, section: str = "", screen: float = 0
) -> float:
    """Grid volts at which the plate still draws so many milliamperes."""
    law = _without_tail(tube, section)
    found: float = brentq(
        lambda g: 1e3 * law.currents(_volts(plate, screen, g))[0][0, 0] - ma, LOW_V, 0.0
    )
    return found


def remote(
    _: float, tube: str, plate: float, screen: float, ma_per_v: float, section: str = ""
) -> float:
    """Grid volts at which the transconductance is still so many milliamperes a volt."""
    law = _without_tail(tube, section)
    found: float = brentq(
        lambda g: 1e3 * law.currents(_volts(plate, screen, g))[1][0, -1, 0] - ma_per_v, LOW_V, 0.0
    )
    return found


def at_volts(
    _: float, tube: str, plate: float, grid: float, read: str, section: str = "", screen: float = 0
) -> float:
    """A figure at given volts."""
    name, factor = FIGURES[read]
    volts = (plate, screen, grid) if screen else (plate, grid)
    return fit.figures(_without_tail(tube, section), volts)[name] * factor


def driven(
    _: float, tube: str, plate: float, screen: float, grid: float, load: float, drive: float,
    pair: float = 0, section: str = "",
) -> float:  # fmt: skip
    """Mean screen current (mA) of an output stage whose grid is driven ``drive`` volts each way."""
    seat = Seat(plate, screen, grid, load, push_pull=bool(pair))
    return 1e3 * full_drive(_without_tail(tube, section), seat, drive).screen_mean_a


# -- the whole shelf, each point left out ----------------------------------------------------------


@cache
def shelf() -> tuple[tuple[str, str, int], ...]:
    """(type, section, point) of every point that others of its type are on file beside.

    Of types with the same points, as pairs of heaters have, the first; none that the expectations
    were chosen with.
    """
    seen: set[object] = set()
    return tuple(found for name in known_types() for found in _own(tube_type(name), seen))


def _own(kind: TubeType, seen: set[object]) -> Iterator[tuple[str, str, int]]:
    for group in fit.section_groups(kind):
        form, section = law_form(group[0].kind) or "", group[0].name
        if group[0].kind not in (SectionKind.TRIODE, SectionKind.PENTODE) or not group[0].law:
            continue
        points = fit.points_of(kind, form, section)
        same = (form, tuple((p.volts, tuple(p.wanted.items())) for p in points))
        if same in seen or chosen_with(kind.name):
            continue
        seen.add(same)
        yield from (
            (kind.name, section, n) for n in range(len(points)) if _fair(kind, form, section, n)
        )


def _fair(kind: TubeType, form: str, section: str, number: int) -> bool:
    """Whether the other points of a type still say what a fit needs.

    A rated point that has only small currents beside it is nothing that a law could foretell.
    """
    gone = _usable(kind, form, section)[number]
    rest = replace(kind, points=tuple(p for p in kind.points if p is not gone))
    raw = rest.points_of(section)
    amps = [_amps(p) for p in fit.points_of(rest, form, section)]
    factor = form != "triode" or any("amplification-factor" in p for p in raw)
    own = _amps(fit.points_of(kind, form, section)[number])
    return factor and max(amps, default=0.0) >= max(RATED * own, LEAST_A)


def _amps(point: fit.Point) -> float:
    return point.wanted.get("plate-current", (0.0, 0.0))[0]


@cache
def _left(tube: str, section: str, point: int) -> Law:
    kind = tube_type(tube)
    form = _form(kind, section)[0]
    gone = _usable(kind, form, section)[point]
    rest = replace(kind, points=tuple(p for p in kind.points if p is not gone))
    law = amplifying_law(form, fit.fit(rest, form, section))
    assert law is not None
    return law


def shelf_left_out(_: float, tube: str, point: float, read: str, section: str = "") -> float:
    """The law fitted to the other points of the type, at the point left out."""
    kind = tube_type(tube)
    name, factor = FIGURES[read]
    volts = fit.points_of(kind, _form(kind, section)[0], section)[int(point)].volts
    return fit.figures(_left(tube, section, int(point)), volts)[name] * factor


def told(tube: str, section: str, number: int) -> Iterator[tuple[str, str, float]]:
    """(what to read, family, published answer) of a point of the shelf."""
    kind = tube_type(tube)
    form = _form(kind, section)[0]
    points = fit.points_of(kind, form, section)
    most = max(p.wanted["plate-current"][0] for p in points if "plate-current" in p.wanted)
    point = points[number]
    share = point.wanted.get("plate-current", (0.0, 0.0))[0] / most
    for read, (name, factor) in FIGURES.items():
        if name in point.wanted and share >= RATED:
            family = f"shelf, {form}: {name.replace('-', ' ')}"
            yield read, family, point.wanted[name][0] * factor
        elif name == "plate-current" and share >= LITTLE:
            family = f"shelf, {form}: plate current at a twentieth or tenth of the rated"
            yield read, family, point.wanted[name][0] * factor


RUNNERS: dict[str, Runner] = {
    "cut-off": cut_off,
    "remote": remote,
    "at-volts": at_volts,
    "driven": driven,
    "shelf-left-out": shelf_left_out,
}
