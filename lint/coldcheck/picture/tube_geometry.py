"""Where the electrodes of a tube leave its envelope.

A tube that amplifies stands: plate above, cathode below, the first grid to the left, the others
to the side that keeps wires apart. A rectifier lies: plates left, cathode right. A gas regulator
stands.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.picture.grid import Dir, Port

if TYPE_CHECKING:
    from coldcheck.picture.devices import Device, Lead

CATHODES = ("cathode", "f1", "f2")
PLATES = ("plate", "plate1", "plate2")


def is_grid(name: str) -> bool:
    """Whether an electrode is a grid of any kind."""
    return name.startswith("grid") or name in ("screen", "suppressor")


def grids_of(device: Device) -> list[Lead]:
    """The grids from the cathode up."""
    return [lead for lead in device.leads if is_grid(lead.name)]


def half_height(device: Device) -> int:
    """From the middle of the envelope to its top."""
    return max(3 if len(grids_of(device)) <= 3 else 4, *(row + 1 for row in _other_rows(device)), 0)


def grid_row(device: Device, index: int) -> int:
    """The row of a grid, counted from the envelope's middle."""
    return len(grids_of(device)) // 2 - index


def _others(device: Device) -> list[Lead]:
    known = (*CATHODES, *PLATES)
    return [lead for lead in device.leads if not is_grid(lead.name) and lead.name not in known]


def _other_rows(device: Device) -> list[int]:
    """The rows of the leads below the grids: three need room for a label between each two."""
    first, count = len(grids_of(device)) // 2 + 1, len(_others(device))
    return [first + n * (1 if count < 3 else 2) for n in range(count)]


def tube_ports(device: Device, *, flip: bool) -> list[Port]:
    """The ports of a tube that amplifies; ``flip`` takes the second grid out to the left."""
    ports, height = [], half_height(device) + 1
    for n, lead in enumerate(grids_of(device)):
        left = n % 2 == 0 if not flip or n == 0 else n % 2 == 1
        x, way = (-4, Dir.LEFT) if left else (4, Dir.RIGHT)
        ports.append(Port(lead.name, x, grid_row(device, n), way, lead.label))
    places = {
        "plate": (0, -height, Dir.UP), "plate1": (-1, -height, Dir.UP),
        "plate2": (1, -height, Dir.UP), "cathode": (0, height, Dir.DOWN),
        "f1": (-1, height, Dir.DOWN), "f2": (1, height, Dir.DOWN),
    }  # fmt: skip
    for lead in device.leads:
        if lead.name in places:
            x, y, way = places[lead.name]
            ports.append(Port(lead.name, x, y, way, lead.label))
    for lead, row in zip(_others(device), _other_rows(device), strict=True):
        ports.append(Port(lead.name, 4, row, Dir.RIGHT, lead.label))
    return ports


def rectifier_ports(device: Device, *, flip: bool) -> list[Port]:
    """Plates left, cathode right; ``flip`` exchanges the ends of a filament."""
    places = {
        "plate": (-4, 0, Dir.LEFT), "plate1": (-4, -2, Dir.LEFT), "plate2": (-4, 2, Dir.LEFT),
        "cathode": (4, 0, Dir.RIGHT), "f1": (0, 4, Dir.DOWN), "f2": (4, 0, Dir.RIGHT),
    }  # fmt: skip
    if flip:
        places |= {"f1": places["f2"], "f2": places["f1"]}
    return _placed(device, places)


def regulator_ports(device: Device) -> list[Port]:
    """Anode above, cathode below, idle pins to the right."""
    return _placed(device, {"plate": (0, -4, Dir.UP), "cathode": (0, 4, Dir.DOWN)})


def _placed(device: Device, places: dict[str, tuple[int, int, Dir]]) -> list[Port]:
    ports = []
    for lead in device.leads:
        if lead.name in places:
            x, y, way = places[lead.name]
            ports.append(Port(lead.name, x, y, way, lead.label))
    odd = [lead for lead in device.leads if lead.name not in places]
    for n, lead in enumerate(odd):
        ports.append(Port(lead.name, 4, 2 + n, Dir.RIGHT, lead.label))
    return ports
