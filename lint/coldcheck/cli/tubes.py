"""``coldcheck tubes``: the tube data on file, and files of one's own."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli import OK
from coldcheck.cli.configured import settings_of
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import show
from coldcheck.files import reading, writing

if TYPE_CHECKING:
    from argparse import Namespace

    from rich.console import Console

    from coldcheck.solve.tubes.own import Fitted


def run(options: Namespace) -> int:
    """Print the list of types, or all about one; an unknown type is asked wrongly.

    With ``--new`` or ``--fit`` a data file of one's own is begun, or checked and fitted.
    """
    if options.kind is not None and options.new is None:
        raise AskedWrongly("--kind goes with --new")
    if sum(asked is not None for asked in (options.type, options.new, options.fit)) > 1:
        raise AskedWrongly("a TYPE, --new NAME or --fit FILE, one at a time")
    if options.new is not None:
        return _begin(options.new, options.kind or "triode")
    if options.fit is not None:
        return _fit(Path(options.fit))
    return _tell(options.type)


def _begin(name: str, kind: str) -> int:
    """Write a new file for a tube; an old one is left alone."""
    from coldcheck.circuit.tubes import plain_name
    from coldcheck.circuit.tubes_template import template
    from coldcheck.settings.find import data_folders

    plain = plain_name(name)
    if not plain.isalnum() or not plain.isascii():
        raise AskedWrongly(f"{name} is no name of a tube: letters, digits and hyphens")
    own = data_folders(Path())
    path = _near(own[0] if own else Path()) / f"{plain}.toml"
    if path.exists():
        raise AskedWrongly(f"{path} is there already")
    _written(path, template(name, str(path), kind))
    lines = [f"{path}: fill it in, then coldcheck tubes --fit {path}"]
    if not own:
        lines += [
            "A drawing uses it when it is in a folder that the project's coldcheck.toml names:",
            'data = ["FOLDER"]',
        ]
    show(lambda console: _said(lines, console))
    return OK


def _said(lines: list[str], console: Console) -> None:
    from coldcheck.report.shared.lines import say

    for line in lines:
        say(console, line)


def _near(folder: Path) -> Path:
    """A folder as it is written from here."""
    here = Path.cwd()
    return folder.relative_to(here) if folder.is_relative_to(here) else folder


def _fit(path: Path) -> int:
    """Check and fit a file, write its law into it, and show what it says."""
    from coldcheck.circuit.tubes import DATA, DataProblem
    from coldcheck.circuit.tubes_folder import check_name
    from coldcheck.solve.tubes.own import fitted

    if path.resolve().parent == DATA.resolve():
        raise AskedWrongly(f"{path} is the library's own: copy it into a folder of the project")
    try:
        found = fitted(reading.text(path), str(path))
        check_name(found.kind, path)
    except (OSError, UnicodeDecodeError) as error:
        raise AskedWrongly(f"{path}: {getattr(error, 'strerror', None) or 'no text'}") from error
    except DataProblem as problem:
        raise AskedWrongly(str(problem)) from problem
    _written(path, found.text)
    show(lambda console: _shown(found, console))
    return OK


def _shown(found: Fitted, console: Console) -> None:
    from coldcheck.report.pages import tube_sheet

    tube_sheet.render(found.kind, console)
    tube_sheet.checks(found.remarks, console)


def _written(path: Path, text: str) -> None:
    try:
        writing.write(path, text)
    except OSError as error:
        raise AskedWrongly(f"{path}: {error.strerror or error}") from error


def _tell(wanted: str | None) -> int:
    """The list, or one type.

    A project's own types go before those of the library, as in a review of a drawing here; so do
    those that other packages bring.
    """
    from coldcheck.circuit.transistors import transistor_types
    from coldcheck.circuit.tubes import UnknownTube, known_types, plain_name, tube_type
    from coldcheck.circuit.tubes_added import added_tubes
    from coldcheck.report.pages import transistor_sheet, tube_sheet

    (settings,) = settings_of(["here.tube"])
    own = {**added_tubes().types, **settings.types}
    if wanted is None:
        names = sorted({*known_types(), *(k.name for k in own.values())})
        kinds = [own.get(plain_name(name)) or tube_type(name) for name in names]
        show(lambda console: tube_sheet.render_list(kinds, console))
        return OK
    transistor = transistor_types().get(plain_name(wanted))
    if transistor is not None:
        show(lambda console: transistor_sheet.render(transistor, console))
        return OK
    try:
        kind = own.get(plain_name(wanted)) or tube_type(wanted)
    except UnknownTube as error:
        raise AskedWrongly(str(error)) from error
    show(lambda console: tube_sheet.render(kind, console))
    return OK
