"""The strokes of every symbol, from the descriptions of IEC 60617 and IEEE 315.

A symbol is drawn pointing down, its leads ending on whole cells; every other stroke ends between
cells, so that the ends of leads can be told by their places alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, assert_never

from coldcheck.picture.devices import Symbol
from coldcheck.picture.geometry import POT_LEADS, pot_rows
from coldcheck.picture.model import Standard
from coldcheck.report.picture.large_strokes import (
    jack,
    pole,
    transformer,
    tube,
    winding,
)
from coldcheck.report.picture.pen import Pen

if TYPE_CHECKING:
    from coldcheck.picture.board import Item
    from coldcheck.picture.devices import Device


BULB = 0.95
"""Radius of the ends of the bulb around a barretter, and of what lets light to a photocell."""


def strokes_of(item: Item, standard: Standard) -> list[str]:
    """A symbol's strokes as SVG elements."""
    device = item.device
    pen = Pen(item.x, item.y, item.turn)
    match device.symbol:
        case Symbol.TUBE | Symbol.RECTIFIER | Symbol.REGULATOR:
            pen = Pen(item.x, item.y)
            tube(pen, item)
        case Symbol.TRANSFORMER | Symbol.OUTPUT:
            pen = Pen(item.x, item.y)
            transformer(pen, item)
        case Symbol.POT:
            pen = Pen(item.x, item.y, item.turn, mirror=item.flip)
            _pot(pen, standard, item.device)
        case Symbol.WINDING:
            pen = Pen(item.x, item.y, mirror=item.flip)
            winding(pen, device)
        case Symbol.RELAY:
            _relay(pen)
        case Symbol.METER:
            _meter(pen)
        case Symbol.ARRESTER:
            _arrester(pen)
        case Symbol.CRYSTAL:
            _crystal(pen)
        case Symbol.POLE:
            pen = Pen(item.x, item.y, mirror=item.flip)
            pole(pen, device)
        case Symbol.BRIDGE:
            pen = Pen(item.x, item.y)
            _bridge(pen, -1 if item.flip else 1)
        case Symbol.STABILISER:
            pen = Pen(item.x, item.y)
            _stabiliser(pen)
        case Symbol.JACK:
            pen = Pen(item.x, item.y, mirror=item.flip)
            jack(pen, item)
        case Symbol.HEATER:
            pen = _heater_pen(item)
            _heater(pen, device)
        case Symbol.SIGNAL | Symbol.TERMINAL:
            pen = Pen(item.x, item.y, mirror=item.flip)
            _end(pen, device.symbol)
        case _:
            _two_lead(pen, device, standard)
    return pen.strokes


def _two_lead(pen: Pen, device: Device, standard: Standard) -> None:
    match device.symbol:
        case Symbol.RESISTOR:
            _resistor(pen, standard)
        case Symbol.CAPACITOR:
            _capacitor(pen, device, standard)
        case Symbol.INDUCTOR:
            _inductor(pen, iron=device.iron)
        case Symbol.DIODE | Symbol.LED | Symbol.ZENER:
            _diode(pen, device.symbol)
        case Symbol.FUSE:
            _fuse(pen, standard)
        case Symbol.SWITCH:
            _switch(pen, closed=device.closed)
        case Symbol.THERMISTOR:
            _resistor(pen, standard)
            pen.line((-1.05, 0.85), (-0.75, 0.85), (0.85, -1.15))
        case Symbol.BARRETTER:
            _resistor(pen, standard)
            pen.capsule(BULB, 1.5 - BULB)
        case Symbol.PHOTOCELL:
            _resistor(pen, standard)
            pen.capsule(BULB, 1.5 - BULB)
            _light(pen)
        case Symbol.LAMP:
            _lamp(pen)
        case Symbol.SPEAKER:
            _speaker(pen)
        case Symbol.SOCKET:
            _socket(pen)
        case Symbol.SOURCE:
            _source(pen)
        case Symbol.LINK:
            _leads(pen, 0.75)
            pen.arcs((0, -0.75), [(0, 0.75)], 1.05, clockwise=True)
        case Symbol.GROUND | Symbol.CHASSIS | Symbol.EARTH:
            _mark(pen, device.symbol)
        case Symbol.FLAG:
            _flag(pen)
        case _:
            raise ValueError(device.symbol)


def _leads(pen: Pen, body: float) -> None:
    """The two leads, down to a body that reaches ``body`` from the middle."""
    pen.line((0, -2), (0, -body))
    pen.line((0, body), (0, 2))


def _resistor(pen: Pen, standard: Standard) -> None:
    match standard:
        case Standard.IEC:
            _leads(pen, 1.15)
            pen.box(-0.48, -1.15, 0.48, 1.15)
        case Standard.IEEE:
            _leads(pen, 1.2)
            side = [0.55 if n % 2 else -0.55 for n in range(6)]
            zigzag = [(x, -1.0 + 0.4 * n) for n, x in enumerate(side)]
            pen.line((0, -1.2), *zigzag, (0, 1.2))
        case _:
            assert_never(standard)


def _capacitor(pen: Pen, device: Device, standard: Standard) -> None:
    _leads(pen, 0.25)
    pen.line((-0.9, -0.25), (0.9, -0.25))
    curved = standard is Standard.IEEE and device.plus != "b"
    if curved:
        pen.arcs((-0.9, 0.55), [(0.9, 0.55)], 1.5, clockwise=True)
    else:
        pen.line((-0.9, 0.25), (0.9, 0.25))
    if device.plus:
        pen.plus((-0.65, -0.75 if device.plus == "a" else 0.75))


def _inductor(pen: Pen, *, iron: bool) -> None:
    _leads(pen, 1.2)
    pen.arcs((0, -1.2), [(0, -0.6), (0, 0.0), (0, 0.6), (0, 1.2)], 0.32, clockwise=True)
    if iron:
        pen.line((0.65, -1.25), (0.65, 1.25))


def _diode(pen: Pen, symbol: Symbol) -> None:
    _leads(pen, 0.6)
    pen.shape((-0.65, -0.6), (0.65, -0.6), (0, 0.6))
    if symbol is Symbol.ZENER:
        pen.line((-0.65, 0.95), (-0.65, 0.6), (0.65, 0.6), (0.65, 0.25))
    else:
        pen.line((-0.65, 0.6), (0.65, 0.6))
    if symbol is Symbol.LED:
        for y in (-0.35, 0.15):
            pen.line((-0.75, y), (-1.15, y + 0.4))
            pen.line((-1.15, y + 0.15), (-1.15, y + 0.4), (-0.9, y + 0.4))


def _light(pen: Pen) -> None:
    """Two arrows that point at what light steers."""
    for y in (-0.35, 0.15):
        pen.line((-1.4, y - 0.4), (-1.0, y))
        pen.line((-1.25, y), (-1.0, y), (-1.0, y - 0.25))


def _fuse(pen: Pen, standard: Standard) -> None:
    match standard:
        case Standard.IEC:
            pen.line((0, -2), (0, 2))
            pen.box(-0.4, -1.05, 0.4, 1.05)
        case Standard.IEEE:
            _leads(pen, 1.05)
            pen.arcs((0, -1.05), [(0, 0.0)], 0.55, clockwise=True)
            pen.arcs((0, 0.0), [(0, 1.05)], 0.55, clockwise=False)
        case _:
            assert_never(standard)


def _relay(pen: Pen) -> None:
    """The coil as a box that lies across its leads (IEC 60617, also in IEEE 315)."""
    _leads(pen, 0.6)
    pen.box(-1.1, -0.6, 1.1, 0.6)


def _arrester(pen: Pen) -> None:
    """Two points that face one another."""
    _leads(pen, 0.95)
    for side in (-1, 1):
        pen.shape((0, 0.12 * side), (-0.5, 0.95 * side), (0.5, 0.95 * side), kind="ink")


def _crystal(pen: Pen) -> None:
    """A slab between two plates."""
    _leads(pen, 0.75)
    for side in (-1, 1):
        pen.line((-0.7, 0.75 * side), (0.7, 0.75 * side))
    pen.shape((-0.9, -0.4), (0.9, -0.4), (0.9, 0.4), (-0.9, 0.4))


def _meter(pen: Pen) -> None:
    """A circle with its pointer."""
    _leads(pen, 1.0)
    pen.circle((0, 0), 1.0)
    pen.line((0, 0.55), (0.45, -0.45))


def _bridge(pen: Pen, way: int) -> None:
    """A diamond with one diode in it that points to plus (IEC 60617: a rectifier in bridge)."""
    for x, y in ((0, -1), (0, 1), (1, 0), (-1, 0)):
        pen.line((3 * x, 3 * y), (4 * x, 4 * y))
    pen.shape((0, -3), (3, 0), (0, 3), (-3, 0))
    pen.line((-1.4 * way, 0), (-0.6 * way, 0))
    pen.shape((-0.6 * way, -0.65), (-0.6 * way, 0.65), (0.6 * way, 0))
    pen.line((0.6 * way, -0.65), (0.6 * way, 0.65))
    pen.line((0.6 * way, 0), (1.4 * way, 0))


def _stabiliser(pen: Pen) -> None:
    pen.box(-2.95, -1.95, 2.95, 1.95)
    for end, edge in (((-4, 0), (-2.95, 0)), ((4, 0), (2.95, 0)), ((0, 3), (0, 1.95))):
        pen.line(end, edge)


def _switch(pen: Pen, *, closed: bool) -> None:
    _leads(pen, 0.95)
    pen.circle((0, -0.8), 0.15)
    pen.circle((0, 0.8), 0.15)
    pen.line((0.05, 0.65), (0.05, -0.65) if closed else (0.85, -0.7))


def _lamp(pen: Pen) -> None:
    _leads(pen, 0.85)
    pen.circle((0, 0), 0.85)
    for side in (-0.6, 0.6):
        pen.line((-0.6, side), (0.6, -side))


def _speaker(pen: Pen) -> None:
    _leads(pen, 0.75)
    pen.box(-0.35, -0.75, 0.35, 0.75)
    pen.shape((0.35, -0.65), (0.95, -1.15), (0.95, 1.15), (0.35, 0.65))


def _socket(pen: Pen) -> None:
    _leads(pen, 0.85)
    pen.circle((0, -0.7), 0.15)
    pen.circle((0, 0.7), 0.15)
    pen.box(-0.55, -1.15, 0.55, 1.15)


def _source(pen: Pen) -> None:
    _leads(pen, 0.6)
    for y, half in ((-0.6, 0.9), (-0.2, 0.45), (0.2, 0.9), (0.6, 0.45)):
        pen.line((-half, y), (half, y))
    pen.plus((-0.65, -1.1))


def _pot(pen: Pen, standard: Standard, device: Device) -> None:
    _resistor(pen, standard)
    for row in pot_rows(len(device.leads) - POT_LEADS):
        pen.line((-2, row), (-0.48 if standard is Standard.IEC else 0, row))
    pen.line((2, 0), (0.55, 0))
    pen.shape((0.55, 0), (1.05, -0.28), (1.05, 0.28), kind="ink")


def _heater_pen(item: Item) -> Pen:
    if item.device.lead("tap") is None:
        return Pen(item.x, item.y, item.turn)
    return Pen(item.x, item.y, upset=item.flip)


def _heater(pen: Pen, device: Device) -> None:
    h1, h2, tap = (device.lead(name) for name in ("h1", "h2", "tap"))
    if tap is not None and h1 is not None and h2 is not None and h1.net == h2.net:
        for side in (-1, 1):
            pen.line((side, -2), (side, -0.95))
            pen.line((side, -0.95), (side * 0.85, 0.15), (0, 0.95))
        pen.line((0, 0.95), (0, 2))
        return
    _leads(pen, 1.1)
    pen.line((0, -1.1), (0.85, -0.05), (0, 1.1))
    if tap is not None:
        pen.line((-2, 0), (0.8, 0))


def _end(pen: Pen, symbol: Symbol) -> None:
    if symbol is Symbol.TERMINAL:
        pen.circle((0, 0), 0.25)
        pen.line((0.25, 0), (1, 0))
        return
    pen.circle((0, 0), 0.85)
    pen.arcs((-0.55, 0), [(0.0, 0.0)], 0.28, clockwise=True)
    pen.arcs((0.0, 0.0), [(0.55, 0)], 0.28, clockwise=False)
    pen.line((0.85, 0), (2, 0))


def _mark(pen: Pen, symbol: Symbol) -> None:
    pen.line((0, 0), (0, 0.75 if symbol is Symbol.EARTH else 0.55))
    match symbol:
        case Symbol.GROUND:
            for y, half in ((0.55, 0.85), (0.85, 0.55), (1.15, 0.25)):
                pen.line((-half, y), (half, y))
        case Symbol.CHASSIS:
            pen.line((-0.85, 0.55), (0.85, 0.55))
            for x in (-0.85, 0.05, 0.85):
                pen.line((x, 0.55), (x - 0.35, 1.15))
        case _:
            for y, half in ((0.75, 0.7), (1.05, 0.45), (1.35, 0.2)):
                pen.line((-half, y), (half, y))
            pen.circle((0, 1.05), 0.95)


def _flag(pen: Pen) -> None:
    """A stub with an arrow head; the name stands beyond it."""
    pen.line((0, 0), (0, 0.35))
    pen.shape((-0.3, 0.35), (0.3, 0.35), (0, 0.8), kind="ink")
