"""``coldcheck settings``: what holds for each drawing, and where each value came from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.cli import OK
from coldcheck.cli.configured import settings_of
from coldcheck.cli.files import wanted
from coldcheck.cli.output import show

if TYPE_CHECKING:
    from argparse import Namespace

    from coldcheck.settings.model import Settings


def run(options: Namespace) -> int:
    """Print the settings, once for all drawings that share them."""
    from coldcheck.report.pages import settings_table

    drawings = wanted(options.files)
    shared: dict[str, tuple[Settings, list[str]]] = {}
    for item, own in zip(drawings, settings_of(d.file for d in drawings), strict=True):
        key = f"{own.fingerprint()} {own.origins}"
        shared.setdefault(key, (own, []))[1].append(item.file)
    show(lambda console: settings_table.render(list(shared.values()), console))
    return OK
