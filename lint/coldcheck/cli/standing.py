"""The ledger of a run: read it, mark what stands, say what is gone, rewrite it when asked."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import to_file
from coldcheck.cli.revisions import commit_of, root_of
from coldcheck.files import reading
from coldcheck.files.places import where
from coldcheck.records import dataclass
from coldcheck.report.shared.plain import clean, counted

if TYPE_CHECKING:
    from argparse import Namespace
    from collections.abc import Sequence

    from coldcheck.cli.base import Base
    from coldcheck.cli.changes import Told
    from coldcheck.verdict.document.content import Document
    from coldcheck.verdict.ledger import Balance, Entry
    from coldcheck.verdict.ruling import Ruling

_LARGEST = 20_000_000


@dataclass(frozen=True, slots=True)
class Ledger:
    """A ledger in use; ``entries`` are those of the file, or of a trusted revision's.

    ``folder`` is what the drawings' names in it are relative to.
    """

    file: str
    folder: Path
    entries: tuple[Entry, ...] = ()

    def named(self, drawing: str) -> str:
        """A drawing as the ledger names it."""
        from coldcheck.report.shared.places import relative

        return relative(str(where(Path(drawing))), self.folder)

    def exists(self, name: str) -> bool:
        """Whether a drawing the ledger names is still there."""
        return (self.folder / name).is_file()


def ledger_of(options: Namespace, base: Base | None = None) -> Ledger | None:
    """The ledger asked for, as the trusted revision has it where there is one.

    Raises AskedWrongly when it cannot be read. Where there is none everything counts.
    """
    if options.ledger is None:
        if options.update_ledger:
            raise AskedWrongly("--update-ledger wants --ledger FILE")
        return None
    path = Path(options.ledger)
    folder = where(path).parent
    if base is not None and options.update_ledger:
        raise AskedWrongly("--update-ledger writes what stands now: leave out --trusting")
    if base is not None and base.written(path) is not None:
        path = base.folder / str(base.written(path))
        folder = base.now(where(path).parent)
    if not (path.exists() or path.is_symlink()):
        if not options.update_ledger:
            where_ = "" if base is None else f" in {base.revision}"
            line = f"there is no ledger {options.ledger}{where_} yet: everything counts"
            print(clean(f"coldcheck: {line} (--update-ledger makes one)"), file=sys.stderr)
        return Ledger(options.ledger, folder)
    return Ledger(options.ledger, folder, _entries(path, options.ledger))


def _entries(path: Path, name: str) -> tuple[Entry, ...]:
    from coldcheck.verdict.ledger import LedgerError, parse

    try:
        found = parse(reading.text(path, _LARGEST))
    except (OSError, UnicodeDecodeError, LedgerError) as error:
        reason = getattr(error, "strerror", None) or error
        raise AskedWrongly(f"cannot read the ledger {name}: {reason}") from error
    former = sum(not e.level for e in found)
    if former:
        line = f"{counted(former, 'line')} of {name} have no level, as ledgers had none: they"
        print(clean(f"coldcheck: {line} cover nothing; --update-ledger anew"), file=sys.stderr)
    return found


def ledger_changed(said: Told, ledger: Ledger, balance: Balance) -> None:
    """What the change does to the ledger, which is that of the trusted revision.

    A line of its own is none too many where a finding stands that was only renamed: as grave as
    the line that it answers to.
    """
    from coldcheck.verdict.change import Change
    from coldcheck.verdict.ledger import added, entry

    path, revision = Path(ledger.file), said.base.revision
    if said.base.written(path) is None:
        return
    now = _entries(path, ledger.file) if path.exists() or path.is_symlink() else ()
    stood = [
        replace(entry(f, ledger.named(d.file)), level=met.level, excess=met.excess)
        for d in balance.documents
        for f in d.findings
        if f.standing and (met := balance.met.get((ledger.named(d.file), f.fingerprint)))
    ]
    new = added((*ledger.entries, *stood), now)
    for one in new:
        text = f"the ledger takes in {one.rule} at {one.places} of {one.file} ({one.severity})"
        text += f", which that of {revision} does not have so grave; it counts"
        said.say(Change.LEDGER_GROWN, ledger.file, text, (one.file, one.places))
    if not new and sorted(now) != sorted(ledger.entries):
        text = f"the ledger differs from that of {revision}, and takes in nothing more"
        said.say(Change.TOUCHED, ledger.file, text, loosens=False)


def settled(ledger: Ledger, documents: list[Document]) -> Balance:
    """The documents against the ledger; what is gone is said on stderr."""
    from coldcheck.verdict.ledger import balance

    return balance(documents, ledger.entries, ledger.named, ledger.exists)


def _revision(folder: Path) -> str:
    """The commit that the ledger's repository stands at, shortened; ``-`` where there is none."""
    try:
        return commit_of(root_of(folder), "HEAD")[:12]
    except AskedWrongly:
        return "-"


def say_gone(ledger: Ledger, balance: Balance) -> None:
    """Name the entries that can leave the ledger."""
    for entry in balance.gone:
        line = f"coldcheck: gone from {ledger.file}: {entry.file}: {entry.rule} at {entry.places}"
        print("".join(c if c.isprintable() else "?" for c in line), file=sys.stderr)
    if balance.gone:
        print("coldcheck: --update-ledger takes them out", file=sys.stderr)


def update(ledger: Ledger, balance: Balance, rulings: Sequence[Ruling]) -> None:
    """Rewrite the ledger: what counts today, and what was not looked at."""
    from coldcheck.verdict.ledger import current, refused_name, written

    day, revision = date.today().isoformat(), _revision(ledger.folder)
    now = current(rulings, ledger.named, balance.met, day, revision)
    unread = {ledger.named(d.file) for d in balance.documents if not d.readable}
    left = [e for e in (*balance.kept, *ledger.entries) if e in balance.kept or e.file in unread]
    refused = refused_name(e.file for e in now)
    if refused:
        found = f"the name {refused!r} has a sign in it that no line of a ledger can hold"
        raise AskedWrongly(f"{found}: rename the drawing")
    to_file(written((*now, *left)), ledger.file)
