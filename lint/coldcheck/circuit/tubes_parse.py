"""Reads one tube type from TOML text and refuses anything it does not understand."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from coldcheck.circuit.tubes_checks import LAW_PARAMETERS, faults
from coldcheck.circuit.tubes_types import (
    CAPACITANCE_NAMES,
    CONFIDENCES,
    DEFLECTION,
    POINT_UNITS,
    RATING_NAMES,
    VACUUM,
    HeaterWay,
    LawData,
    SectionKind,
    SectionType,
    Sheet,
    Sourced,
    TubeType,
)
from coldcheck.files.tables import NotToml, tables

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

GROUPS = ("amplifying", "rectifier", "regulator", "indicator", "thyratron", "detector")
CATHODES = ("indirect", "filament", "cold")
FILLINGS = (VACUUM, "mercury", "gas")
MODES = ("single", "series", "parallel")
KINDS = tuple(kind.value for kind in SectionKind)
LAW_FORMS = tuple(LAW_PARAMETERS)
SECTIONS = ("", "A", "B")
HEATER_ENDS = ("h1", "h2", "tap", "f1", "f2")
ELECTRODES = (
    *("plate", "grid", "grid2", "screen", "suppressor", "cathode", "grid3", "grid4"),
    *("target", "deflector", "deflector2", "starter", *DEFLECTION),
    *("plate1", "plate2", "diode1", "diode2", "diode3", *HEATER_ENDS),
)
IDLE_PINS = ("shield", "nc", "ic", "jumper")
_TEXTS = ("name", "group", "description", "base", "cathode")
_KEYS = frozenset(
    (
        *(*_TEXTS, "also", "rating-system", "notes", "sources", "pins", "pins-source", "jumpers"),
        *(
            "cathode-heater",
            "heater",
            "filling",
            "ratings",
            "supply-resistance",
            "point",
            "section",
            "leads",
            "joined",
            "capacitances",
        ),
    )
)


class DataProblem(ValueError):  # noqa: N818 - named for what the user meets
    """A tube data file that cannot be used: ``origin`` (the file), ``key`` and ``reason``."""

    def __init__(self, origin: str, key: str, reason: str) -> None:
        super().__init__(f"{origin}: {key}: {reason}")
        self.origin, self.key, self.reason = origin, key, reason


class _Reader:
    """The file's name and its table of sources, for messages and for every number."""

    def __init__(self, origin: str, sources: Any) -> None:
        self.origin = origin
        self.sources: dict[str, Sheet] = {}
        for key, entry in self.table(sources, "sources").items():
            self.sources[key] = self._source(entry, f"sources.{key}")

    def problem(self, key: str, reason: str) -> DataProblem:
        return DataProblem(self.origin, key, reason)

    def table(self, value: Any, key: str) -> dict[str, Any]:
        if not isinstance(value, dict):
            raise self.problem(key, "must be a table")
        return value

    def tables(self, value: Any, key: str) -> list[dict[str, Any]]:
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            raise self.problem(key, f"must be a list of tables, [[{key}]]")
        return value

    def text(self, table: Mapping[str, Any], name: str, key: str) -> str:
        value = table.get(name)
        if not isinstance(value, str) or not value.strip():
            raise self.problem(f"{key}.{name}".lstrip("."), "a text is needed here")
        return value

    def choice(self, value: object, allowed: Iterable[str], key: str) -> str:
        if not isinstance(value, str) or value not in allowed:
            raise self.problem(key, f"{value!r} is not one of {', '.join(allowed)}")
        return value

    def only(self, table: Mapping[str, Any], allowed: Iterable[str], key: str) -> None:
        for name in table.keys() - set(allowed):
            raise self.problem(f"{key}.{name}".lstrip("."), "unknown key")

    def number(self, value: Any, key: str) -> float:
        good = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not good or not -1e12 < value < 1e12:
            raise self.problem(key, f"{value!r} is not a usable number")
        return float(value)

    def sourced(self, value: Any, unit: str, key: str) -> Sourced:
        table = self.table(value, key)
        self.only(table, ("value", "unit", "source"), key)
        if table.get("unit", "") != unit:
            raise self.problem(f"{key}.unit", f"must be {unit!r}, not {table.get('unit')!r}")
        sheet = self.source(table.get("source"), key)
        number = self.number(table.get("value"), f"{key}.value")
        return Sourced(number, unit, sheet.source, sheet.confidence)

    def source(self, name: object, key: str) -> Sheet:
        if not isinstance(name, str) or name not in self.sources:
            raise self.problem(f"{key}.source", f"{name!r} is not listed under [sources]")
        return self.sources[name]

    def _source(self, entry: Any, key: str) -> Sheet:
        table = self.table(entry, key)
        self.only(table, ("text", "confidence"), key)
        confidence = self.choice(table.get("confidence"), CONFIDENCES, f"{key}.confidence")
        return Sheet(self.text(table, "text", key), confidence)


def load_type(text: str, origin: str, *, fitted: bool = True) -> TubeType:
    """The tube type in ``text``; ``origin`` names the file in messages. Raises DataProblem.

    Not ``fitted`` is a file whose law is still to be worked out.
    """
    try:
        data = tables(text)
    except NotToml as problem:
        raise DataProblem(origin, "(file)", str(problem)) from problem
    read = _Reader(origin, data.get("sources", {}))
    read.only(data, _KEYS, "")
    pins = _pins(read, data)
    joined = _joined(read, data.get("joined", {}), pins)
    limits, limits_source = _supply_resistance(read, data.get("supply-resistance"))
    kind = TubeType(
        name=read.text(data, "name", ""),
        also=_words(read, data.get("also", []), "also"),
        group=read.choice(data.get("group"), GROUPS, "group"),
        description=read.text(data, "description", ""),
        base=read.text(data, "base", ""),
        cathode=read.choice(data.get("cathode"), CATHODES, "cathode"),
        filling=read.choice(data.get("filling", VACUUM), FILLINGS, "filling"),
        pins=pins,
        heaters=_heaters(read, data),
        cathode_heater=_cathode_heater(read, data),
        jumpers=_jumpers(read, data.get("jumpers", []), pins),
        sections=_sections(read, data, (*pins.values(), *joined)),
        ratings=_ratings(read, data),
        ratings_of=_ratings_of(read, data),
        pins_known="pins" in data,
        joined=joined,
        capacitances=_capacitances(read, data.get("capacitances", {})),
        rating_system=read.text(data, "rating-system", "") if "rating-system" in data else "",
        notes=_words(read, data.get("notes", []), "notes"),
        points=tuple(_point(read, p) for p in read.tables(data.get("point", []), "point")),
        supply_resistance=limits,
        supply_resistance_source=limits_source,
        pins_source=read.source(data.get("pins-source"), "pins"),
        sources=MappingProxyType(read.sources),
    )
    for key, reason in faults(kind, fitted=fitted):
        raise read.problem(key, reason)
    return kind


def _words(read: _Reader, value: Any, key: str) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(v, str) and v for v in value):
        raise read.problem(key, "must be a list of texts")
    return tuple(value)


def _pins(read: _Reader, data: Mapping[str, Any]) -> Mapping[str, tuple[str, str]]:
    """The pins by number; of a base that is not known for certain, the electrodes by name."""
    given = read.table(data.get("pins", {}), "pins")
    pins = {pin: _electrode(read, lead, f"pins.{pin}") for pin, lead in given.items()}
    for lead in () if "pins" in data else _words(read, data.get("leads", []), "leads"):
        pins[lead] = _electrode(read, lead, "leads")
    if not pins:
        raise read.problem("pins", "a tube without pins cannot be wired")
    return MappingProxyType(pins)


def _electrode(read: _Reader, lead: Any, key: str) -> tuple[str, str]:
    section, _, electrode = str(lead).rpartition(".")
    read.choice(section, SECTIONS, key)
    read.choice(electrode, ELECTRODES + IDLE_PINS, key)
    return section, electrode


def _joined(
    read: _Reader, value: Any, pins: Mapping[str, tuple[str, str]]
) -> Mapping[tuple[str, str], tuple[str, str]]:
    found: dict[tuple[str, str], tuple[str, str]] = {}
    for lead, to in read.table(value, "joined").items():
        one, other = (_electrode(read, e, f"joined.{lead}") for e in (lead, to))
        if one in pins.values() or other not in pins.values():
            raise read.problem(f"joined.{lead}", f"{lead} has no pin of its own, and {to} has one")
        found[one] = other
    return MappingProxyType(found)


def _heaters(read: _Reader, data: Mapping[str, Any]) -> tuple[HeaterWay, ...]:
    ways = []
    for index, table in enumerate(read.tables(data.get("heater", []), "heater"), 1):
        key = f"heater {index}"
        read.only(table, ("mode", "volts", "amps"), key)
        mode = read.choice(table.get("mode"), MODES, f"{key}.mode")
        volts = read.sourced(table.get("volts"), "volt", f"{key}.volts")
        amps = read.sourced(table.get("amps"), "ampere", f"{key}.amps")
        ways.append(HeaterWay(mode, volts, amps))
    if not ways and data.get("cathode") != "cold":
        raise read.problem("heater", "a tube with a hot cathode needs its heater")
    return tuple(ways)


def _cathode_heater(read: _Reader, data: Mapping[str, Any]) -> str | None:
    if "cathode-heater" not in data:
        return None
    return read.choice(data["cathode-heater"], ("h1", "h2"), "cathode-heater")


def _jumpers(
    read: _Reader, value: Any, pins: Mapping[str, tuple[str, str]]
) -> tuple[tuple[str, str], ...]:
    pairs = []
    for pair in value if isinstance(value, list) else [value]:
        good = isinstance(pair, list) and len(pair) == 2 and all(p in [*pins] for p in pair)
        if not good:
            raise read.problem("jumpers", f"{pair!r} is not a pair of this tube's pins")
        pairs.append((str(pair[0]), str(pair[1])))
    return tuple(pairs)


def _sections(
    read: _Reader, data: Mapping[str, Any], reached: Collection[tuple[str, str]]
) -> tuple[SectionType, ...]:
    sections: list[SectionType] = []
    for index, table in enumerate(read.tables(data.get("section", []), "section"), 1):
        key = f"section {index}"
        read.only(table, ("names", "kind", "law"), key)
        kind = read.choice(table.get("kind"), KINDS, f"{key}.kind")
        law = _law(read, table["law"], f"{key}.law") if "law" in table else None
        names = table.get("names", [""])
        if not isinstance(names, list) or not names:
            raise read.problem(f"{key}.names", 'must be a list of sections: ["A", "B"]')
        for name in names:
            read.choice(name, SECTIONS, f"{key}.names")
            electrodes = _electrodes(name, reached, data.get("cathode") == "filament")
            if not electrodes:
                raise read.problem(f"{key}.names", f"no pin belongs to section {name!r}")
            sections.append(SectionType(name, SectionKind(kind), electrodes, law))
    missing = {s for s, _ in reached if s} - {s.name for s in sections}
    if not sections or missing:
        raise read.problem("section", f"missing: {', '.join(sorted(missing)) or 'all'}")
    return tuple(sections)


def _electrodes(
    name: str, reached: Collection[tuple[str, str]], directly_heated: bool
) -> tuple[str, ...]:
    """The active electrodes of a section in a fixed order, from the pins they reach."""
    ends = ("f1", "f2") if directly_heated else ()
    own = tuple(e for e in ELECTRODES if e not in HEATER_ENDS and (name, e) in reached)
    return (*own, *(e for e in ends if ("", e) in reached)) if own else ()


def _law(read: _Reader, value: Any, key: str) -> LawData:
    table = read.table(value, key)
    read.only(table, ("form", "parameters", "off", "residual"), key)
    form = read.choice(table.get("form"), LAW_FORMS, f"{key}.form")
    given = read.table(table.get("parameters"), f"{key}.parameters")
    parameters = {k: read.number(v, f"{key}.parameters.{k}") for k, v in given.items()}
    residuals = read.tables(table.get("residual", []), f"{key}.residual")
    frozen = tuple(MappingProxyType(dict(r)) for r in residuals)
    off = read.number(table.get("off", 0.0), f"{key}.off")
    return LawData(form, MappingProxyType(parameters), frozen, off)


def _ratings(read: _Reader, data: Mapping[str, Any]) -> Mapping[str, Sourced]:
    given = read.table(data.get("ratings", {}), "ratings")
    return _rated(read, {k: v for k, v in given.items() if k not in SECTIONS}, "ratings")


def _ratings_of(read: _Reader, data: Mapping[str, Any]) -> Mapping[str, Mapping[str, Sourced]]:
    """The tables ``[ratings.A]`` and ``[ratings.B]`` of unequal sections."""
    given = read.table(data.get("ratings", {}), "ratings")
    tables = {k: read.table(given[k], f"ratings.{k}") for k in SECTIONS if k in given}
    return MappingProxyType({k: _rated(read, t, f"ratings.{k}") for k, t in tables.items()})


def _rated(read: _Reader, given: Mapping[str, Any], key: str) -> Mapping[str, Sourced]:
    read.only(given, RATING_NAMES, key)
    return MappingProxyType(
        {k: read.sourced(v, RATING_NAMES[k], f"{key}.{k}") for k, v in given.items()}
    )


def _capacitances(read: _Reader, value: Any) -> Mapping[str, Mapping[str, Sourced]]:
    """The table ``[capacitances]``, and ``[capacitances.A]`` where sections differ."""
    given = read.table(value, "capacitances")
    tables = {k: read.table(given[k], f"capacitances.{k}") for k in SECTIONS if k in given}
    whole = {k: v for k, v in given.items() if k not in SECTIONS}
    found = {}
    for section, table in {"": whole, **tables}.items():
        key = f"capacitances.{section}".rstrip(".")
        read.only(table, CAPACITANCE_NAMES, key)
        found[section] = MappingProxyType(
            {k: read.sourced(v, "farad", f"{key}.{k}") for k, v in table.items()}
        )
    return MappingProxyType({k: v for k, v in found.items() if v})


def _point(read: _Reader, table: Mapping[str, Any]) -> Mapping[str, Sourced | str]:
    read.only(table, (*POINT_UNITS, "note", "doubtful", "section"), "point")
    if "section" in table:
        read.choice(table["section"], ("A", "B"), "point.section")
    values: dict[str, Sourced | str] = {
        k: read.sourced(table[k], unit, f"point.{k}")
        for k, unit in POINT_UNITS.items()
        if k in table
    }
    texts = ("note", "doubtful", "section")
    values |= {k: read.text(table, k, "point") for k in texts if k in table}
    return MappingProxyType(values)


def _supply_resistance(
    read: _Reader, value: Any
) -> tuple[tuple[tuple[float, float], ...], Sheet | None]:
    if value is None:
        return (), None
    key = "supply-resistance"
    table = read.table(value, key)
    read.only(table, ("volts", "ohms", "source"), key)
    volts, ohms = table.get("volts"), table.get("ohms")
    if not (isinstance(volts, list) and isinstance(ohms, list) and len(volts) == len(ohms)):
        raise read.problem(key, "needs the lists volts and ohms, of the same length")
    source = read.source(table.get("source"), key)
    pairs = [(read.number(v, key), read.number(r, key)) for v, r in zip(volts, ohms, strict=True)]
    return tuple(sorted(pairs)), source
