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
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import least_squares

from coldcheck.circuit.tubes import DATA, DataProblem, Sourced, known_types, load_type
from coldcheck.circuit.tubes_checks import law_form
from coldcheck.circuit.tubes_types import ONE_RECALL, TWO_RECALLS, SectionKind, SectionType
from coldcheck.records import dataclass
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
SPREAD = {
    "plate-current": 0.004,
    "screen-current": 0.03,
    "transconductance": 0.05,
    "plate-resistance": 0.08,
}
"""Weight of each figure, as a standard deviation of its logarithm, from a read document."""
LOOSER = {"found": 1.0, TWO_RECALLS: 1.2, "memory": 1.5, ONE_RECALL: 1.5, "derived": 1.5}
DOUBTFUL = 4.0
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
class Point:
    """A published point: ``volts`` in the order of the law's electrodes, ``wanted`` figures."""

    label: str
    volts: tuple[float, ...]
    wanted: Mapping[str, tuple[float, float]]
    """Figure -> (published SI value, standard deviation of its logarithm)."""


def points_of(kind: TubeType, form: str, section: str = "") -> list[Point]:
    """The points a law is fitted to; a cathode resistor is turned into the grid voltage it gives.

    Points that lack a voltage or the current say nothing to a fit; nor does one that takes grid
    current, which these laws do not know.
    """
    own = kind.points_of(section)
    return [_point(p, form) for p in own if not set(_volts(form)) - p.keys() and _biased(p)]


def _volts(form: str) -> tuple[str, ...]:
    screen = () if form == "triode" else ("screen-voltage",)
    return ("plate-voltage", "plate-current", *screen)


def _biased(point: Mapping[str, Sourced | str]) -> bool:
    return bool(point.keys() & {"grid-voltage", "cathode-resistor"})


def _point(published: Mapping[str, Sourced | str], form: str) -> Point:
    numbers = {k: v for k, v in published.items() if isinstance(v, Sourced)}
    names = ("plate-voltage", "screen-voltage") if form != "triode" else ("plate-voltage",)
    volts = (*(numbers[n].value for n in names), _grid_volts(numbers))
    doubtful = str(published.get("doubtful", "")).split()
    wanted = {
        figure: (numbers[figure].value, _spread(figure, numbers[figure], figure in doubtful, form))
        for figure in SPREAD
        if figure in numbers
    }
    label = " / ".join(f"{v:.4g} V" for v in volts)
    return Point(label, volts, wanted)


def _grid_volts(numbers: Mapping[str, Sourced]) -> float:
    if "grid-voltage" in numbers:
        return numbers["grid-voltage"].value
    currents = (numbers.get(n) for n in ("plate-current", "screen-current"))
    return -sum(c.value for c in currents if c) * numbers["cathode-resistor"].value


def _spread(figure: str, number: Sourced, doubtful: bool, form: str) -> float:
    wide = PENTODE_RP if figure == "plate-resistance" and form != "triode" else 1.0
    return SPREAD[figure] * LOOSER[number.confidence] * wide * (DOUBTFUL if doubtful else 1.0)


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
    mu = _expected_mu(kind, form, points)
    sharpness = 1.0 if "remote" in kind.description else 6.0
    priors = {
        "amplification": Prior(mu, 0.03 if form == "triode" else 0.3),
        "exponent": Prior(1.4, 0.05, plain=True),
        "perveance": Prior(2e-3, 3.0),
        "cut-off-sharpness": Prior(sharpness * mu, 0.7),
        "softening": Prior(300.0, 1.0),
        "contact-potential": Prior(0.3, 0.3, plain=True),
    }
    if form == "triode":
        return priors
    screens = (p.get("screen-voltage") for p in points)
    knee = next((0.05 * s.value for s in screens if isinstance(s, Sourced)), 10.0)
    priors |= {
        "penetration": Prior(0.003, 1.5),
        "share": Prior(0.9, 0.2),
        "knee": Prior(knee, 0.4),
    }
    if form == "converter":
        priors |= {"steer-centre": Prior(-2.0, 1.0, plain=True), "steer-width": Prior(1.5, 0.5)}
    return priors


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
    "exponent": (1.25, 1.6),
    "contact-potential": (-1.0, 2.0),
    "share": (0.3, 0.9999),
    "steer-centre": (-8.0, 2.0),
}


def _decoded(priors: Mapping[str, Prior], variables: Array) -> dict[str, float]:
    return {n: p.decode(v) for (n, p), v in zip(priors.items(), variables, strict=True)}


def _grid(values: Mapping[str, float]) -> dict[str, float]:
    return {"grid-perveance": float(f"{GRID_PART * values['perveance']:.4g}"), **GRID}


def _misfits(law: Law, point: Point, form: str) -> Iterator[float]:
    got = figures(law, point.volts)
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
    lines += ["", "[section.law]", f'form = "{form}"', "", "[section.law.parameters]"]
    lines += [f"{n} = {v!r}" for n, v in parameters.items()]
    law = amplifying_law(form, parameters)
    if law is not None:
        for point in points_of(kind, form, section.name):
            lines += _residual(law, point, section.kind)
    return lines


def _residual(law: Law, point: Point, kind: SectionKind) -> list[str]:
    lines = ["", "[[section.law.residual]]", f'point = "{point.label}"']
    got = figures(law, point.volts)
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
    needed = ("plate-voltage", "plate-current") if form == "rectifier" else _volts(form)
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
