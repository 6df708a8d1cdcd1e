"""The ledger of a run: read it, mark what stands, say what is gone, rewrite it when asked."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import to_file
from coldcheck.files import reading
from coldcheck.files.places import where
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Sequence

    from coldcheck.verdict.document.content import Document
    from coldcheck.verdict.ledger import Balance, Entry
    from coldcheck.verdict.ruling import Ruling

_LARGEST = 20_000_000


@dataclass(frozen=True, slots=True)
class Ledger:
    """A ledger in use; ``entries`` are those of the file."""

    file: str
    entries: tuple[Entry, ...]

    @property
    def folder(self) -> Path:
        """What the drawings' names in it are relative to."""
        return where(Path(self.file)).parent

    def named(self, drawing: str) -> str:
        """A drawing as the ledger names it."""
        from coldcheck.report.shared.places import relative

        return relative(str(where(Path(drawing))), self.folder)

    def exists(self, name: str) -> bool:
        """Whether a drawing the ledger names is still there."""
        return (self.folder / name).is_file()


def ledger_of(options: Namespace) -> Ledger | None:
    """The ledger asked for; raises AskedWrongly when it cannot be read."""
    if options.ledger is None:
        if options.update_ledger:
            raise AskedWrongly("--update-ledger wants --ledger FILE")
        return None
    from coldcheck.verdict.ledger import LedgerError, parse

    path = Path(options.ledger)
    if options.update_ledger and not (path.exists() or path.is_symlink()):
        return Ledger(options.ledger, ())
    try:
        return Ledger(options.ledger, parse(reading.text(path, _LARGEST)))
    except FileNotFoundError as error:
        raise AskedWrongly(
            f"there is no ledger {options.ledger}; --update-ledger makes one"
        ) from error
    except (OSError, UnicodeDecodeError, LedgerError) as error:
        reason = getattr(error, "strerror", None) or error
        raise AskedWrongly(f"cannot read the ledger {options.ledger}: {reason}") from error


def settled(ledger: Ledger, documents: list[Document]) -> Balance:
    """The documents against the ledger; what is gone is said on stderr."""
    from coldcheck.verdict.ledger import balance

    return balance(documents, ledger.entries, ledger.named, ledger.exists)


def say_gone(ledger: Ledger, balance: Balance) -> None:
    """Name the entries that can leave the ledger."""
    for entry in balance.gone:
        line = f"coldcheck: gone from {ledger.file}: {entry.file}: {entry.rule} at {entry.places}"
        print("".join(c if c.isprintable() else "?" for c in line), file=sys.stderr)
    if balance.gone:
        print("coldcheck: --update-ledger takes them out", file=sys.stderr)


def update(ledger: Ledger, balance: Balance, rulings: Sequence[Ruling]) -> None:
    """Rewrite the ledger: what counts today, and what was not looked at."""
    from coldcheck.verdict.ledger import current, written

    now = current(rulings, ledger.named)
    unread = {ledger.named(d.file) for d in balance.documents if not d.readable}
    left = [e for e in (*balance.kept, *ledger.entries) if e in balance.kept or e.file in unread]
    to_file(written((*now, *left)), ledger.file)
