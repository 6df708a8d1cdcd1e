"""Writes the index of the tube library: ``python -m coldcheck.circuit.tubes_index``.

A review reads the index and then only the files of the types it uses.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.circuit.tubes import DATA, DataProblem, load_type, plain_name
from coldcheck.circuit.tubes_folder import data_files

if TYPE_CHECKING:
    from pathlib import Path


def index_text(folder: Path = DATA) -> str:
    """The index of a folder of type files; raises DataProblem for a name claimed twice."""
    owners: dict[str, str] = {}
    for path in data_files(folder):
        kind = load_type(path.read_text(encoding="utf-8"), path.name)
        if plain_name(kind.name) != path.stem:
            raise DataProblem(path.name, "name", f"the file should be called {kind.name}.toml")
        for name in (kind.name, *kind.also):
            key = plain_name(name)
            if key in owners:
                raise DataProblem(path.name, "also", f"{name} is already in {owners[key]}")
            owners[key] = path.name
    head = "# Accepted name -> file. Written by: python -m coldcheck.circuit.tubes_index\n"
    return head + "".join(f'"{k}" = "{v}"\n' for k, v in sorted(owners.items()))


def main() -> None:
    """Rewrite ``index.toml``."""
    (DATA / "index.toml").write_text(index_text(), encoding="utf-8")


if __name__ == "__main__":
    main()
