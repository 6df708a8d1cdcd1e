"""The data on a tube type as text: every number with how sure it is and where it is from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.text import Text

from coldcheck.circuit.tubes import POINT_UNITS, Sourced
from coldcheck.drawing.units import engineering
from coldcheck.report.shared.lines import columns, entries, paragraph, say, show
from coldcheck.report.shared.plain import clean, counted
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from rich.console import Console

    from coldcheck.circuit.tubes import LawData, TubeType
    from coldcheck.circuit.tubes_types import Sheet

_SYMBOLS = {
    "volt": "V",
    "ampere": "A",
    "watt": "W",
    "ohm": "ohm",
    "farad": "F",
    "siemens": "S",
    "percent": "%",
}
_CATHODES = {
    "indirect": "indirectly heated cathode",
    "filament": "directly heated: the filament is the cathode",
    "cold": "cold cathode, no heater",
}
_WIRED = {"single": "h1 to h2", "series": "h1 to h2", "parallel": "h1 with h2, to the tap"}


class Footnotes:
    """Sources by number, in the order they are first cited."""

    def __init__(self) -> None:
        self._numbers: dict[Sheet, int] = {}

    def mark(self, number: Sourced) -> str:
        """The mark for a number's source: ``[2]``."""
        return self.of(number.sheet)

    def of(self, sheet: Sheet) -> str:
        """The mark for a source."""
        return f"[{self._numbers.setdefault(sheet, len(self._numbers) + 1)}]"

    def entries(self) -> Iterator[tuple[str, str]]:
        """Mark and source, with the entries of the register it names, for the foot of the sheet."""
        for sheet, number in self._numbers.items():
            names = ", ".join(c.source for c in sheet.cited.cites)
            yield f"[{number}]", clean(sheet.cited.text) + (f" -> {names}" if names else "")

    def registered(self) -> Iterator[tuple[str, str]]:
        """Each of those entries once: its name, and what it is and how it was seen."""
        cites = (c for sheet in self._numbers for c in sheet.cited.cites)
        for name in dict.fromkeys(c.source for c in cites):
            yield name, Citation(name).text


def value_text(number: Sourced) -> str:
    """A sourced number with its unit: ``44.8 mA``."""
    return engineering(number.value, _SYMBOLS.get(number.unit, number.unit), 4)


def render(kind: TubeType, console: Console) -> None:
    """Print everything on file about one type."""
    notes = Footnotes()
    paragraph(console, f"{clean(kind.name)}  {clean(kind.description)}", style="bold")
    entries(console, _head(kind), 2, 11)
    _pins(console, kind, notes)
    _heater(console, kind, notes)
    _ratings(console, kind, notes)
    _points(console, kind, notes)
    _capacitances(console, kind, notes)
    _laws(console, kind)
    _list(console, "Notes", (("-", clean(n)) for n in kind.notes), 2)
    _list(console, "Sources: found in a document, from memory, or derived", notes.entries(), 4)
    _list(console, "In the register of sources", notes.registered(), 18)


def checks(remarks: Iterable[str], console: Console) -> None:
    """Print what does not fit together in a data file, or that nothing was found."""
    lines = [("-", clean(r)) for r in remarks] or [("-", "nothing was found that does not fit")]
    _list(console, "Checks: pins, heater, points against one another and the ratings", lines, 2)


def _head(kind: TubeType) -> Iterator[tuple[str, str]]:
    if kind.also:
        yield "also", clean(", ".join(kind.also))
    yield "base", clean(kind.base)
    yield "cathode", _CATHODES.get(kind.cathode, clean(kind.cathode))
    if kind.rating_system:
        yield "ratings", f"{clean(kind.rating_system)} system"


def _list(console: Console, title: str, items: Iterable[tuple[str, str]], width: int) -> None:
    lines = list(items)
    if lines:
        say(console)
        say(console, title, "bold")
        entries(console, lines, 2, width)


def _pins(console: Console, kind: TubeType, notes: Footnotes) -> None:
    mark = notes.of(kind.pins_source) if kind.pins_source else ""
    say(console)
    if not kind.pins_known:
        say(console, f"Electrodes {mark}".rstrip(), "bold")
        paragraph(console, clean(", ".join(_lead(*lead) for lead in kind.pins.values())), 2)
        paragraph(console, "the numbers of the pins are not on file: not known for certain", 2)
        return
    say(console, f"Pins, clockwise with the socket seen from below {mark}".rstrip(), "bold")
    table = columns("pin", "goes to", left=2)
    for pin, (section, electrode) in kind.pins.items():
        name = _lead(section, electrode)
        table.add_row(Text("top cap" if pin == "cap" else clean(pin)), Text(clean(name)))
    show(console, table)
    joined = [f"{a} with {b}" for a, b in kind.jumpers]
    joined += [f"{_lead(*a)} with {_lead(*b)}" for a, b in kind.joined.items()]
    if joined:
        paragraph(console, f"joined inside the tube: {clean(', '.join(joined))}", 2)


def _lead(section: str, electrode: str) -> str:
    return f"{section} {_electrode(electrode)}".strip()


def _electrode(name: str) -> str:
    words = {"nc": "not connected", "ic": "internal connection: leave free", "tap": "heater tap"}
    return words.get(name, f"heater {name}" if name in ("h1", "h2") else name)


def _heater(console: Console, kind: TubeType, notes: Footnotes) -> None:
    if not kind.heaters:
        return
    say(console)
    say(console, "Heater" if kind.cathode == "indirect" else "Filament", "bold")
    table = columns("wired", "between", "volts", "amperes", "source", left=2)
    for way in kind.heaters:
        ends = _WIRED.get(way.mode, way.mode)
        if kind.cathode == "filament":
            ends = ends.replace("h1", "f1").replace("h2", "f2")
        marks = dict.fromkeys((notes.mark(way.volts), notes.mark(way.amps)))
        row = (way.mode, ends, value_text(way.volts), value_text(way.amps), " ".join(marks))
        table.add_row(*(Text(clean(cell)) for cell in row))
    show(console, table)


def _ratings(console: Console, kind: TubeType, notes: Footnotes) -> None:
    say(console)
    say(console, "Ratings", "bold")
    rated = {"": kind.ratings, **kind.ratings_of}
    if not any(rated.values()):
        paragraph(console, "none on file", 2)
        return
    table = columns("rating", "value", "basis", "source")
    for section, ratings in rated.items():
        for name, number in ratings.items():
            label = f"{section} {name}".strip()
            row = (label, value_text(number), number.confidence, notes.mark(number))
            table.add_row(*(Text(clean(cell)) for cell in row))
    show(console, table)
    if kind.supply_resistance:
        pairs = (
            f"{engineering(v, 'V')} rms: {engineering(o, 'ohm')}" for v, o in kind.supply_resistance
        )
        source = kind.supply_resistance_source
        mark = notes.of(source) if source else ""
        paragraph(console, f"least resistance a plate: {', '.join(pairs)} {mark}".rstrip(), 2)


def _points(console: Console, kind: TubeType, notes: Footnotes) -> None:
    lines = [
        (f"{n}{p.get('section', '')}", _point_text(p, notes)) for n, p in enumerate(kind.points, 1)
    ]
    _list(console, "Published operating points", lines, 3)


def _point_text(point: Mapping[str, Sourced | str], notes: Footnotes) -> str:
    """All figures of a point, each with the mark of its source; doubtful ones say so."""
    doubtful = str(point.get("doubtful", "")).replace(",", " ").split()
    parts = []
    for name in POINT_UNITS:
        number = point.get(name)
        if isinstance(number, Sourced):
            doubt = " (doubtful)" if name in doubtful else ""
            label = name.replace("-", " ")
            parts.append(f"{label} {value_text(number)}{doubt} {notes.mark(number)}")
    note = point.get("note")
    return ", ".join(parts) + (f"; {clean(str(note))}" if note else "")


def _capacitances(console: Console, kind: TubeType, notes: Footnotes) -> None:
    given = [
        (f"{section} {name}".strip(), f"{value_text(number)} {notes.mark(number)}")
        for section, table in kind.capacitances.items()
        for name, number in table.items()
    ]
    _list(console, "Capacitances, without an external shield", given, 12)


def _laws(console: Console, kind: TubeType) -> None:
    """The laws of the sections, those that are alike once."""
    told: list[LawData] = []
    for section in kind.sections:
        of = f" of {section.name}" if section.name else ""
        if section.law is None:
            say(console)
            say(console, f"Law{of}: none", "bold")
            reason = "nothing it could be fitted to is on file: what it draws is not known"
            paragraph(console, f"{reason}, and what depends on it is not judged", 2)
        elif section.law not in told:
            told.append(section.law)
            _law(
                console, section.law, of if any(s.law != section.law for s in kind.sections) else ""
            )


def _law(console: Console, law: LawData, of: str) -> None:
    """The fitted law and how far it misses the points it was fitted to."""
    say(console)
    fitted = "fitted to the points above" if law.residuals else "no published point to check it by"
    say(console, f"Law{of}: {clean(law.form)}, {fitted}", "bold")
    shown = ", ".join(f"{clean(k)} {v:.4g}" for k, v in law.parameters.items())
    paragraph(console, shown, 2)
    table = columns("at", "figure", "published", "law", "off", left=2)
    for residual in law.residuals:
        for row in _residual_rows(residual):
            table.add_row(*(Text(clean(cell)) for cell in row))
    if table.row_count:
        show(console, table)


def _residual_rows(residual: Mapping[str, float | str]) -> Iterator[tuple[str, ...]]:
    for name, published in residual.items():
        figure = name.removesuffix("-published")
        predicted = residual.get(f"{figure}-predicted")
        if figure == name or isinstance(published, str) or not isinstance(predicted, float):
            continue
        symbol = _SYMBOLS.get(POINT_UNITS.get(figure, ""), "")
        off = f"{100 * (predicted / published - 1):+.1f} %" if published else ""
        off = off.replace("-0.0", "0.0").replace("+0.0", "0.0")
        values = (engineering(published, symbol, 4), engineering(predicted, symbol, 4))
        yield (str(residual.get("point", "")), figure.replace("-", " "), *values, off)


def render_list(kinds: Iterable[TubeType], console: Console) -> None:
    """Print all types, group by group, one line each."""
    groups: dict[str, list[TubeType]] = {}
    for kind in kinds:
        groups.setdefault(kind.group, []).append(kind)
    for number, (group, members) in enumerate(groups.items()):
        if number:
            say(console)
        say(console, f"{group.capitalize()}: {counted(len(members), 'type')}", "bold")
        table = columns("type", "", "heater", "also", left=4)
        for column in (table.columns[1], table.columns[3]):
            column.no_wrap = False
        for kind in members:
            row = (kind.name, kind.description, _heater_text(kind), ", ".join(kind.also))
            table.add_row(*(Text(clean(cell)) for cell in row))
        show(console, table)


def _heater_text(kind: TubeType) -> str:
    ways = (f"{value_text(w.volts)} {value_text(w.amps)}" for w in kind.heaters)
    return ", ".join(ways) or "none"
