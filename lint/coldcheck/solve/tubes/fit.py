"""Fits the tube laws to the published points: ``python -m coldcheck.solve.tubes.fit NAME...``.

Rewrites the ``[[section]]`` tables at the end of the named files of the tube library (``--all``:
of every one) and prints how far each law is from its points. A section without what its law would
be made of is left without one: it is solved as a load of which nothing is known. Unequal sections
have a law each, from the points that name them. One or two points do not determine
five or more parameters: the rest is held near the priors below, whose widths say how sure they
are. Least squares on the logarithms of predicted over published, each divided by its weight, plus
the priors.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import least_squares

from coldcheck.circuit.tubes import DATA, DataProblem, Sourced, known_types, load_type
from coldcheck.circuit.tubes_checks import law_form
from coldcheck.circuit.tubes_types import ONE_RECALL, TWO_RECALLS, SectionKind, SectionType
from coldcheck.records import dataclass
from coldcheck.solve.tubes.full_drive import Seat, full_drive
from coldcheck.solve.tubes.laws import amplifying_law

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from coldcheck.circuit.tubes import TubeType
    from coldcheck.solve.tubes.laws import Array, Law

MARK = "# Below this line: written by python -m coldcheck.solve.tubes.fit"
GRID = {"grid-offset": -0.2, "grid-width": 0.135}
"""Volt; common practice, see :func:`coldcheck.solve.tubes.laws.grid_current`. The width gives the
0.09 V e-folding of electrons at 1050 K; the offset some 0.2 uA at -0.6 V for a small triode."""
GRID_PART = 0.2
"""Grid perveance as a part of the cathode's; assumption, no data on file."""
DIODE_K = 2.5e-4
"""Perveance of a small detector diode, ampere per volt^1.5; assumption, no data on file."""
DRIVEN = "driven-screen-current"
SPREAD = {
    "plate-current": 0.01,
    "screen-current": 0.03,
    "transconductance": 0.05,
    "plate-resistance": 0.08,
    DRIVEN: 0.06,
}
"""Weight of each figure, as a standard deviation of its logarithm, from a read document."""
LOOSER = {"found": 1.0, TWO_RECALLS: 1.2, "memory": 1.5, ONE_RECALL: 1.5, "derived": 1.5}
DOUBTFUL = 4.0
TAIL_SHARE, TAIL_SPREAD = 0.1, 0.3
"""Below this share of the largest current a figure tells a voltage, and the current as loosely."""
PENTODE_RP = 2.0
"""A pentode's plate resistance is read off nearly level curves: so much less sure."""
STEERING = np.pi / 2.0
"""Third grid's mean transconductance over the conversion transconductance, for a space current
that the oscillator switches on for half of each period (derived)."""


@dataclass(frozen=True, slots=True)
class Prior:
    """Expected value and width of one parameter; the width is relative unless ``plain``."""

    mean: float
    width: float
    plain: bool = False

    def encode(self, value: float) -> float:
        """The parameter as the fit's variable."""
        return value if self.plain else float(np.log(value))

    def decode(self, variable: float) -> float:
        """The fit's variable as the parameter."""
        return float(variable if self.plain else np.exp(variable))

    def deviation(self, variable: float) -> float:
        """How many widths the variable is from the prior."""
        return (variable - self.encode(self.mean)) / self.width


@dataclass(frozen=True, slots=True)
class Expected:
    """What is expected of a family's parameters; the names are the parameters'.

    ``more`` is over the published amplification, ``tail_close`` a power of how close the grid is.
    """

    more: float
    exponent: float
    sharpness: float
    softening: float
    contact: float
    contact_width: float
    tail_part: float
    tail_reach: float
    tail_close: float
    penetration: float = 0.0
    knee: float = 0.0
    screen_part: float = 0.0
    screen_fall: float = 0.0
    screen_focus: float = 0.0
    focus_width: float = 0.3


CLOSE = 0.05
"""Perveance times amplification of a grid that is neither close to its cathode nor far from it."""
SMALL_A = 16e-3
"""Most plate current, at a published point, of a pentode that is no power pentode."""
_PENTODE = Expected(
    1.0, 1.4, 6.0, 300.0, 0.3, 0.3, 0.015, 1.4, 0.2, 0.001, 0.05, 0.3, 0.1, 0.1, 0.1
)
EXPECTED = {
    "triode": Expected(1.08, 1.38, 6.7, 1400.0, 0.5, 0.2, 0.03, 1.8, 0.475),
    "beam": replace(
        _PENTODE, penetration=0.004, knee=1.0, screen_part=0.08, screen_fall=0.4,
        screen_focus=0.1, focus_width=0.2,
    ),
    "power": replace(
        _PENTODE, penetration=0.004, knee=0.5, screen_part=0.16, screen_fall=0.2, screen_focus=0.05
    ),
    "small": _PENTODE,
    "remote": replace(_PENTODE, sharpness=3.0, tail_part=0.1, tail_reach=8.0, tail_close=0.0),
    "converter": _PENTODE,
}  # fmt: skip
"""Chosen with the half of the published figures that tests/published calls so, held against the
other half."""


USUALLY_OFF = {
    "triode": 0.08,
    "beam": 0.08,
    "power": 0.07,
    "small": 0.06,
    "remote": 0.05,
    "converter": 0.1,
}
"""Plate current of points left out of the fit: root of the mean square of each family, rounded."""
RATED_SHARE, MOST_OFF = 0.2, 0.5
"""Share of the largest current from which on a point is in the rated range; most of one error."""


@dataclass(frozen=True, slots=True)
class Point:
    """A published point: ``volts`` in the order of the law's electrodes, ``wanted`` figures."""

    label: str
    volts: tuple[float, ...]
    wanted: Mapping[str, tuple[float, float]]
    """Figure -> (published SI value, standard deviation of its logarithm)."""
    load: float = 0.0
    """Ohms of the load that figures of full drive are for."""


def points_of(kind: TubeType, form: str, section: str = "") -> list[Point]:
    """The points a law is fitted to; a cathode resistor is turned into the grid voltage it gives.

    Points that lack a voltage, or the current and what tells of it, say nothing to a fit; nor does
    one that takes grid current, which these laws do not know.
    """
    own = [p for p in kind.points_of(section) if usable(p, form)]
    most = _most_current(own)
    return [_point(p, form, most) for p in own]


def _most_current(points: Iterable[Mapping[str, Sourced | str]]) -> float:
    """The largest plate current of the points, amperes."""
    amps = (p.get("plate-current") for p in points)
    return max((a.value for a in amps if isinstance(a, Sourced)), default=0.0)


def usable(point: Mapping[str, Sourced | str], form: str) -> bool:
    """Whether a point has the volts a law takes, and a current or its slope at them."""
    told = point.keys() & {"plate-current", "transconductance"}
    return bool(told) and not set(_volts(form)) - point.keys() and _biased(point)


def _volts(form: str) -> tuple[str, ...]:
    return ("plate-voltage",) if form == "triode" else ("plate-voltage", "screen-voltage")


def _biased(point: Mapping[str, Sourced | str]) -> bool:
    return bool(point.keys() & {"grid-voltage", "cathode-resistor"})


def _point(published: Mapping[str, Sourced | str], form: str, most: float) -> Point:
    numbers = {k: v for k, v in published.items() if isinstance(v, Sourced)}
    names = ("plate-voltage", "screen-voltage") if form != "triode" else ("plate-voltage",)
    volts = (*(numbers[n].value for n in names), _grid_volts(numbers))
    doubtful = str(published.get("doubtful", "")).split()
    current = numbers.get("plate-current")
    tail = current is None or current.value < TAIL_SHARE * most
    load = numbers["load"].value if "load" in numbers else 0.0
    driven = form == "pentode" and load > 0
    wanted = {
        figure: (
            numbers[figure].value,
            TAIL_SPREAD if tail else _spread(figure, numbers[figure], figure in doubtful, form),
        )
        for figure in SPREAD
        if figure in numbers and (driven or figure != DRIVEN)
    }
    label = " / ".join(f"{v:.4g} V" for v in volts)
    return Point(label, volts, wanted, load)


def _grid_volts(numbers: Mapping[str, Sourced]) -> float:
    if "grid-voltage" in numbers:
        return numbers["grid-voltage"].value
    currents = (numbers.get(n) for n in ("plate-current", "screen-current"))
    return -sum(c.value for c in currents if c) * numbers["cathode-resistor"].value


def _spread(figure: str, number: Sourced, doubtful: bool, form: str) -> float:
    wide = PENTODE_RP if figure == "plate-resistance" and form != "triode" else 1.0
    return SPREAD[figure] * LOOSER[number.confidence] * wide * (DOUBTFUL if doubtful else 1.0)


def predicted(law: Law, point: Point) -> dict[str, float]:
    """What the law gives for every figure of a point (SI)."""
    got = figures(law, point.volts)
    if DRIVEN in point.wanted:
        plate, screen, grid = point.volts
        got[DRIVEN] = full_drive(law, Seat(plate, screen, grid, point.load)).screen_mean_a
    return got


def figures(law: Law, volts: tuple[float, ...]) -> dict[str, float]:
    """What the law gives at a point: currents, transconductance, plate resistance (SI)."""
    currents, slopes = law.currents(np.array(volts)[:, None])
    result = {
        "plate-current": float(currents[0, 0]),
        "transconductance": float(slopes[0, -1, 0]),
        "plate-resistance": float(1.0 / max(slopes[0, 0, 0], 1e-12)),
    }
    if len(volts) == 3:
        result["screen-current"] = float(currents[1, 0])
    return result


def priors_of(kind: TubeType, form: str, section: str = "") -> dict[str, Prior]:
    """What is expected of the parameters before the points are looked at."""
    points = kind.points_of(section)
    expected = EXPECTED[_family(kind, form, points)]
    mu = _expected_mu(kind, form, points) * expected.more
    perveance = _expected_perveance(points_of(kind, form, section), mu, expected)
    close = perveance * mu / CLOSE
    priors = {
        "amplification": Prior(mu, 0.04 if form == "triode" else 0.3),
        "exponent": Prior(expected.exponent, 0.05, plain=True),
        "perveance": Prior(perveance, 1.0),
        "cut-off-sharpness": Prior(expected.sharpness * mu, 0.4),
        "softening": Prior(expected.softening, 0.6),
        "contact-potential": Prior(expected.contact, expected.contact_width, plain=True),
        "tail-part": Prior(expected.tail_part, 0.7),
        "tail-reach": Prior(max(expected.tail_reach * close**expected.tail_close, 1.05), 0.3),
    }
    if form == "triode":
        return priors
    priors |= {
        "penetration": Prior(expected.penetration, 1.5),
        "knee": Prior(expected.knee, 0.5),
        "screen-part": Prior(expected.screen_part, 0.5),
        "screen-fall": Prior(expected.screen_fall, 0.3, plain=True),
        "screen-focus": Prior(expected.screen_focus, expected.focus_width, plain=True),
    }
    if form == "converter":
        priors |= {"steer-centre": Prior(-2.0, 1.0, plain=True), "steer-width": Prior(1.5, 0.5)}
    return priors


def _family(kind: TubeType, form: str, points: Sequence[Mapping[str, Sourced | str]]) -> str:
    """Which expectations a type shares: how its grids are made, by its description."""
    if form != "pentode":
        return form
    if "remote" in kind.description:
        return "remote"
    if "beam" in kind.description:
        return "beam"
    output = "power" in kind.description or "output" in kind.description
    power = output or _most_current(points) > SMALL_A
    return "power" if power else "small"


def _expected_perveance(points: Sequence[Point], mu: float, expected: Expected) -> float:
    """From the point with most current: I = p E^x, with E = x I/gm, or else from the voltages."""
    known = [p for p in points if "plate-current" in p.wanted]
    best = max(known, key=lambda p: p.wanted["plate-current"][0], default=None)
    if best is None:
        return 2e-3
    amps = best.wanted["plate-current"][0]
    total = amps + best.wanted.get("screen-current", (0.0, 0.0))[0]
    field = best.volts[0] if len(best.volts) == 2 else best.volts[1]
    drive = max(field / mu + best.volts[-1] + expected.contact, 1.0)
    if "transconductance" in best.wanted:
        drive = expected.exponent * amps / best.wanted["transconductance"][0]
    return float(total / drive**expected.exponent)


def _expected_mu(kind: TubeType, form: str, points: Iterable[Mapping[str, Sourced | str]]) -> float:
    """The published factor of a triode; for pentodes of the screen grid, which few print.

    807 and 6146 have one point without a transconductance: theirs are from memory (RCA).
    Otherwise 9 for power and 30 for voltage amplifiers, wide enough to be overruled.
    """
    name = "amplification-factor" if form == "triode" else "screen-amplification-factor"
    factors = [f.value for p in points if isinstance(f := p.get(name), Sourced)]
    if factors:
        return float(np.mean(factors))
    remembered = {"807": 8.0, "6146": 4.5}
    small = "af" in kind.description or "rf" in kind.description or form == "converter"
    return remembered.get(kind.name, 30.0 if small else 9.0)


def fit(kind: TubeType, form: str, section: str = "") -> dict[str, float]:
    """The parameters of an amplifying section, names as in the data files."""
    priors, points = priors_of(kind, form, section), points_of(kind, form, section)
    names = list(priors)
    start = [p.encode(p.mean) for p in priors.values()]

    def misfit(variables: Array) -> Array:
        values = _decoded(priors, variables)
        law = amplifying_law(form, values | _grid(values))
        assert law is not None
        ours = [p.deviation(v) for p, v in zip(priors.values(), variables, strict=True)]
        return np.array(ours + [r for p in points for r in _misfits(law, p, form)])

    low = [p.encode(_BOUNDS.get(n, (p.mean / 1e3, 0))[0]) for n, p in priors.items()]
    high = [p.encode(_BOUNDS.get(n, (0, p.mean * 1e3))[1]) for n, p in priors.items()]
    best = least_squares(misfit, start, bounds=(low, high), xtol=1e-14, ftol=1e-14, max_nfev=4000)
    values = _decoded(priors, best.x)
    rounded = {n: float(f"{values[n]:.7g}") for n in names}
    return rounded | _grid(rounded)


_BOUNDS = {
    "exponent": (1.2, 1.7),
    "contact-potential": (-1.0, 2.0),
    "tail-part": (1e-6, 0.6),
    "tail-reach": (1.0, 20.0),
    "screen-fall": (0.0, 3.0),
    "screen-focus": (0.0, 1.15),
    "steer-centre": (-8.0, 2.0),
}


def _decoded(priors: Mapping[str, Prior], variables: Array) -> dict[str, float]:
    return {n: p.decode(v) for (n, p), v in zip(priors.items(), variables, strict=True)}


def _grid(values: Mapping[str, float]) -> dict[str, float]:
    return {"grid-perveance": float(f"{GRID_PART * values['perveance']:.4g}"), **GRID}


def _misfits(law: Law, point: Point, form: str) -> Iterator[float]:
    got = predicted(law, point)
    for figure, (published, spread) in point.wanted.items():
        aim = published
        if form == "converter" and figure == "transconductance":
            aim, spread = published * STEERING, 0.3
        yield float(np.log(max(got[figure], 1e-15) / aim)) / spread


def _plain_law(kind: TubeType, section: SectionType) -> dict[str, float]:
    """Rectifiers and regulators need no fit: their parameters follow from the figures."""
    if section.kind is not SectionKind.REGULATOR:
        drops = [
            p
            for p in kind.points_of(section.name)
            if {"plate-voltage", "plate-current"} <= p.keys()
        ]
        k = perveance(drops[0], "plate-voltage", "plate-current") if drops else DIODE_K
        return {"perveance": k}
    figure = {k: v.value for k, v in kind.ratings.items()}
    least, most = figure["minimum-current"], figure["maximum-current"]
    slope = figure["regulation"] / (most - least)
    return {
        "start": figure["starting-voltage"],
        "operating": figure["operating-voltage"],
        "slope": float(f"{slope:.7g}"),
        "least": least,
        "most": most,
    }


def perveance(point: Mapping[str, Sourced | str], volts: str, amps: str) -> float:
    """Of an electrode that takes ``amps`` at ``volts``, by the law of Child and Langmuir."""
    v, i = point[volts], point[amps]
    assert isinstance(v, Sourced)
    assert isinstance(i, Sourced)
    return float(f"{i.value / v.value**1.5:.7g}")


_BESIDE = {
    "target": ("target-voltage", "target-current"),
    "grid2": ("grid2-voltage", "grid2-current"),
}
"""Electrode that takes a current of its own -> what a point has to tell of it."""


def _beside(kind: TubeType, section: SectionType) -> Iterator[tuple[str, float]]:
    """The perveances of the electrodes beside those that the law is of."""
    if any(e.startswith("diode") for e in section.electrodes):
        yield "diode-perveance", DIODE_K
    for electrode, figures_of in _BESIDE.items():
        known = [p for p in kind.points_of(section.name) if set(figures_of) <= p.keys()]
        if electrode in section.electrodes and known:
            yield f"{electrode}-perveance", perveance(known[0], *figures_of)


def section_groups(kind: TubeType) -> list[tuple[SectionType, ...]]:
    """The sections of a type, those that share a law together."""
    unequal = any("section" in p for p in kind.points) or kind.ratings_of
    groups: list[tuple[SectionType, ...]] = []
    for section in kind.sections:
        if groups and groups[-1][0].kind is section.kind and not unequal:
            groups[-1] = (*groups[-1], section)
        else:
            groups.append((section,))
    return groups


def law_lines(kind: TubeType) -> list[str]:
    """The section tables of a type, its laws fitted anew, as lines of TOML."""
    return [line for group in section_groups(kind) for line in _table(kind, group)]


def _table(kind: TubeType, group: Sequence[SectionType]) -> list[str]:
    section = group[0]
    names = ", ".join(f'"{s.name}"' for s in group)
    lines = ["", "[[section]]", f"names = [{names}]", f'kind = "{section.kind.value}"']
    form = law_form(section.kind)
    if form is None or any(True for _ in _lacking(kind, section)):
        return lines
    parameters = (
        fit(kind, form, section.name) if section.kind.amplifies else _plain_law(kind, section)
    )
    parameters |= dict(_beside(kind, section))
    off = [f"off = {law_off(kind, form, section.name)!r}"] if section.kind.amplifies else []
    lines += ["", "[section.law]", f'form = "{form}"', *off, "", "[section.law.parameters]"]
    lines += [f"{n} = {v!r}" for n, v in parameters.items()]
    law = amplifying_law(form, parameters)
    if law is not None:
        for point in points_of(kind, form, section.name):
            lines += _residual(law, point, section.kind)
    return lines


def law_off(kind: TubeType, form: str, section: str) -> float:
    """How far the plate current of a law is off between its points, as a share.

    Each point is left out in turn and told by a law fitted to the others. What comes out for the
    whole family counts as two points more, so that one lucky or unlucky point says little.
    """
    told = [_undriven(p) if usable(p, form) else p for p in kind.points]
    usual = USUALLY_OFF[_family(kind, form, kind.points_of(section))]
    errors = [
        e
        for p in told
        if section in ("", str(p.get("section", section))) and usable(p, form)
        for e in _left_out(replace(kind, points=tuple(told)), p, form, section)
    ]
    squares = sum(min(e, MOST_OFF) ** 2 for e in errors) + 2 * usual**2
    return float(f"{(squares / (len(errors) + 2)) ** 0.5:.2g}")


def _undriven(point: Mapping[str, Sourced | str]) -> Mapping[str, Sourced | str]:
    """Without what takes a whole cycle to work out."""
    return {k: v for k, v in point.items() if k != DRIVEN}


def _left_out(
    kind: TubeType, point: Mapping[str, Sourced | str], form: str, section: str
) -> Iterator[float]:
    """How far the law without a point is off its plate current, if that says anything."""
    rest = replace(kind, points=tuple(p for p in kind.points if p is not point))
    others = [p for p in rest.points_of(section) if usable(p, form) and "plate-current" in p]
    factor = form != "triode" or any("amplification-factor" in p for p in others)
    (own,) = points_of(replace(kind, points=(point,)), form, section)
    if not others or not factor or "plate-current" not in own.wanted:
        return
    most = _most_current(others)
    amps = own.wanted["plate-current"][0]
    if not RATED_SHARE * most <= amps <= most / RATED_SHARE:
        return
    law = amplifying_law(form, fit(rest, form, section))
    assert law is not None
    yield abs(float(np.log(max(figures(law, own.volts)["plate-current"], 1e-12) / amps)))


def _residual(law: Law, point: Point, kind: SectionKind) -> list[str]:
    lines = ["", "[[section.law.residual]]", f'point = "{point.label}"']
    got = predicted(law, point)
    for figure, (published, _) in point.wanted.items():
        if kind is not SectionKind.CONVERTER or figure != "transconductance":
            lines.append(f"{figure}-published = {published!r}")
            lines.append(f"{figure}-predicted = {float(f'{got[figure]:.5g}')!r}")
    return lines


def refitted(text: str, name: str) -> str:
    """A data file with its laws fitted anew; what stands above the marked line stays as it is.

    A new file has its ``[[section]]`` tables, with names and kind, and may lack the marked line
    and the law. A section without what its law needs, see :func:`lacking`, is left without one.
    """
    kind = load_type(text, name, fitted=False)
    end = text.index(MARK) if MARK in text else text.index("[[section]]")
    return text[:end] + MARK + "\n" + "\n".join(law_lines(kind)) + "\n"


_RATED = (
    *("starting-voltage", "operating-voltage"),
    *("minimum-current", "maximum-current", "regulation"),
)
"""What a gas tube's law is made of."""


def lacking(kind: TubeType) -> Iterator[tuple[str, str]]:
    """(key, reason) of everything the laws would need and the file does not have."""
    for group in section_groups(kind):
        yield from _lacking(kind, group[0])


def _lacking(kind: TubeType, section: SectionType) -> Iterator[tuple[str, str]]:
    form = law_form(section.kind)
    if form == "regulator":
        yield from ((f"ratings.{n}", "the law needs it") for n in _RATED if n not in kind.ratings)
    elif form is None:
        yield "section", f"there is no law for a {section.kind.value}"
    elif section.kind is not SectionKind.DIODE:
        yield from _wanting(kind.points_of(section.name), section)


def _wanting(
    points: Sequence[Mapping[str, Sourced | str]], section: SectionType
) -> Iterator[tuple[str, str]]:
    """What no point has: what keeps the best of them from being fitted to."""
    if not points:
        yield "point", "a law is fitted to at least one published point, [[point]]"
        return
    form = law_form(section.kind) or ""
    volts = ("plate-voltage",) if form == "rectifier" else _volts(form)
    needed = (*volts, "plate-current")
    gaps = [[n for n in needed if n not in p] for p in points]
    yield from ((f"point.{n}", "the law needs it") for n in min(gaps, key=len))
    if form == "triode" and not any("amplification-factor" in p for p in points):
        yield "point.amplification-factor", "the law needs it"
    if section.kind.amplifies and not any(_biased(p) for p in points):
        yield "point", "the law needs its grid-voltage or its cathode-resistor"


def main(names: Sequence[str]) -> None:
    """Fit the named types, or every one with ``--all``, and print how far each law is off."""
    if not names:
        raise SystemExit("which types? NAME... or --all")
    for name in known_types() if "--all" in names else names:
        path = DATA / f"{name}.toml"
        if not path.is_file():
            raise SystemExit(f"there is no {path}")
        try:
            text = refitted(path.read_text(encoding="utf-8"), path.name)
        except DataProblem as problem:
            raise SystemExit(str(problem)) from None
        path.write_text(text, encoding="utf-8")
        kind = load_type(text, path.name)
        print(name, *errors(kind), *(f"{k}: {why}" for k, why in lacking(kind)), sep="  ")


def errors(kind: TubeType) -> list[str]:
    """The figures of a type's laws in percent off the published ones, point by point."""
    result = []
    laws = [group[0].law for group in section_groups(kind)]
    for residual in (r for law in laws if law for r in law.residuals):
        for figure in SPREAD:
            published = residual.get(f"{figure}-published")
            predicted = residual.get(f"{figure}-predicted")
            if isinstance(published, float) and isinstance(predicted, float):
                result.append(f"{figure} {100 * (predicted / published - 1):+.1f}%")
        result.append("|")
    return result


if __name__ == "__main__":
    main(sys.argv[1:])
