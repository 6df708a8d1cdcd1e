"""The words and figures of a voltage and resistance chart, shared by all its forms."""

from __future__ import annotations

from math import ceil, inf
from typing import TYPE_CHECKING

from coldcheck.drawing.units import engineering
from coldcheck.report.shared.numbers import volts as dc_text
from coldcheck.report.shared.plain import listed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from coldcheck.bench.chart.ohmmeter import Ohms
    from coldcheck.bench.chart.rows import Block, Chart, Note, Row

CAUTION = (
    "Tube equipment holds lethal voltages, also after it is switched off. Before any resistance "
    "reading pull the plug, discharge the capacitors and verify with a meter that they are empty. "
    "This chart is worked out from the drawing, not from the wiring. Local codes and a qualified "
    "person decide what may be powered."
)

OHMS_ARE = (
    "Resistance to gnd: plug pulled, bench supplies and generators unplugged, switches as drawn, "
    "tubes and semiconductors not conducting, capacitors empty before and charged by the meter "
    "when it has settled. Heaters cold: a sixth of their hot resistance (between a quarter and a "
    "seventh), lamps a tenth, speakers four fifths of their impedance. The range is all "
    "tolerances at their worst together."
)
VOLTS_ARE = (
    "Voltages to gnd, unloaded. +/- is the usual spread of parts, tubes and the mains together "
    "for DC; for AC it is an estimate from the ends of the mains, electrolytics a fifth smaller, "
    "and a tenth for the rest. Neither is a bound. p-p is in the same proportion as AC rms."
)
LIVE = (
    "WARNING: gnd is joined to the mains in this drawing. Everything may be at the full mains "
    "against earth: measure only behind an isolating transformer, with nothing earthed connected."
)
NOTHING = "–"
USES = {
    "not connected": "not connected inside the tube",
    "internal": "used inside the tube: connect nothing",
    "unwired": "nothing leads there in the drawing",
    "not on file": "no electrode on file for this pin",
}
_TITLES = {"rails": "Supply rails", "points": "Other points"}


def warnings(chart: Chart) -> list[str]:
    """What has to be known before anything is read off the chart."""
    found = [LIVE] if chart.live else []
    if chart.reason:
        found.append(f"No voltages: state {chart.state} not solved: {chart.reason}.")
    return found


def block_title(block: Block) -> str:
    """The heading of a block: ``V2: 6V6GT, octal 7AC``."""
    return _TITLES.get(block.kind) or f"{block.name}: {block.what}"


def state_title(chart: Chart) -> str:
    """What the voltages are: ``power on, state warm``."""
    return f"power on, state {chart.state}"


def ohms_figure(ohms: float) -> str:
    """A resistance for a narrow column: ``182k``, ``4.7k``, ``0.3``, ``infinite``."""
    if ohms == inf:
        return "infinite"
    scale, prefix = next(
        ((s, p) for s, p in ((1e6, "M"), (1e3, "k")) if ohms >= s * 0.9995), (1.0, "")
    )
    number = ohms / scale
    digits = 0 if number >= 99.95 else 1 if number >= 9.995 else 2
    text = f"{number:.{digits}f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text) + prefix


def ohms_texts(ohms: Ohms | None) -> tuple[str, str]:
    """The nominal reading and its range."""
    if ohms is None:
        return NOTHING, ""
    if ohms.infinite and ohms.low == inf:
        return "infinite", ""
    shown = "see note" if ohms.nominal is None else ohms_figure(ohms.nominal)
    low, high = ohms_figure(ohms.low), ohms_figure(ohms.high)
    return shown, "" if low == high else f"{low}..{high}"


def ac_text(value: float) -> str:
    """An AC voltage: two or three figures, nothing below a millivolt."""
    if value < 5e-5:
        return "0"
    if value < 1e-3:
        return "<0.001"
    return (
        f"{value:.{0 if value >= 100 else 1 if value >= 10 else 2}f}"
        if value >= 1
        else (f"{value:.2g}")
    )


def off_text(off: float | None, least: float = 5e-3) -> str:
    """Plus or minus: two figures."""
    if off is None:
        return NOTHING
    if off < least:
        return "0"
    return f"{off:.0f}" if off >= 9.95 else f"{off:.1f}" if off >= 0.995 else f"{off:.2g}"


def volt_texts(row: Row) -> tuple[str, str, str, str, str]:
    """DC, +/-, AC rms, +/-, peak to peak."""
    v = row.volts
    if v is None:
        return ("see note" if row.ohms is not None else "",) + ("",) * 4
    ac = ac_text(v.ac.value)
    ac_off = "" if v.ac.value < 1e-3 else off_text(v.ac.off, 5e-5)
    return dc_text(v.dc.value), off_text(v.dc.off), ac, ac_off, ac_text(v.pp.value)


def numbered(rows: Iterable[Row]) -> tuple[dict[str, int], dict[str, str]]:
    """The notes' texts with their numbers, and each row's numbers by its point."""
    numbers: dict[str, int] = {}
    marks = {}
    for row in rows:
        texts = dict.fromkeys(note_text(note) for note in row.notes)
        for text in texts:
            numbers.setdefault(text, len(numbers) + 1)
        marks[row.pin.point] = " ".join(map(str, sorted(numbers[text] for text in texts)))
    return numbers, marks


def note_text(note: Note) -> str:
    """A note as a sentence without its full stop."""
    return _NOTES[note.kind](note)


def _coils(note: Note) -> str:
    return f"read through the coil{'s' if len(note.names) > 1 else ''} {listed(note.names)}"


def idle_pins(block: Block) -> dict[str, list[str]]:
    """Why nothing is to be measured at a pin -> the pins."""
    found: dict[str, list[str]] = {}
    for row in block.rows:
        if row.pin.use in USES and row.ohms is None:
            found.setdefault(row.pin.use, []).append(row.pin.label)
    return found


def _assumed(note: Note) -> str:
    return (
        f"no resistance in the drawing for {listed(note.names)}: a usual one, half or twice "
        "is possible"
    )


def _settles(note: Note) -> str:
    return (
        f"climbs while the meter charges {listed(note.names)}: "
        f"within 1 % after some {seconds_text(note.number or 0.0)}"
    )


def _climbs(note: Note) -> str:
    return (
        f"no way to gnd but through {listed(note.names)}: the meter climbs towards infinite; an "
        "electrolytic stops at its leakage"
    )


def _minus(note: Note) -> str:
    return (
        f"+ lead of the ohmmeter to gnd: the other way round it charges {listed(note.names)} "
        "backwards"
    )


def _diode(note: Note) -> str:
    conducts = "conducts" if len(note.names) == 1 else "conduct"
    lead = "+" if note.word == "plus" else "-"
    return (
        f"{lead} lead here: {listed(note.names)} {conducts} and it reads lower, if the meter's "
        "test voltage is enough"
    )


def _pot(note: Note) -> str:
    low, high = note.low or 0.0, note.high or 0.0
    if note.number is None:
        return f"{listed(note.names)} moves it from {ohms_figure(low)} to {ohms_figure(high)}"
    less, more = ohms_figure(note.number - low), ohms_figure(high - note.number)
    return f"{listed(note.names)} as drawn; its travel brings {less} less to {more} more"


def _loading(note: Note) -> str:
    return f"a 10 megohm meter shows {dc_text(note.number)} V here"


def _input(note: Note) -> str:
    return (
        f"reaches {dc_text(note.number)} V: more than a bare scope input stands; see --at for "
        "a probe that does, and before any AC coupling"
    )


_NOTES: Mapping[str, Callable[[Note], str]] = {
    "through-winding": _coils,
    "assumed-winding": _assumed,
    "settles": _settles,
    "climbs": _climbs,
    "minus-lead": _minus,
    "diode": _diode,
    "pot": _pot,
    "unknown-part": lambda _: "a part on the way has no value in the drawing",
    "own-channel": lambda note: (
        f"{listed(note.names)} conducts with no supply: what is read goes by the copy and the meter"
    ),
    "no-voltage": lambda note: f"no voltage can be given: {note.word}",
    "swings": lambda note: (
        f"an oscillator swings there at {engineering(note.number or 0.0, 'Hz')}: the volts are "
        "those of the stage at rest"
    ),
    "loading": _loading,
    "input-rating": _input,
    "mains": lambda _: (
        "joined to the mains: leads and meter of measurement category II or above, no scope"
    ),
}


_WAITS = (1, 2, 3, 5, 10, 15, 20, 30, 45, 60, 90, 120)


def seconds_text(seconds: float) -> str:
    """A time to wait, rounded up as for a watch in the hand: ``10 s``, ``45 s``, ``4 min``."""
    wait = next((w for w in _WAITS if w >= seconds), None)
    return f"{ceil(seconds / 60)} min" if wait is None else f"{wait} s"
