"""``coldcheck chart``: voltages and resistances to expect, and how to measure a point."""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import OK, UNREADABLE
from coldcheck.cli.configured import settings_of
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import console_text, show, to_file, to_stdout

if TYPE_CHECKING:
    from argparse import Namespace

    from coldcheck.bench.chart import Bench
    from coldcheck.bench.explain import Explanation
    from coldcheck.bench.instruments import Instrument
    from coldcheck.bench.model import Chart
    from coldcheck.circuit.model import Circuit
    from coldcheck.drawing.model import Drawing
    from coldcheck.settings.model import Settings

OF_A_POINT = ("text", "json", "svg")
OF_ALL = ("text", "markdown", "csv", "json", "html")


def run(options: Namespace) -> int:
    """Print or write the chart, or the explanation of a point."""
    from coldcheck.drawing import read_drawing
    from coldcheck.settings.apply import circuit_of

    _refuse(options)
    (settings,) = settings_of([options.file])
    instruments = _instruments(settings)
    drawing = read_drawing(options.file)
    circuit = None if drawing.problems else circuit_of(drawing, settings)
    if circuit is None or circuit.problems:
        return _unreadable(drawing, settings)
    points = [_known(circuit, wanted) for wanted in _points(options)]
    bench = _bench(circuit, options.state)
    text = _point(bench, points, instruments, options) if points else _chart(bench, options)
    to_stdout(text) if options.output is None else to_file(text, options.output)
    return OK


def _refuse(options: Namespace) -> None:
    """Raise AskedWrongly for what does not go together."""
    if options.at is not None and options.between is not None:
        raise AskedWrongly("--at and --between exclude each other")
    forms = OF_A_POINT if _points(options) else OF_ALL
    if options.report not in forms:
        of = "one point" if _points(options) else "the whole chart; name a point with --at"
        raise AskedWrongly(f"there is no {options.report} of {of}: {', '.join(forms)}")
    if (
        options.output is not None
        and Path(options.output).resolve() == Path(options.file).resolve()
    ):
        raise AskedWrongly(f"the chart would overwrite the drawing {options.file}")


def _points(options: Namespace) -> list[str]:
    return [options.at] if options.at is not None else list(options.between or ())


def _instruments(settings: Settings) -> tuple[Instrument, ...]:
    """The instruments of the settings; what is wrong with them is asked wrongly."""
    from coldcheck.bench.own_instruments import BadInstrument, instruments_of

    try:
        return instruments_of(settings.instruments)
    except BadInstrument as problem:
        raise AskedWrongly(f"{settings.source('instruments')}: {problem}") from problem


def _bench(circuit: Circuit, state: str) -> Bench:
    """The bench in a state; raises AskedWrongly for one the circuit does not have."""
    from coldcheck.bench.chart import Bench
    from coldcheck.solve.states import states_of

    known = [s.name for s in states_of(circuit)]
    if state not in known:
        raise AskedWrongly(f"there is no state {state}; the drawing has {', '.join(known)}")
    return Bench(circuit, state)


def _known(circuit: Circuit, wanted: str) -> str:
    """The point as the circuit spells it; an unknown one is asked wrongly."""
    from coldcheck.bench.points import point_named

    found = point_named(circuit, wanted)
    if found is not None:
        return found
    owner, _, pin = wanted.partition(":")
    tube = next((n for n in circuit.tubes if n.casefold() == owner.casefold()), None)
    if pin and tube is not None:
        raise AskedWrongly(f"nothing is on pin {pin} of {tube} in {circuit.drawing.file}")
    folded = {name.casefold(): name for name in circuit.points}
    near = get_close_matches(wanted.casefold(), folded, n=4, cutoff=0.5)
    hint = f"; near it: {', '.join(folded[n] for n in near)}" if near else ""
    raise AskedWrongly(f"there is no point {wanted} in {circuit.drawing.file}{hint}")


def _chart(bench: Bench, options: Namespace) -> str:
    chart = bench.chart()
    if options.report == "text":
        return _chart_text(chart, for_file=options.output is not None)
    from coldcheck.report import chart_csv, chart_html, chart_json, chart_markdown

    forms = {"markdown": chart_markdown, "csv": chart_csv, "json": chart_json, "html": chart_html}
    return str(forms[options.report].render(chart))


def _chart_text(chart: Chart, *, for_file: bool) -> str:
    from coldcheck.report import chart_text

    return console_text(lambda console: chart_text.render(chart, console), for_file=for_file)


def _point(
    bench: Bench, points: list[str], instruments: tuple[Instrument, ...], options: Namespace
) -> str:
    from coldcheck.bench.explain import explain
    from coldcheck.report import chart_json, explain_text

    other = points[1] if len(points) > 1 else "gnd"
    found = explain(bench, points[0], other, instruments)
    if options.report == "json":
        return chart_json.render_point(found)
    if options.report == "svg":
        return _picture(found)
    return console_text(
        lambda console: explain_text.render(found, console), for_file=options.output is not None
    )


def _picture(found: Explanation) -> str:
    """The wave as SVG; a point without a voltage has none."""
    from coldcheck.report import explain_text, waveform

    if found.wave is None:
        raise AskedWrongly(f"{found.point} has no voltage to draw: {found.reason}")
    return waveform.svg(
        found.wave.samples, explain_text.heading(found), found.frequency, found.other
    )


def _unreadable(drawing: Drawing, settings: Settings) -> int:
    from coldcheck.report import text
    from coldcheck.rules.engine import review_drawing

    review = review_drawing(drawing, None, settings)
    show(lambda console: text.render(review, console))
    return UNREADABLE
