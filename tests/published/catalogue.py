"""Every published value the program can predict, from the tables of this folder.

Tables: ``id, family, quantity, circuit, inputs, answer, unit, tolerance, basis, confidence,
source``. ``circuit`` names a runner, ``inputs`` its arguments. Two tables have a form of their
own (``rectifiers_normalised.csv`` and ``tube_points.csv``) and give several rows a line.

tolerance
    A share of the answer, ``digit`` (to half a unit of the last printed digit), ``bound`` (the
    answer is an upper bound that the prediction must be within 30 % of) or ``1-1.35``: the
    prediction is a bound, and must be so many times the answer. Makers print the peak output of a
    stage for some 5 % distortion; the bound is the end of its swing. For triodes that is up to a
    third more; for the pentode, whose screen moves along, straight lines are a size (20 to 25 %),
    not a bound. The ranges were set after seeing the numbers; they guard, they do not prove.
basis
    ``circuit``: no fitted law takes part. ``held out``: a fitted law does, and this figure was not
    in the fit. ``left out``: the law was fitted anew without this point. ``in the fit``: the law
    was fitted to this very figure, so agreement shows only that the fit did its work.
confidence
    Where the figure comes from (found, memory, derived) and, where known, how sure (H, M-H, M, L).
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from tests.published import (
    characteristics,
    filters,
    heaters,
    meters,
    points,
    safety,
    stages,
    supplies,
)

from coldcheck.circuit.tubes import Sourced, tube_type

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

HERE = Path(__file__).parent
TABLES = ("rectifiers", "filters", "stages", "heaters", "acdc", "safety", "gas_tubes")
RUNNERS = {
    **supplies.RUNNERS,
    **filters.RUNNERS,
    **stages.RUNNERS,
    **heaters.RUNNERS,
    **meters.RUNNERS,
    **safety.RUNNERS,
    **points.RUNNERS,
    **characteristics.RUNNERS,
}
WORDS = frozenset(
    (
        "section",
        "tube",
        "read",
        "kind",
        "heaters",
        "tubes",
        "part",
        "diode",
        "rated",
        "state",
        "code",
        "unit",
    )
)
"""Inputs that are words even where they look like numbers."""
BASES = ("circuit", "held out", "left out", "in the fit")


@dataclass(frozen=True, slots=True)
class Row:
    """One published value. ``answer`` is kept as printed."""

    id: str
    family: str
    quantity: str
    circuit: str
    inputs: str
    answer: str
    unit: str
    tolerance: str
    basis: str
    confidence: str
    source: str

    @property
    def published(self) -> float:
        """The printed answer as a number."""
        return float(self.answer)

    @property
    def doubtful(self) -> bool:
        """Whether the source is not sure enough to judge the program by it."""
        return self.confidence.endswith(" L")

    @property
    def is_range(self) -> bool:
        """Whether the tolerance is a range of prediction over answer."""
        return "-" in self.tolerance

    @property
    def arguments(self) -> Mapping[str, str | float]:
        """The inputs, as numbers where they are numbers."""
        pairs = (word.split("=", 1) for word in self.inputs.split())
        return {
            k: v if k in WORDS and not (k == "rated" and v.isdigit()) else float(v)
            for k, v in pairs
        }


def table(name: str) -> list[dict[str, str]]:
    """The lines of a table of this folder."""
    with (HERE / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@cache
def rows() -> tuple[Row, ...]:
    """Every row, in the order of the tables."""
    plain = (Row(**line) for name in TABLES for line in table(name))
    return (*plain, *_normalised(), *_endless(), *_tube_points(), *_characteristics(), *_shelf())


@cache
def predict(row: Row) -> float:
    """What the program says; raises ValueError where a drawing cannot be read or solved."""
    return RUNNERS[row.circuit](row.published, **row.arguments)


def _normalised() -> Iterator[Row]:
    """Three figures a cell of the normalised capacitor-input circuit.

    Where conduction begins with a jump (small capacitor, little resistance) the peak current at
    128 instants is known to come out high; the rows say so with their tolerance.
    """
    wanted = (
        ("dc", "DC over peak", "edc_over_epk", ""),
        ("ripple", "ripple", "ripple_percent", "% of DC"),
        ("peak", "peak over mean current", "peak_over_mean", ""),
    )
    for line in table("rectifiers_normalised"):
        cell = f"omega_c_rl={line['omega_c_rl']} rs_percent={line['rs_percent']}"
        jump = float(line["omega_c_rl"]) <= 5 and float(line["rs_percent"]) <= 2
        for read, quantity, column, unit in wanted:
            allowed = {"dc": "0.007", "ripple": "0.02"}.get(read, "0.15" if jump else "0.03")
            yield Row(
                f"{line['id']}-{read}",
                f"normalised capacitor input: {quantity}",
                quantity,
                "normalised",
                f"kind={line['circuit']} {cell} read={read}",
                line[column],
                unit,
                allowed,
                "circuit",
                "derived H",
                line["source"],
            )


def _endless() -> Iterator[Row]:
    """The closed form for an endless capacitor: tan t - t = pi Rs/RL (half of it for full wave)."""
    for line in table("rectifiers_endless"):
        for kind in ("half", "full"):
            for read, unit in (("dc", ""), ("degrees", "deg")):
                yield Row(
                    f"endless-{kind}-{line['rs_percent']}-{read}",
                    "capacitor without end",
                    "DC over peak" if read == "dc" else "conduction angle",
                    "endless",
                    f"kind={kind} rs_percent={line['rs_percent']} read={read}",
                    line[f"{kind}_{read}"],
                    unit,
                    "0.002" if read == "dc" else "0.3",
                    "circuit",
                    "derived H",
                    line["source"],
                )


UNITS = {"ia": "mA", "ig2": "mA", "gm": "mA/V", "rp": "ohm"}
COLUMNS = {"ia": "ia_ma", "ig2": "ig2_ma", "gm": "gm_ma_per_v", "rp": "rp_ohm"}
NAMES = {
    "ia": "plate current",
    "ig2": "screen current",
    "gm": "transconductance",
    "rp": "plate resistance",
}


def _tube_points() -> Iterator[Row]:
    """Each published point four times: figures and self-bias, as fitted and left out."""
    for line in table("tube_points"):
        point = _point_number(line)
        ways = [("at-point", "in the fit", "")]
        if points.can_be_left_out(tube_type(line["type"]), point):
            ways.append(("left-out", "left out", "-left-out"))
        for circuit, basis, tag in ways:
            yield from _figures(line, point, circuit, basis)
            if _can_bias_itself(line):
                yield from _self_bias(line, point, f"self-bias{tag}", basis)


def _can_bias_itself(line: Mapping[str, str]) -> bool:
    """Not at 0 V, not where the grid given is a third grid, not without the screen's current."""
    return (
        line["vg1"] != "0" and line["type"] != "12BE6" and bool(line["vg2"]) == bool(line["ig2_ma"])
    )


def _point_number(line: Mapping[str, str]) -> int:
    """Which of the type's points in the library this is."""
    wanted = (float(line["va"]), float(line["ia_ma"]) / 1e3)
    for number, held in enumerate(tube_type(line["type"]).points):
        volts, amps = held["plate-voltage"], held["plate-current"]
        assert isinstance(volts, Sourced)
        assert isinstance(amps, Sourced)
        if (volts.value, round(amps.value, 9)) == (wanted[0], round(wanted[1], 9)):
            return number
    raise ValueError(f"the library has no point {line}")


def _allowed(line: Mapping[str, str], read: str, basis: str) -> str:
    """Generous: what a figure of that kind may miss by before something is plainly wrong."""
    if basis == "left out":
        return {"ia": "0.5", "ig2": "0.5", "gm": "0.5"}.get(read, "6")
    if read in line["missed"].split():
        return "1"
    return {"ia": "0.02", "ig2": "0.10", "gm": "0.15"}.get(read, "0.15")


def _figures(line: Mapping[str, str], point: int, circuit: str, basis: str) -> Iterator[Row]:
    for read in UNITS:
        # A pentode's plate resistance is a lower bound or a reading off level curves.
        if line[COLUMNS[read]]:
            yield Row(
                f"TP-{line['type']}-{line['va']}-{read}{'-lo' if basis == 'left out' else ''}",
                f"tube point: {NAMES[read]}",
                NAMES[read],
                circuit,
                f"tube={line['type']} point={point} read={read}",
                line[COLUMNS[read]],
                UNITS[read],
                _allowed(line, read, basis),
                basis,
                line["confidence"],
                line["source"],
            )


def _self_bias(line: Mapping[str, str], point: int, circuit: str, basis: str) -> Iterator[Row]:
    """The point on the cathode resistor that makes its bias, with supplies above the cathode."""
    amps = (float(line["ia_ma"]) + float(line["ig2_ma"] or 0)) / 1e3
    bias = -float(line["vg1"]) if line["vg1"] else amps * float(line["rk_ohm"])
    inputs = f"tube={line['type']} plate={line['va']} rk={bias / amps:.6g} bias={bias:.6g}"
    inputs += f" screen={line['vg2']}" if line["vg2"] else ""
    inputs += f" point={point}" if basis == "left out" else ""
    for read, family, answer, unit in (
        ("ia", "self-bias: plate current", line["ia_ma"], "mA"),
        ("vk", "self-bias: cathode voltage", f"{bias:.6g}", "V"),
    ):
        yield Row(
            f"SB-{line['type']}-{line['va']}-{read}{'-lo' if basis == 'left out' else ''}",
            family,
            family.split(": ")[1],
            circuit,
            f"{inputs} read={read}",
            answer,
            unit,
            "0.2" if basis == "left out" else "0.03",
            basis,
            line["confidence"],
            line["source"],
        )


_INPUTS = {"section": "section", "va": "plate", "vg2": "screen", "vg1": "grid"}
_TOLD = {
    "curve": ("ia",),
    "knee": ("ia", "ig2"),
}
_AT_VOLTS = {
    "curve": "curve",
    "knee": "plate knee at zero bias",
}


def _characteristics() -> Iterator[Row]:
    """Single characteristics; those of the half the expectations were chosen with say little."""
    for number, line in enumerate(table("characteristics"), 1):
        basis = "in the fit" if characteristics.chosen_with(line["line"]) else "held out"
        given = [f"{name}={line[c]}" for c, name in _INPUTS.items() if line[c]]
        for family, circuit, inputs, answer, unit in _asked(line, given):
            yield Row(
                f"CH-{number}-{line['type']}-{family.split(': ')[-1].replace(' ', '-')}",
                family,
                family.split(": ")[-1],
                circuit,
                f"tube={line['type']} {' '.join(inputs)}",
                answer,
                unit,
                "3",
                basis,
                line["confidence"],
                line["source"],
            )


def _asked(
    line: Mapping[str, str], given: list[str]
) -> Iterator[tuple[str, str, list[str], str, str]]:
    """Family, runner, inputs, answer and unit of everything a line tells."""
    at = [word for word in given if not word.startswith("grid=")]
    match line["what"]:
        case "cut-off":
            yield "cut-off voltage", "cut-off", [*at, f"ma={line['ia_ma']}"], line["vg1"], "V"
        case "remote":
            inputs = [*at, f"ma_per_v={line['gm_ma_per_v']}"]
            yield "remote cut-off voltage", "remote", inputs, line["vg1"], "V"
        case "driven":
            inputs = [*given, f"load={line['load_ohm']}", f"drive={line['drive_v']}"]
            inputs.append(f"pair={line['push_pull']}")
            yield "screen current at full drive", "driven", inputs, line["ig2_ma"], "mA"
        case what:
            for read in _TOLD[what]:
                family = f"{_AT_VOLTS[what]}: {NAMES[read]}"
                inputs = [*given, f"read={read}"]
                yield family, "at-volts", inputs, line[COLUMNS[read]], UNITS[read]


def _shelf() -> Iterator[Row]:
    """Every point of the shelf that has others beside it, its law fitted anew without it."""
    for tube, section, number in characteristics.shelf():
        for read, family, answer in characteristics.told(tube, section, number):
            yield Row(
                f"SH-{tube}{section}-{number}-{read}",
                family,
                family.split(": ")[-1],
                "shelf-left-out",
                f"tube={tube} point={number} read={read}" + (f" section={section}" * bool(section)),
                f"{answer:.6g}",
                UNITS[read],
                "15",
                "left out",
                "memory",
                "tube library: the points of the type",
            )
