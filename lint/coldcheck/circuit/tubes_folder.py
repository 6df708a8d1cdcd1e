"""A folder of tube data files, read as the library's own are, with all that is wrong with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.tubes import DataProblem, load_type, plain_name
from coldcheck.files import reading

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from coldcheck.circuit.tubes import TubeType

INDEX = "index.toml"


def data_files(folder: Path) -> list[Path]:
    """The type files of a folder, in order of name; its index is none of them."""
    return sorted(p for p in folder.glob("*.toml") if p.name != INDEX and not p.is_dir())


def read_files(files: Iterable[Path]) -> tuple[dict[str, TubeType], tuple[DataProblem, ...]]:
    """The types in the files by every accepted name (as :func:`plain_name` writes it).

    Every file that cannot be used, and every name claimed twice, is a problem that names the
    file and the key; the rest is read all the same.
    """
    types: dict[str, TubeType] = {}
    problems: list[DataProblem] = []
    owners: dict[str, Path] = {}
    for path in files:
        try:
            kind = read_type(path)
        except DataProblem as problem:
            problems.append(problem)
            continue
        for key, name in [("name", kind.name), *(("also", n) for n in kind.also)]:
            plain = plain_name(name)
            if plain in owners:
                problems.append(
                    DataProblem(str(path), key, f"{name} is already in {owners[plain]}")
                )
            else:
                owners[plain], types[plain] = path, kind
    return types, tuple(problems)


def read_type(path: Path) -> TubeType:
    """The type in a file, which has to bear its name; raises DataProblem with the file in it."""
    try:
        text = reading.text(path)
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "not a text in UTF-8"
        raise DataProblem(str(path), "(file)", reason) from error
    kind = load_type(text, str(path))
    check_name(kind, path)
    return kind


def check_name(kind: TubeType, path: Path) -> None:
    """Raise DataProblem for a file that does not bear the name of its type."""
    if plain_name(kind.name) != path.stem:
        expected = f"{plain_name(kind.name)}.toml"
        raise DataProblem(str(path), "name", f"the file should be called {expected}")
