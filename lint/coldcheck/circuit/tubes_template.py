"""A file for a tube of the user's own: what a data sheet gives, each line saying what it wants."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    _Maker = Callable[[str, str], str]

KINDS = ("triode", "double-triode", "pentode", "triode-pentode", "rectifier", "heater-only")

_HEAD = """# {name}: where the data sheet gives the figure of a line, take away the # and put it in
# place of the ?, in the unit that is written (0.009 ampere for 9 mA). Leave out what it does not
# give; guess nothing. Then: coldcheck tubes --fit {file}
name = "{name}"
also = []                     # other names of exactly this tube: ["ABC1"]
group = "{group}"       # amplifying, rectifier, regulator, indicator, thyratron, detector
description = "{description}"
base = "?"                    # octal 8BD, noval 9A, 7-pin miniature 7BK: the first word says
                              # how many pins there are
cathode = "indirect"          # indirect; filament (f1 and f2 in place of the cathode); cold
rating-system = "design-centre"   # design-centre, design-max or absolute: as the sheet says
pins-source = "sheet"
notes = []

[sources.sheet]
text = "?"                    # which sheet, of which maker, when
confidence = "found"          # found: read in a document; memory: not looked up
"""

_PINS = """
# Every pin of the base: these are examples, not your tube. A. and B. go before the electrodes of
# two sections. Pins without an electrode are "nc" (nothing inside) or "ic" (used inside: leave
# free); a shell is "shield"; a top cap is the pin cap = "plate". Where the numbers are not known,
# in place of this table, above the first [table]:
# leads = {leads}
[pins]
{pins}
"""

_HEATER = """
[[heater]]
mode = "single"               # two halves with a tap: one table "series", one "parallel"
# volts = { value = ?, unit = "volt", source = "sheet" }
# amps = { value = ?, unit = "ampere", source = "sheet" }
"""

_RATINGS = """
# Limits; without one the rule that asks for it says so. heater-negative-peak: heater negative of
# the cathode. {where}
[ratings{section}]
# heater-negative-peak = {{ value = ?, unit = "volt", source = "sheet" }}
# heater-positive-peak = {{ value = ?, unit = "volt", source = "sheet" }}
{lines}"""

_TRIODE_LIMITS = """# plate-voltage = { value = ?, unit = "volt", source = "sheet" }
# plate-dissipation = { value = ?, unit = "watt", source = "sheet" }
# cathode-current = { value = ?, unit = "ampere", source = "sheet" }
# grid-leak-fixed-bias = { value = ?, unit = "ohm", source = "sheet" }
# grid-leak-cathode-bias = { value = ?, unit = "ohm", source = "sheet" }
"""
_PENTODE_LIMITS = """# screen-voltage = { value = ?, unit = "volt", source = "sheet" }
# screen-dissipation = { value = ?, unit = "watt", source = "sheet" }
"""
_RECTIFIER_LIMITS = """# supply-rms-capacitor-input = { value = ?, unit = "volt", source = "sheet" }
# inverse-voltage = { value = ?, unit = "volt", source = "sheet" }
# rectifier-current = { value = ?, unit = "ampere", source = "sheet" }
# peak-plate-current = { value = ?, unit = "ampere", source = "sheet" }
# first-capacitor = { value = ?, unit = "farad", source = "sheet" }
"""

_POINT = """
# Operating points of class A, two or three if the sheet has them, each with a table of its own.
# Currents of one section, volts to the cathode; rows read off the curves are points too, and so is
# the grid voltage of a small plate current (10 uA), which tells where the tube cuts off.
# In place of grid-voltage: cathode-resistor = {{ value = ?, unit = "ohm", source = "sheet" }}
[[point]]
{section}# plate-voltage = {{ value = ?, unit = "volt", source = "sheet" }}
{screen}# grid-voltage = {{ value = ?, unit = "volt", source = "sheet" }}
# plate-current = {{ value = ?, unit = "ampere", source = "sheet" }}
{more}# transconductance = {{ value = ?, unit = "siemens", source = "sheet" }}
# plate-resistance = {{ value = ?, unit = "ohm", source = "sheet" }}
"""
_MU = '# amplification-factor = { value = ?, source = "sheet" }\n'
_SCREEN = '# screen-voltage = { value = ?, unit = "volt", source = "sheet" }\n'
_SCREEN_CURRENT = (
    '# screen-current = { value = ?, unit = "ampere", source = "sheet" }\n'
    "# Of an output tube by itself, its load and what the screen takes at maximum signal:\n"
    '# load = { value = ?, unit = "ohm", source = "sheet" }\n'
    '# driven-screen-current = { value = ?, unit = "ampere", source = "sheet" }\n'
)
_DROP = """
# The drop of one plate: so many volts at so much current.
[[point]]
# plate-voltage = { value = ?, unit = "volt", source = "sheet" }
# plate-current = { value = ?, unit = "ampere", source = "sheet" }
"""
_CAPACITANCES = """
# Without an external shield; the mark below is where the law will stand.
# [capacitances{section}]
# grid-plate = {{ value = ?, unit = "farad", source = "sheet" }}
# input = {{ value = ?, unit = "farad", source = "sheet" }}
# output = {{ value = ?, unit = "farad", source = "sheet" }}
"""
_SECTION = '\n[[section]]\nnames = [{names}]\nkind = "{kind}"\n'

_TRIODE = (("1", "nc"), ("2", "h1"), ("3", "plate"), ("4", "nc"), ("5", "grid"), ("6", "nc"),
           ("7", "h2"), ("8", "cathode"))  # fmt: skip
_DOUBLE = (("1", "B.grid"), ("2", "B.plate"), ("3", "B.cathode"), ("4", "A.grid"),
           ("5", "A.plate"), ("6", "A.cathode"), ("7", "h1"), ("8", "h2"))  # fmt: skip
_PENTODE = (("1", "nc"), ("2", "h1"), ("3", "plate"), ("4", "screen"), ("5", "grid"), ("6", "nc"),
            ("7", "h2"), ("8", "cathode"))  # fmt: skip
_BOTH = (("1", "A.grid"), ("2", "B.cathode"), ("3", "B.grid"), ("4", "h1"), ("5", "h2"),
         ("6", "B.plate"), ("7", "B.screen"), ("8", "A.plate"))  # fmt: skip
_RECTIFIER = (("1", "nc"), ("2", "h1"), ("3", "nc"), ("4", "plate2"), ("5", "nc"),
              ("6", "plate1"), ("7", "h2"), ("8", "cathode"))  # fmt: skip


def template(name: str, file: str, kind: str) -> str:
    """The text of a new file; ``kind`` is one of :data:`KINDS`."""
    return _PARTS[kind](name, file)


def _of_triode(name: str, file: str) -> str:
    return _amplifier(name, file, "triode", _TRIODE, '""')


def _of_double(name: str, file: str) -> str:
    return _amplifier(name, file, "triode", _DOUBLE, '"A", "B"')


def _of_pentode(name: str, file: str) -> str:
    return _amplifier(name, file, "pentode", _PENTODE, '""')


def _amplifier(
    name: str, file: str, kind: str, pins: tuple[tuple[str, str], ...], names: str
) -> str:
    """One kind of section, be it one or two alike."""
    limits = _TRIODE_LIMITS + (_PENTODE_LIMITS if kind == "pentode" else "")
    return "".join(
        (
            _head(name, file, "amplifying", kind), _pins(pins), _HEATER,
            _RATINGS.format(where="Of each section.", section="", lines=limits),
            _CAPACITANCES.format(section=""), _point(kind, ""),
            _SECTION.format(names=names, kind=kind),
        )
    )  # fmt: skip


def _of_both(name: str, file: str) -> str:
    """Two sections that are not alike, each with what is its own."""
    head = _head(name, file, "amplifying", "triode pentode") + _pins(_BOTH)
    joined = "\n# One cathode pin for both sections; take it out where each has its own.\n"
    joined += '[joined]\n"A.cathode" = "B.cathode"\n'
    parts = [head, joined, _HEATER]
    for section, limits in (("A", _TRIODE_LIMITS), ("B", _TRIODE_LIMITS + _PENTODE_LIMITS)):
        where = f"Of section {section}."
        parts.append(_RATINGS.format(where=where, section=f".{section}", lines=limits))
        parts.append(_CAPACITANCES.format(section=f".{section}"))
    parts += [_point("triode", "A"), _point("pentode", "B")]
    parts += [_SECTION.format(names='"A"', kind="triode")]
    return "".join((*parts, _SECTION.format(names='"B"', kind="pentode")))


def _of_rectifier(name: str, file: str) -> str:
    ratings = _RATINGS.format(where="", section="", lines=_RECTIFIER_LIMITS)
    head = _head(name, file, "rectifier", "full-wave rectifier")
    parts = (head, _pins(_RECTIFIER), _HEATER, ratings, _DROP)
    return "".join((*parts, _SECTION.format(names='""', kind="rectifier")))


def _of_heater(name: str, file: str) -> str:
    """A place in the socket and a load: its currents are not known and not judged."""
    head = _head(name, file, "amplifying", "pentode, only its heater is known")
    leads = 'leads = ["plate", "screen", "grid", "cathode", "h1", "h2"]\n'
    front, mark, sources = head.partition("\n[sources.sheet]")
    parts = (front, "\n", leads, mark, sources, _HEATER)
    return "".join((*parts, _SECTION.format(names='""', kind="pentode")))


def _head(name: str, file: str, group: str, description: str) -> str:
    return _HEAD.format(name=name, file=file, group=group, description=description)


def _pins(pins: tuple[tuple[str, str], ...]) -> str:
    leads = ", ".join(f'"{e}"' for _, e in pins if e != "nc")
    rows = "\n".join(f'# {pin} = "{electrode}"' for pin, electrode in pins)
    return _PINS.format(leads=f"[{leads}]", pins=rows)


def _point(kind: str, section: str) -> str:
    pentode = kind == "pentode"
    return _POINT.format(
        section=f'section = "{section}"\n' if section else "",
        screen=_SCREEN if pentode else "",
        more=_SCREEN_CURRENT if pentode else _MU,
    )


_PARTS: Mapping[str, _Maker] = {
    "triode": _of_triode,
    "double-triode": _of_double,
    "pentode": _of_pentode,
    "triode-pentode": _of_both,
    "rectifier": _of_rectifier,
    "heater-only": _of_heater,
}
