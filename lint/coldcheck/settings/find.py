"""Finds the settings of a drawing: upwards from its folder, the first file that has any."""

from __future__ import annotations

from dataclasses import field
from pathlib import Path, PurePosixPath
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from coldcheck.circuit.usual import Usual
from coldcheck.files.places import where
from coldcheck.records import dataclass
from coldcheck.settings.keys import TOLERANCES
from coldcheck.settings.model import DEFAULTS, Settings, SettingsError
from coldcheck.settings.reader import GIVEN, OWN, PROJECT, SettingsFile, read_file, read_table

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.circuit.tubes import TubeType
    from coldcheck.settings.model import Fault, Origin
    from coldcheck.settings.reader import Layer


def find(drawing: Path) -> Settings:
    """The settings of a drawing; raises SettingsError with everything that is wrong."""
    return find_all([drawing])[0]


def find_all(drawings: Iterable[Path]) -> list[Settings]:
    """The settings of several drawings, each file read once; raises SettingsError as above."""
    finder = _Finder()
    folders = [where(drawing).parent for drawing in drawings]
    files = [finder.governing(folder) for folder in folders]
    faults: dict[Fault, None] = {}
    for file in files:
        faults.update(dict.fromkeys(file.faults if file else ()))
    if faults:
        raise SettingsError(tuple(faults))
    return [_settings(f, folder) for f, folder in zip(files, folders, strict=True)]


def given(table: Mapping[str, Any]) -> Settings:
    """Settings that are in no file, with the keys of one; raises SettingsError as above.

    Folders in them are those of the present folder.
    """
    file = read_table(Path(GIVEN), table)
    if file.faults:
        raise SettingsError(file.faults)
    return _settings(file, file.path.parent)


def data_folders(folder: Path) -> tuple[Path, ...]:
    """The folders of tube data that hold in a folder, whatever else is wrong in its settings.

    A folder in which the first file is still to be written is among them.
    """
    real = where(folder / "any.tube").parent
    return _settings(_Finder().governing(real), real).data


@dataclass(slots=True)
class _Finder:
    """What governs the folders seen so far, within one call."""

    _known: dict[Path, SettingsFile | None] = field(default_factory=dict)

    def governing(self, folder: Path) -> SettingsFile | None:
        """The settings file of a folder: its own, else that of the folder above.

        Within a folder ``coldcheck.toml`` goes before ``pyproject.toml``. The search ends where
        a repository begins (``.git``).
        """
        if folder not in self._known:
            found = _own(folder)
            if found is None and folder.parent != folder and not (folder / ".git").exists():
                found = self.governing(folder.parent)
            self._known[folder] = found
        return self._known[folder]


def _own(folder: Path) -> SettingsFile | None:
    for name in (OWN, PROJECT):
        path = folder / name
        found = read_file(path) if _there(path) else None
        if found is not None:
            return found
    return None


def _there(path: Path) -> bool:
    """Whether there is anything by that name; what is no file is told, and not passed over."""
    try:
        return path.exists() and not path.is_dir()
    except OSError:  # a folder above that we may not look into
        return False


def _settings(file: SettingsFile | None, folder: Path) -> Settings:
    """The layers that hold in a folder laid over one another, key by key, the deepest on top."""
    if file is None:
        return DEFAULTS
    here = PurePosixPath(*folder.relative_to(file.path.parent).parts)
    values: dict[str, Any] = {}
    origins: dict[str, Origin] = {}
    types: Mapping[str, TubeType] = {}
    for layer in file.layers:
        if here.is_relative_to(layer.folder):
            types = layer.types if "data" in layer.values else types
            _lay(layer, values, origins)
    return _made(values, origins, types)


def _lay(layer: Layer, values: dict[str, Any], origins: dict[str, Origin]) -> None:
    for key, value in layer.values.items():
        if value is None:  # a rule that is on again
            values.pop(key, None)
            origins.pop(key, None)
        else:
            values[key], origins[key] = value, layer.origins[key]


def _made(
    values: Mapping[str, Any], origins: Mapping[str, Origin], types: Mapping[str, TubeType]
) -> Settings:
    shares = {"mains.tolerance": "mains", **{f"tolerance.{k}": f for k, f in TOLERANCES.items()}}
    usual = {name: values[key] for key, name in shares.items() if key in values}
    off = {k.removeprefix("off."): v for k, v in values.items() if k.startswith("off.")}
    return Settings(
        gate=values.get("gate", DEFAULTS.gate),
        undecided=values.get("undecided", DEFAULTS.undecided),
        off=MappingProxyType(off),
        mains_voltage=values.get("mains.voltage"),
        mains_frequency=values.get("mains.frequency"),
        usual=Usual(**usual),
        data=values.get("data", ()),
        types=MappingProxyType(dict(types)),
        instruments=values.get("instruments"),
        origins=MappingProxyType(dict(origins)),
    )
