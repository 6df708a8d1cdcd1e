"""The strokes of what has many leads: tubes, transformers, windings, switches, jacks."""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.picture.devices import Inside, Symbol
from coldcheck.picture.geometry import pole_rows, sides, winding_half, winding_taps
from coldcheck.picture.grid import Dir
from coldcheck.picture.tube_geometry import grid_row, grids_of, half_height

if TYPE_CHECKING:
    from coldcheck.picture.board import Item
    from coldcheck.picture.devices import Device
    from coldcheck.picture.grid import Port
    from coldcheck.report.picture.pen import Pen, Spot

RADIUS = 2.95


def tube(pen: Pen, item: Item) -> None:
    """An envelope with its electrodes."""
    ports = {port.name: port for port in item.form.ports}
    if item.device.symbol is Symbol.RECTIFIER:
        _rectifier(pen, ports)
    elif item.device.symbol is Symbol.REGULATOR:
        _regulator(pen, ports)
    elif item.device.inside is not None:
        transistor(pen, item.device.inside)
    else:
        _amplifier(pen, item.device, ports)


def transistor(pen: Pen, inside: Inside) -> None:
    """What stands in the envelope, from the lead where the current goes in down."""
    pen.circle((0, 0), RADIUS, kind="envelope")
    match inside:
        case Inside.N_CHANNEL | Inside.N_DEPLETION | Inside.P_CHANNEL:
            _mosfet(pen, inside)
        case Inside.N_JUNCTION | Inside.P_JUNCTION:
            _jfet(pen, inside)
        case Inside.NPN | Inside.PNP:
            _bipolar(pen, inside)
        case _:
            assert_never(inside)


def _bipolar(pen: Pen, inside: Inside) -> None:
    """The base as a bar; the arrow is the emitter's: away from the bar of an NPN one."""
    emitter = -1 if inside is Inside.PNP else 1
    pen.line((-4, 0), (-0.85, 0))
    pen.line((-0.85, -1.25), (-0.85, 1.25), kind="plate")
    for side in (-1, 1):
        pen.line((0, 4 * side), (0, 1.65 * side), (-0.85, 0.55 * side))
    x, y = (-0.2, 1.4) if emitter > 0 else (-0.6, -0.87)
    pen.shape((x + 0.17, y + 0.22), (x - 0.36, y + 0.03), (x + 0.03, y - 0.36), kind="ink")


def _jfet(pen: Pen, inside: Inside) -> None:
    """The channel as a bar; the gate's arrow points at one of n-type, away from one of p-type."""
    pen.line((-4, 0), (-0.55, 0))
    pen.line((-0.55, -1.45), (-0.55, 1.45), kind="plate")
    for side in (-1, 1):
        pen.line((0, 4 * side), (0, 1.15 * side), (-0.55, 1.15 * side))
    tip, tail = (-0.7, -1.3) if inside is Inside.N_JUNCTION else (-1.3, -0.7)
    pen.shape((tip, 0), (tail, -0.3), (tail, 0.3), kind="ink")


def _mosfet(pen: Pen, inside: Inside) -> None:
    """The gate beside the channel, which is whole where it conducts by itself.

    The arrow is the junction to the substrate, joined to the source: into an n-channel.
    """
    source = -1 if inside is Inside.P_CHANNEL else 1
    pen.line((-4, 0), (-1.15, 0))
    pen.line((-1.15, -1.35), (-1.15, 1.35))
    broken = ((-1.45, -0.75), (-0.35, 0.35), (0.75, 1.45))
    for top, foot in ((-1.45, 1.45),) if inside is Inside.N_DEPLETION else broken:
        pen.line((-0.55, top), (-0.55, foot), kind="plate")
    for side in (-1, 1):
        pen.line((0, 4 * side), (0, 1.15 * side), (-0.55, 1.15 * side))
    pen.line((-0.55, 0), (0, 0), (0, 1.15 * source))
    tip, tail = (-0.45, 0.15) if source > 0 else (0.15, -0.45)
    pen.shape((tip, 0), (tail, -0.3), (tail, 0.3), kind="ink")


def _envelope(pen: Pen, height: float) -> None:
    """A circle, or two halves of one with straight sides."""
    if height <= RADIUS + 0.1:
        pen.circle((0, 0), RADIUS, kind="envelope")
        return
    straight = height - 0.05 - RADIUS
    pen.capsule(RADIUS, straight)


def _amplifier(pen: Pen, device: Device, ports: dict[str, Port]) -> None:
    height = half_height(device)
    _envelope(pen, height)
    grids = grids_of(device)
    top = grid_row(device, len(grids) - 1) - 1.25 if grids else -1.25
    foot = grid_row(device, 0) + 1.25 if grids else 1.25
    for n, lead in enumerate(grids):
        _grid(pen, ports[lead.name], grid_row(device, n))
    for name, port in ports.items():
        x, y = port.cell
        if name in ("plate", "plate1", "plate2"):
            half = 1.35 if name == "plate" else 0.65
            pen.line((x, y), (x, top))
            pen.line((x - half, top), (x + half, top), kind="plate")
        elif name == "cathode":
            _cathode(pen, y, foot)
        elif name.startswith("diode"):
            pen.line((x, y), (1.25, y))
            pen.line((1.25, y - 0.4), (1.25, y + 0.4), kind="plate")
        elif name not in {g.name for g in grids} and name not in ("f1", "f2"):
            pen.line((x, y), (2.15, y))
            pen.line((2.15, y - 0.3), (2.15, y + 0.3))
    if "f1" in ports and "f2" in ports:
        _filament(pen, ports["f1"].cell, ports["f2"].cell, foot)


def _grid(pen: Pen, port: Port, row: int) -> None:
    """A dashed line across, as three strokes, with its lead."""
    side = -1 if port.way is Dir.LEFT else 1
    pen.line((port.x, row), (side * 1.05, row))
    for left, right in ((-1.45, -0.75), (-0.35, 0.35), (0.75, 1.45)):
        pen.line((left, row), (right, row), kind="grid")


def _cathode(pen: Pen, y: float, foot: float) -> None:
    """A flat roof with its lead from the middle."""
    pen.line((0, y), (0, foot))
    pen.line((-1.25, foot + 0.35), (-1.25, foot), (1.25, foot), (1.25, foot + 0.35))


def _filament(pen: Pen, first: Spot, last: Spot, foot: float) -> None:
    pen.line(first, (first[0], foot + 0.45))
    pen.line(last, (last[0], foot + 0.45))
    pen.line((first[0], foot + 0.45), (0, foot - 0.25), (last[0], foot + 0.45))


def _rectifier(pen: Pen, ports: dict[str, Port]) -> None:
    pen.circle((0, 0), RADIUS, kind="envelope")
    for name, port in ports.items():
        x, y = port.cell
        if name.startswith("plate"):
            half = 1.35 if name == "plate" else 0.65
            level = 0.0 if name == "plate" else (1.05 if y > 0 else -1.05)
            way = [(x, y), (-1.9, y), (-1.25, level)] if level else [(x, y), (-1.25, y)]
            pen.line(*way)
            pen.line((-1.25, level - half), (-1.25, level + half), kind="plate")
        elif name == "cathode":
            pen.line((x, y), (0.95, y))
            pen.line((1.3, -1.35), (0.95, -1.35), (0.95, 1.35), (1.3, 1.35))
        elif name not in ("f1", "f2"):
            pen.line((x, y), (2.15, y))
            pen.line((2.15, y - 0.3), (2.15, y + 0.3))
    if "f1" in ports and "f2" in ports:
        below, right = sorted((ports["f1"].cell, ports["f2"].cell))
        pen.line(right, (1.25, right[1]))
        pen.line(below, (below[0], 1.65))
        pen.line((1.25, 0), (0.55, -0.45), (0, 1.65))


def _regulator(pen: Pen, ports: dict[str, Port]) -> None:
    pen.circle((0, 0), RADIUS, kind="envelope")
    pen.circle((1.35, 0.55), 0.25, kind="ink")
    for name, port in ports.items():
        x, y = port.cell
        if name == "plate":
            pen.line((x, y), (x, -1.25))
            pen.line((-1.35, -1.25), (1.35, -1.25), kind="plate")
        elif name == "cathode":
            pen.line((x, y), (x, 1.65))
            pen.circle((x, 1.25), 0.4)
        else:
            pen.line((x, y), (2.15, y))
            pen.line((2.15, y - 0.3), (2.15, y + 0.3))


def coil(pen: Pen, x: float, top: float, bottom: float, *, right: bool) -> None:
    """Turns between two rows, bulging to one side."""
    turns = max(3, round((bottom - top) / 0.9))
    step = (bottom - top) / turns
    ends = [(x, top + step * n) for n in range(1, turns + 1)]
    pen.arcs((x, top), ends, step / 2 + 0.01, clockwise=right)


SPRING = ((-0.55, 0), (-0.4, -1), (-0.13, 1), (0.13, -1), (0.4, 1), (0.55, 0))
"""A spring between the coils of a tank, to and fro."""


def transformer(pen: Pen, item: Item) -> None:
    """Windings on both sides, of a core where there is one, or of springs."""
    rows = {port.name: port.y for port in item.form.ports}
    left, right = sides(item.device)
    height = max(rows.values())
    for y in (height / 3, 2 * height / 3) if item.device.springs else ():
        pen.line(*((x, y + side * 0.35) for x, side in SPRING))
    for x in (-0.22, 0.22) if item.device.iron and not item.device.springs else ():
        pen.line((x, -0.35), (x, height + 0.35))
    for coils, side in ((left, -1), (right, 1)):
        for one in coils:
            _coil_with_leads(pen, [rows[name] for name in one.leads], side)
            dotted = rows[one.dot]
            inward = 0.55 if dotted == min(rows[name] for name in one.leads) else -0.55
            pen.circle((side * 1.65, dotted + inward), 0.18, kind="ink")


def _coil_with_leads(pen: Pen, rows: list[int], side: int) -> None:
    for row in rows:
        pen.line((side * 3, row), (side * 1.05, row))
    coil(pen, side * 1.05, min(rows), max(rows), right=side < 0)


def winding(pen: Pen, device: Device) -> None:
    """One winding by itself, its taps taken out to the left."""
    half = winding_half(device)
    body = half - 0.65
    pen.line((0, -half), (0, -body))
    pen.line((0, body), (0, half))
    coil(pen, 0, -body, body, right=True)
    for row in winding_taps(device):
        pen.line((-2, row), (0, row))
    first = device.coils[0].dot == device.leads[0].name
    pen.circle((-0.55, (0.35 - body) if first else (body - 0.35)), 0.18, kind="ink")


def pole(pen: Pen, device: Device) -> None:
    """One pole of a switch, its lever where it rests."""
    pen.line((-2, 0), (-1.15, 0))
    pen.circle((-1.0, 0.02), 0.15)
    rows = pole_rows(len(device.leads) - 1)
    for row in rows:
        pen.line((2, row), (1.15, row))
        pen.circle((1.0, row + 0.02), 0.15)
    closed = device.closed or len(rows) > 1
    goal = rows[min(device.position, len(rows)) - 1] if closed else -0.95
    pen.line((-0.85, 0), (0.85, goal + (0.0 if closed else 0.05)))


def jack(pen: Pen, item: Item) -> None:
    """A jack as a box with its contacts."""
    ports = item.form.ports
    bottom = max(abs(port.y) for port in ports)
    pen.box(-1.25, -0.75, 1.25, bottom + 0.75)
    for port in ports:
        pen.line((3, port.y), (1.25, port.y))
