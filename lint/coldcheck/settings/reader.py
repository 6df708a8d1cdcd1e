"""One settings file, read into layers: the file's own, and one for each folder it names."""

from __future__ import annotations

from dataclasses import field
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from coldcheck.circuit.problems import did_you_mean
from coldcheck.circuit.tubes_folder import data_files, read_files
from coldcheck.files import reading
from coldcheck.files.places import Refused
from coldcheck.files.tables import NotToml, tables
from coldcheck.records import dataclass
from coldcheck.settings import keys
from coldcheck.settings.keys import Wrong
from coldcheck.settings.model import Fault, Origin

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from coldcheck.circuit.tubes import TubeType

OWN, PROJECT = "coldcheck.toml", "pyproject.toml"
GIVEN = "settings"
"""What settings are called that are in no file."""


@dataclass(frozen=True, slots=True)
class Layer:
    """The values one table sets, by dotted key, for the drawings in a folder and below it.

    ``folder`` is relative to the file's; it has no parts for the file as a whole.
    """

    folder: PurePosixPath
    values: Mapping[str, Any]
    origins: Mapping[str, Origin]
    types: Mapping[str, TubeType]


@dataclass(frozen=True, slots=True)
class SettingsFile:
    """A settings file: its layers, the widest first, and everything that is wrong with it."""

    path: Path
    layers: tuple[Layer, ...]
    faults: tuple[Fault, ...]


def read_file(path: Path) -> SettingsFile | None:
    """Read a file; ``None`` for a ``pyproject.toml`` that does not speak of coldcheck."""
    try:
        data = tables(reading.text(path, encoding="utf-8-sig"))
    except Refused as refused:
        return _unread(path, refused.found, refused.expected)
    except OSError as error:
        return _unread(path, error.strerror or "a file that cannot be opened", "a file to read")
    except UnicodeDecodeError:
        return _unread(path, "bytes that are no text", "a text in UTF-8")
    except NotToml as error:
        return _unread(path, str(error), "a file in TOML")
    if path.name == OWN:
        return _Reader(path, "").file(data)
    tool = data.get("tool", {})
    if not isinstance(tool, dict) or "coldcheck" not in tool:
        return None
    return _Reader(path, "tool.coldcheck.").file(tool["coldcheck"])


def read_table(path: Path, table: Mapping[str, Any]) -> SettingsFile:
    """Read settings that a program holds; ``path`` is what to call them, and where folders are."""
    return _Reader(path, "").file(dict(table))


def _unread(path: Path, found: str, expected: str) -> SettingsFile:
    return SettingsFile(path, (), (Fault(path, "", found, expected),))


@dataclass(slots=True)
class _Reader:
    """Reads the tables of one file and collects what is wrong."""

    path: Path
    prefix: str
    faults: list[Fault] = field(default_factory=list)

    def file(self, table: Any) -> SettingsFile:
        layers = [self._layer(PurePosixPath(), table, self.prefix)]
        folders = table.get("folders", {}) if isinstance(table, dict) else {}
        layers += self._folders(folders)
        layers.sort(key=lambda layer: len(layer.folder.parts))
        self._check_together(layers)
        return SettingsFile(self.path, tuple(layers), tuple(self.faults))

    # -- tables ----------------------------------------------------------------------------

    def _layer(self, folder: PurePosixPath, table: Any, prefix: str) -> Layer:
        values: dict[str, Any] = {}
        origins: dict[str, Origin] = {}
        inside = bool(folder.parts)
        for key, value in self._flat(table, prefix, inside):
            try:
                values[key] = self._value(key, value, inside=inside)
            except Wrong as wrong:
                self._wrong(prefix + key, wrong)
            else:
                origins[key] = Origin(self.path, prefix + _quoted(key))
        return Layer(folder, values, origins, self._types(values, prefix))

    def _flat(self, table: Any, prefix: str, inside: bool) -> Iterator[tuple[str, Any]]:
        """Dotted keys and their values; the tables with keys of their own are opened."""
        if not isinstance(table, dict):
            self._wrong(prefix.rstrip("."), Wrong(keys.shown(table), "a table of settings"))
            return
        for key, value in table.items():
            if key == "folders" and not inside:
                continue
            if key not in keys.TABLES:
                yield key, value
            elif isinstance(value, dict):
                yield from ((f"{key}.{name}", v) for name, v in _opened(value))
            else:
                self._wrong(prefix + key, Wrong(keys.shown(value), "a table"))

    def _folders(self, table: Any) -> Iterator[Layer]:
        prefix = f"{self.prefix}folders"
        if not isinstance(table, dict):
            self._wrong(prefix, Wrong(keys.shown(table), "a table of folders"))
            return
        for name, inside in table.items():
            place = f'{prefix}."{name}"'
            folder = PurePosixPath(name)
            if folder.is_absolute() or ".." in folder.parts or not folder.parts:
                expected = f"a folder below that of {self.path.name}, with forward slashes"
                self._wrong(place, Wrong("another path", expected))
            elif not (self.path.parent / folder).is_dir():
                near = did_you_mean(name, self._folders_there(folder))
                self._wrong(place, Wrong("no such folder", "a folder that is there", near))
            else:
                yield self._layer(folder, inside, f"{place}.")

    def _folders_there(self, folder: PurePosixPath) -> list[str]:
        """Folders beside the one meant, as one would write them."""
        above = self.path.parent / folder.parent
        if not above.is_dir():
            return []
        return [str(folder.parent / p.name) for p in sorted(above.iterdir()) if p.is_dir()]

    # -- values ----------------------------------------------------------------------------

    def _value(self, key: str, value: Any, *, inside: bool) -> Any:
        """The value of a dotted key; raises Wrong."""
        table, _, name = key.partition(".")
        readers: dict[str, Callable[[], Any]] = {
            "gate": lambda: keys.gate(value),
            "undecided": lambda: keys.undecided(value),
            "off": lambda: _off(name, value, inside=inside),
            "mains": lambda: keys.mains(_one_of(name, keys.MAINS), value),
            "tolerance": lambda: (_one_of(name, keys.TOLERANCES), keys.share(value))[1],
            "data": lambda: self._data(value),
            "instruments": lambda: value,
        }
        if table not in readers:
            wrong = keys.unknown(key, [k for k in keys.TOP if k != "folders" or not inside])
            if table == "folders":
                wrong.hint = 'name the folder from the top, as in folders."old/radios"'
            elif self.path.name == OWN and table == "tool":
                wrong.hint = f"{OWN} has its keys at the top"
            raise wrong
        return readers[table]()

    def _data(self, value: Any) -> tuple[Path, ...]:
        expected = 'a list of folders with tube data, such as ["tubes"]'
        folders = []
        for name in keys.words(value, expected):
            folder = self.path.parent / name
            if not folder.is_dir():
                there = self._folders_there(PurePosixPath(name))
                raise Wrong(f"no folder {name}", expected, did_you_mean(name, there))
            folders.append(folder)
        return tuple(folders)

    def _types(self, values: Mapping[str, Any], prefix: str) -> Mapping[str, TubeType]:
        """The tube types of the data folders; what is wrong in them is told with file and key."""
        folders: tuple[Path, ...] = values.get("data", ())
        files = [file for folder in folders for file in data_files(folder)]
        if folders and not files:
            expected = "tube data: a file NAME.toml for each type"
            self._wrong(f"{prefix}data", Wrong("folders without data", expected))
        types, problems = read_files(files)
        for problem in problems:
            expected = "tube data as in the library of coldcheck"
            self.faults.append(Fault(Path(problem.origin), problem.key, problem.reason, expected))
        return types

    def _check_together(self, layers: Iterable[Layer]) -> None:
        """What only makes sense with another key, in every folder there is a layer for."""
        layers = list(layers)
        for layer in layers:
            above = [a for a in layers if layer.folder.is_relative_to(a.folder)]
            whole = {k for a in above for k in a.values}
            for key, other in (("voltage", "frequency"), ("frequency", "voltage")):
                if f"mains.{key}" in layer.values and f"mains.{other}" not in whole:
                    where = layer.origins[f"mains.{key}"].key
                    self._wrong(where, Wrong(f"no mains.{other}", "both, or neither"))
            wider = {k for a in above if a is not layer for k in a.values}
            for key in (k for k, v in layer.values.items() if k.startswith("off.") and v is None):
                if key not in wider:
                    expected = f"{key} in a wider table, which this would undo"
                    self._wrong(layer.origins[key].key, Wrong("false", expected))

    def _wrong(self, key: str, wrong: Wrong) -> None:
        self.faults.append(Fault(self.path, key, wrong.found, wrong.expected, wrong.hint))


def _opened(table: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """The entries of a table; rules written without quotes (``off.heater.no-reference``) too."""
    for name, value in table.items():
        if isinstance(value, dict) and value:
            yield from _opened(value, f"{above}{name}.")
        else:
            yield above + name, value


def _quoted(key: str) -> str:
    """A dotted key as TOML wants it: a rule's identifier has a dot of its own."""
    table, _, name = key.partition(".")
    return f'{table}."{name}"' if "." in name else key


def _one_of(name: str, known: Iterable[str]) -> str:
    names = list(known)
    if name not in names:
        raise keys.unknown(name, names)
    return name


def _off(name: str, value: Any, *, inside: bool) -> str | None:
    """The reason a rule or family is off, once its name is one that exists."""
    from coldcheck.verdict.added import all_rules  # only who turns rules off waits for all of them

    rules = all_rules()
    known = dict.fromkeys([*(r.family for r in rules), *(r.id for r in rules)])
    if name not in known:
        hint = did_you_mean(name, known) or "coldcheck why lists the rules"
        raise Wrong("no such rule", "a rule, or a family of rules", hint)
    return keys.reason(value, inside=inside)
