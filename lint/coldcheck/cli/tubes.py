"""``coldcheck tubes``: the tube data on file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.cli import OK
from coldcheck.cli.configured import settings_of
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import show

if TYPE_CHECKING:
    from argparse import Namespace


def run(options: Namespace) -> int:
    """Print the list of types, or all about one; an unknown type is asked wrongly.

    A project's own types go before those of the library, as in a review of a drawing here; so do
    those that other packages bring.
    """
    from coldcheck.circuit.tubes import UnknownTube, known_types, plain_name, tube_type
    from coldcheck.circuit.tubes_added import added_tubes
    from coldcheck.report.pages import tube_sheet

    (settings,) = settings_of(["here.tube"])
    own = {**added_tubes().types, **settings.types}
    if options.type is None:
        names = sorted({*known_types(), *(k.name for k in own.values())})
        kinds = [own.get(plain_name(name)) or tube_type(name) for name in names]
        show(lambda console: tube_sheet.render_list(kinds, console))
        return OK
    try:
        kind = own.get(plain_name(options.type)) or tube_type(options.type)
    except UnknownTube as error:
        raise AskedWrongly(str(error)) from error
    show(lambda console: tube_sheet.render(kind, console))
    return OK
