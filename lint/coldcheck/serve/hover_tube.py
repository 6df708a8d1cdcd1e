"""What an editor shows of a tube or a type: pins, how it works here, ratings with their sources."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.bench.chart.points import shown_name, socket_pins
from coldcheck.circuit.tubes import UnknownTube, tube_type
from coldcheck.drawing.values import SYMBOLS
from coldcheck.report.pages.tube_sheet import value_text
from coldcheck.report.review.sections import heater_text
from coldcheck.report.shared.markdown import escaped
from coldcheck.report.shared.numbers import volts as figure
from coldcheck.serve import told
from coldcheck.verdict.document.states import heater_cathode

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from coldcheck.bench.chart.points import Pin
    from coldcheck.circuit.model import Circuit, Section, Tube
    from coldcheck.circuit.transistors import TransistorType
    from coldcheck.circuit.tubes import TubeType
    from coldcheck.solve.solution import Solution, TubeReading
    from coldcheck.verdict.review import Review

_IDLE = {
    "unwired": "nothing",
    "internal": "nothing: used inside the tube",
    "not connected": "not connected inside",
}


def tube(review: Review, circuit: Circuit, name: str) -> str:
    """The page of a tube in its socket; ``name`` may be one of its sections."""
    own = circuit.tubes.get(name) or next(t for t in circuit.tubes.values() if _has(t, name))
    warm = told.warm_of(review)
    names = {own.name, *(s.name for s in own.sections)}
    return told.page(
        f"**{escaped(own.name)}** {escaped(own.type.name)}: {escaped(own.type.description)}, "
        f"{escaped(own.type.base)}. {_heated(own)}",
        "  \n".join(_working(own, warm)) if warm else told.why_no_warm(review),
        _pins(circuit, own, warm),
        ratings(own.type),
        "\n".join(told.findings_at(review, lambda at: at.split(".")[0] in names)),
    )


def transistor_kind(found: TransistorType) -> str:
    """The page of a transistor's or regulator's type."""
    lines = [f"* {escaped(n)}: {f.value:g} {SYMBOLS.get(f.unit, '')}".rstrip()
             for n, f in found.figures.items()]  # fmt: skip
    source = next(iter(found.figures.values()))
    return told.page(
        f"**{escaped(found.name)}** {escaped(found.family.value)}, {escaped(found.case)}",
        "\n".join(lines),
        f"{escaped(source.source)} ({source.confidence})",
    )


def _has(own: Tube, section: str) -> bool:
    return any(s.name == section for s in own.sections)


def _heated(own: Tube) -> str:
    if not own.type.heaters:
        return "It has no heater."
    if own.heater is None:
        return "Its heater is not drawn: it is taken as hot."
    fed = own.heater.winding or "in a string or on points of its own"
    volts, amps = own.heater.volts, own.heater.amps
    mode = "" if own.heater.mode == "single" else f" ({own.heater.mode})"
    figures = f"{float(volts.m_as('volt')):.3g} V {float(amps.m_as('ampere')):.3g} A"
    return f"Heater {figures}{mode}: {escaped(fed)}."


def _working(own: Tube, warm: Solution) -> Iterator[str]:
    for section in own.sections:
        reading = warm.readings.get(section.name)
        if reading is None:
            yield f"{escaped(section.name)}: no figures; not all of it is drawn, or it rests."
        elif not section.kind.amplifies:
            yield f"{escaped(section.name)}, warm: {_passing(reading)}."
        else:
            yield f"{escaped(section.name)}, warm: {_amplifying(own, section, reading)}."


def _passing(reading: TubeReading) -> str:
    return (
        f"{reading.plate_ma:.3g} mA DC, peaks of {reading.peak_plate_ma:.3g} mA, inverse "
        f"{told.volts(reading.inverse_v)}, {reading.plate_w:.3g} W in it"
    )


def _amplifying(own: Tube, section: Section, reading: TubeReading) -> str:
    """Voltages are to the cathode, but the cathode's own, which is to gnd."""
    parts = []
    if reading.plate_v is not None:
        power = f"{reading.plate_w:.3g} W{_share(own, section, reading)}"
        parts.append(f"plate {told.volts(reading.plate_v)} {reading.plate_ma:.3g} mA, {power}")
    if reading.screen_v is not None and "screen" in section.electrodes:
        parts.append(f"screen {told.volts(reading.screen_v)} {reading.screen_ma:.3g} mA")
    if reading.grid_v is not None:
        parts.append(f"grid {told.volts(reading.grid_v)}, all to the cathode")
    if reading.cathode_v is not None:
        parts.append(f"cathode {told.volts(reading.cathode_v)} to gnd")
    if reading.heater_cathode_low is not None:
        parts.append(
            f"heater to cathode {heater_text(heater_cathode(reading))} V at its worst instant"
        )
    return "; ".join(parts) or "no figures"


def _share(own: Tube, section: Section, reading: TubeReading) -> str:
    limit = own.type.rating("plate-dissipation", section.type.name)
    if limit is None or not limit.value:
        return ""
    return f" of {value_text(limit)}, {told.percent(reading.plate_w / limit.value)} of its rating"


def _pins(circuit: Circuit, own: Tube, warm: Solution | None) -> str:
    rows = (
        _pin(circuit, pin, warm) for pin in socket_pins(circuit, own) if pin.use != "not on file"
    )
    return told.table(("pin", "electrode", "on", "DC V", "AC V rms"), rows, left=3)


def _pin(circuit: Circuit, pin: Pin, warm: Solution | None) -> tuple[str, ...]:
    if pin.net is None or pin.use:
        return pin.label, pin.lead, _IDLE.get(pin.use, "nothing"), "", ""
    wave = warm.waves.get(pin.net) if warm is not None else None
    figures = ("–", "–") if wave is None else (figure(wave.dc), figure(wave.ac_rms))
    return (pin.label, pin.lead, shown_name(circuit, pin.net), *figures)


def ratings(kind: TubeType) -> str:
    """Every rating on file with how sure it is and where it is from; what is missing is said."""
    rated = {"": kind.ratings, **kind.ratings_of}
    if not any(rated.values()):
        return "No ratings on file: what it stands is not judged."
    rows = (
        (f"{section} {name.replace('-', ' ')}".strip(), value_text(r), r.confidence, r.source)
        for section, table in rated.items()
        for name, r in table.items()
    )
    made = told.table(("rating", "value", "how sure", "source"), rows, left=4)
    heated = kind.cathode == "indirect" and not any(n.startswith("heater-") and "tolerance" not in n
                                                    for n in kind.ratings)  # fmt: skip
    missing = "\n\nNo heater to cathode limit on file." if heated else ""
    return made + missing


def kind(name: str, known: Mapping[str, TubeType]) -> str:
    """The page of a type; ``known`` are those of the drawing and the project. Empty if unknown."""
    found = known.get(name)
    if found is None:
        try:
            found = tube_type(name)
        except UnknownTube:
            return ""
    also = f", also {escaped(', '.join(found.also))}" if found.also else ""
    pins = (
        (p if found.pins_known else "?", f"{section} {electrode}".strip())
        for p, (section, electrode) in found.pins.items()
    )
    return told.page(
        f"**{escaped(found.name)}**{also}: {escaped(found.description)}, {escaped(found.base)}.",
        told.table(("pin", "electrode"), pins, left=2),
        ratings(found),
    )
