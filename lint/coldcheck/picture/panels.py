"""Which panel a device is drawn in: signal stages, supply, heaters, bias.

What hangs together without marks, rails and heater lines is one signal panel; a stereo pair makes
two. The mains, their transformers and the rectifiers are the supply.
"""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING

from coldcheck.picture.devices import Inventory, Symbol, inventory, transformer_device
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable

    from coldcheck.picture.devices import Device
    from coldcheck.picture.roles import Roles


class PanelKind(Enum):
    """What a panel shows."""

    SIGNAL = "signal"
    SUPPLY = "supply"
    HEATERS = "heaters"
    BIAS = "bias"


@dataclass(frozen=True, slots=True)
class Group:
    """The devices of one panel, in drawing order."""

    kind: PanelKind
    title: str
    stock: Inventory

    @property
    def name(self) -> str:
        """What one asks for it by: its kind, or the sheet it is."""
        return self.title if self.kind is PanelKind.SIGNAL and self.title else self.kind.value


_SIGNALS = (Symbol.TUBE, Symbol.SIGNAL, Symbol.JACK, Symbol.OUTPUT, Symbol.SPEAKER, Symbol.SOCKET)
_LIFTS = (Symbol.RESISTOR, Symbol.CAPACITOR, Symbol.POT, Symbol.LAMP, Symbol.ZENER, Symbol.DIODE)
_STOPS = (Symbol.SWITCH, Symbol.POLE, Symbol.FUSE, Symbol.TERMINAL, Symbol.RECTIFIER, Symbol.TUBE)


def groups_of(stock: Inventory, roles: Roles) -> list[Group]:
    """The panels of a circuit: signal first, then supply, heaters, bias."""
    heated = _heaters(stock, roles)
    windings = {n for n, d in stock.devices.items() if d.symbol is Symbol.WINDING}
    nets = {n for name in heated for n in stock.devices[name].nets} - roles.ends
    nets -= _at_electrodes(stock)
    rest = [n for n in stock.devices if n not in heated and n not in windings]
    parts = _components(stock, rest, roles.ends | nets)
    signal = [p for p in parts if _is_signal(stock, p)]
    bias, supply = _bias(stock, roles, [p for p in parts if p not in signal], windings - heated)
    found = [_group(PanelKind.SIGNAL, _title(p), stock, p) for p in _in_order(signal, stock)]
    found += [
        _group(PanelKind.SUPPLY, "Supply", stock, supply),
        _group(PanelKind.HEATERS, "Heaters", stock, heated),
        _group(PanelKind.BIAS, "Bias", stock, bias),
    ]
    return [g for g in found if g.stock.devices]


def _heaters(stock: Inventory, roles: Roles) -> set[str]:
    """Heaters, what feeds them, and what gives them their reference."""
    found = {n for n, d in stock.devices.items() if d.symbol is Symbol.HEATER}
    nets = {n for name in found for n in stock.devices[name].nets} - roles.ends
    nets |= {
        lead.net
        for d in stock.devices.values()
        if d.symbol is Symbol.TUBE
        for lead in d.leads
        if lead.name in ("f1", "f2")
    } - roles.ends
    rectified = {
        lead.net for d in stock.devices.values() if d.symbol is Symbol.RECTIFIER for lead in d.leads
    }
    for name, device in stock.devices.items():
        if device.symbol is Symbol.WINDING and set(device.nets) & (nets - rectified):
            found.add(name)
            nets |= set(device.nets) - roles.ends - _used_by_tubes(stock)
    return found | _references(stock, roles, nets - _used_by_tubes(stock))


def _used_by_tubes(stock: Inventory) -> set[str]:
    return {n for n, at in stock.uses.items() if _stopped(stock, at)}


def _at_electrodes(stock: Inventory) -> set[str]:
    """Nets that electrodes of tubes are on."""
    tubes = [d for d in stock.devices.values() if d.symbol is Symbol.TUBE]
    return {n for d in tubes for n in d.nets}


def _stopped(stock: Inventory, at: Iterable[tuple[str, str]]) -> bool:
    return any(stock.devices[name].symbol in _STOPS for name, _ in at)


def _references(stock: Inventory, roles: Roles, nets: set[str]) -> set[str]:
    """Parts on heater nets, and those behind them up to a rail, a mark or a tube."""
    found: set[str] = set()
    waiting = sorted(nets)
    for net in waiting:
        for device in stock.at(net):
            if device.symbol in _LIFTS and device.name not in found:
                found.add(device.name)
                ends = [n for n in device.nets if n not in roles.ends and n not in waiting]
                waiting += [n for n in ends if not _stopped(stock, stock.uses[n])]
    return found


def _components(stock: Inventory, names: Iterable[str], cut: Iterable[str]) -> list[list[str]]:
    """What hangs together by nets that are not cut, in drawing order."""
    cut, left, found = set(cut), list(names), []
    while left:
        part = [left.pop(0)]
        nets: set[str] = set()
        for name in part:
            nets |= set(stock.devices[name].nets) - cut
            near = [n for n in left if nets & set(stock.devices[n].nets)]
            left = [n for n in left if n not in near]
            part += near
        found.append(part)
    return found


def _is_signal(stock: Inventory, names: Iterable[str]) -> bool:
    return any(stock.devices[n].symbol in _SIGNALS for n in names)


def _in_order(parts: list[list[str]], stock: Inventory) -> list[list[str]]:
    """Large before small, as the drawing has them otherwise."""
    return sorted(parts, key=lambda p: len(p) < 4 or not _has_signal(stock, p))


def _has_signal(stock: Inventory, names: Iterable[str]) -> bool:
    return any(stock.devices[n].symbol in (Symbol.SIGNAL, Symbol.JACK) for n in names)


def _bias(
    stock: Inventory, roles: Roles, parts: list[list[str]], windings: set[str]
) -> tuple[set[str], set[str]]:
    """What only has to do with negative rails, with its windings; and all the rest."""
    bias: set[str] = set()
    for part in parts:
        nets = {n for name in part for n in stock.devices[name].nets}
        if nets & set(roles.negative) and not nets & set(roles.positive):
            bias |= set(part)
    rest = {name for part in parts for name in part} - bias
    for name in sorted(windings):
        own = set(stock.devices[name].nets) - roles.marks
        users = {n for net in own for n, _ in stock.uses[net]} - {name}
        (bias if users and users <= bias else rest).add(name)
    return bias, rest


def _title(names: Iterable[str]) -> str:
    """The sheet that all of a panel's parts belong to, else nothing."""
    sheets = {n.removeprefix("signal ").rpartition("/")[0] for n in names} - {""}
    return sheets.pop() if len(sheets) == 1 else ""


def _group(kind: PanelKind, title: str, stock: Inventory, names: Iterable[str]) -> Group:
    chosen = set(names)
    devices = [d for n, d in stock.devices.items() if n in chosen]
    if kind is PanelKind.SUPPLY:
        devices = _transformers_joined(devices)
    return Group(kind, title, inventory(devices))


def _transformers_joined(devices: list[Device]) -> list[Device]:
    """The windings of each transformer as one symbol."""
    found: dict[str, list[Device]] = {}
    for device in devices:
        if device.symbol is Symbol.WINDING:
            found.setdefault(device.name.rpartition(".")[0], []).append(device)
    others = [d for d in devices if d.symbol is not Symbol.WINDING]
    return [*(transformer_device(n, w) for n, w in found.items()), *others]
