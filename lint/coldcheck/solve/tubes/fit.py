"""Fits the tube laws to the published points: ``python -m coldcheck.solve.tubes.fit NAME...``.

Rewrites the ``[[section]]`` tables at the end of the named files of the tube library (``--all``:
of every one) and prints how far each law is from its points. One or two points do not determine
five or more parameters: the rest is held near the priors below, whose widths say how sure they
are. Least squares on the logarithms of predicted over published, each divided by its weight, plus
the priors.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, assert_never

import numpy as np
from scipy.optimize import least_squares

from coldcheck.circuit.tubes import DATA, DataProblem, Sourced, known_types, load_type
from coldcheck.circuit.tubes_types import SectionKind
from coldcheck.records import dataclass
from coldcheck.solve.tubes.laws import amplifying_law

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

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
LOOSER = {"found": 1.0, "memory": 1.5, "derived": 1.5}
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


def points_of(kind: TubeType, form: str) -> list[Point]:
    """The points of a type; a cathode resistor is turned into the grid voltage it gives."""
    return [_point(p, form) for p in kind.points]


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


def priors_of(kind: TubeType, form: str) -> dict[str, Prior]:
    """What is expected of the parameters before the points are looked at."""
    first = kind.points[0]
    mu = _expected_mu(kind, form)
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
    screen = first["screen-voltage"]
    knee = 0.05 * screen.value if isinstance(screen, Sourced) else 10.0
    priors |= {
        "penetration": Prior(0.003, 1.5),
        "share": Prior(0.9, 0.2),
        "knee": Prior(knee, 0.4),
    }
    if form == "converter":
        priors |= {"steer-centre": Prior(-2.0, 1.0, plain=True), "steer-width": Prior(1.5, 0.5)}
    return priors


def _expected_mu(kind: TubeType, form: str) -> float:
    """The published factor of a triode; for pentodes of the screen grid, which few print.

    807 and 6146 have one point without a transconductance: theirs are from memory (RCA).
    Otherwise 9 for power and 30 for voltage amplifiers, wide enough to be overruled.
    """
    if form == "triode":
        factors = [p["amplification-factor"] for p in kind.points if "amplification-factor" in p]
        return float(np.mean([f.value for f in factors if isinstance(f, Sourced)]))
    remembered = {"807": 8.0, "6146": 4.5}
    small = "af" in kind.description or "rf" in kind.description or form == "converter"
    return remembered.get(kind.name, 30.0 if small else 9.0)


def fit(kind: TubeType, form: str) -> dict[str, float]:
    """The parameters of an amplifying type, names as in the data files."""
    priors, points = priors_of(kind, form), points_of(kind, form)
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


def _plain_law(kind: TubeType, form: str) -> dict[str, float]:
    """Rectifiers and regulators need no fit: their parameters follow from the figures."""
    if form == "rectifier":
        drop = {k: v.value for k, v in kind.points[0].items() if isinstance(v, Sourced)}
        return {"perveance": float(f"{drop['plate-current'] / drop['plate-voltage'] ** 1.5:.7g}")}
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


def law_lines(kind: TubeType) -> list[str]:
    """The section tables of a type, its law fitted anew, as lines of TOML."""
    form = kind.sections[0].kind.value
    amplifying = kind.sections[0].kind.amplifies
    parameters = fit(kind, form) if amplifying else _plain_law(kind, form)
    if "diode1" in kind.sections[0].electrodes:
        parameters["diode-perveance"] = DIODE_K
    names = ", ".join(f'"{s.name}"' for s in kind.sections)
    lines = ["", "[[section]]", f"names = [{names}]", f'kind = "{form}"', ""]
    lines += ["[section.law]", f'form = "{form}"', "", "[section.law.parameters]"]
    lines += [f"{n} = {v!r}" for n, v in parameters.items()]
    law = amplifying_law(form, parameters)
    for point in points_of(kind, form) if law else ():
        assert law is not None
        lines += ["", "[[section.law.residual]]", f'point = "{point.label}"']
        got = figures(law, point.volts)
        for figure, (published, _) in point.wanted.items():
            if form == "converter" and figure == "transconductance":
                continue
            lines.append(f"{figure}-published = {published!r}")
            lines.append(f"{figure}-predicted = {float(f'{got[figure]:.5g}')!r}")
    return lines


def refitted(text: str, name: str) -> str:
    """A data file with its laws fitted anew; what stands above the marked line stays as it is.

    A new file has its ``[[section]]`` tables, with names and kind, and may lack the marked line
    and the law. Raises DataProblem where there is nothing to fit to.
    """
    kind = load_type(text, name, fitted=False)
    for key, reason in lacking(kind):
        raise DataProblem(name, key, reason)
    end = text.index(MARK) if MARK in text else text.index("[[section]]")
    return text[:end] + MARK + "\n" + "\n".join(law_lines(kind)) + "\n"


_RATED = (
    *("starting-voltage", "operating-voltage"),
    *("minimum-current", "maximum-current", "regulation"),
)
"""What a gas tube's law is made of."""


def _needed(kind: SectionKind) -> tuple[str, ...]:
    """What the first published point has to have; a rectifier's is its drop."""
    drop = ("plate-voltage", "plate-current")
    match kind:
        case SectionKind.TRIODE:
            return (*drop, "amplification-factor")
        case SectionKind.PENTODE | SectionKind.CONVERTER:
            return (*drop, "screen-voltage")
        case SectionKind.RECTIFIER:
            return drop
        case SectionKind.REGULATOR:
            return ()
        case _:
            assert_never(kind)


def lacking(kind: TubeType) -> Iterator[tuple[str, str]]:
    """(key, reason) of everything the fit would need and the file does not have."""
    first = kind.sections[0].kind
    if any(section.kind is not first for section in kind.sections):
        yield "section", "sections of different kinds are not fitted"
    if first is SectionKind.REGULATOR:
        yield from ((f"ratings.{n}", "the law needs it") for n in _RATED if n not in kind.ratings)
    elif not kind.points:
        yield "point", "a law is fitted to at least one published point, [[point]]"
    else:
        known = kind.points[0]
        yield from ((f"point.{n}", "the law needs it") for n in _needed(first) if n not in known)
    if first.amplifies:
        for point in kind.points:
            if not point.keys() & {"grid-voltage", "cathode-resistor"}:
                yield "point", "each needs its grid-voltage or its cathode-resistor"


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
        print(name, *errors(load_type(text, path.name)), sep="  ")


def errors(kind: TubeType) -> list[str]:
    """The figures of a type's law in percent off the published ones, point by point."""
    law = kind.sections[0].law
    result = []
    for residual in law.residuals if law else ():
        for figure in SPREAD:
            published = residual.get(f"{figure}-published")
            predicted = residual.get(f"{figure}-predicted")
            if isinstance(published, float) and isinstance(predicted, float):
                result.append(f"{figure} {100 * (predicted / published - 1):+.1f}%")
        result.append("|")
    return result


if __name__ == "__main__":
    main(sys.argv[1:])
