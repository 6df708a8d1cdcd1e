"""``coldcheck tubes``: the tube data on file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.cli import OK
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import show

if TYPE_CHECKING:
    from argparse import Namespace


def run(options: Namespace) -> int:
    """Print the list of types, or all about one; an unknown type is asked wrongly."""
    from coldcheck.circuit.tubes import UnknownTube, known_types, tube_type
    from coldcheck.report import tube_sheet

    if options.type is None:
        kinds = [tube_type(name) for name in known_types()]
        show(lambda console: tube_sheet.render_list(kinds, console))
        return OK
    try:
        kind = tube_type(options.type)
    except UnknownTube as error:
        raise AskedWrongly(str(error)) from error
    show(lambda console: tube_sheet.render(kind, console))
    return OK
