"""``coldcheck readings``: bench measurements against predictions, and which fault explains them."""

from __future__ import annotations

import sys
from pathlib import Path
from textwrap import fill, indent
from typing import TYPE_CHECKING

from coldcheck.cli import FOUND, OK, UNREADABLE
from coldcheck.cli.drawn import drawn, own_instruments, unreadable
from coldcheck.cli.failure import AskedWrongly
from coldcheck.cli.output import console_text, show, to_file, to_stdout
from coldcheck.files import reading
from coldcheck.files.places import Refused

if TYPE_CHECKING:
    from argparse import Namespace

    from coldcheck.bench.diagnosis.account import Account, Evening
    from coldcheck.bench.diagnosis.ranked import Next
    from coldcheck.bench.instruments.instruments import Instrument
    from coldcheck.circuit.model import Circuit
    from coldcheck.cli.cache import Shelf
    from coldcheck.cli.session import Session
    from coldcheck.settings.model import Settings

ASK = (
    "Type the reading of the point that is asked for (13.2), or any reading (B1 dc 284,\n"
    "V2.grid ac 300 mV, across R12 46 mV, V3.h1 to V3.h2 ac 6.3, LIFT ohm 19k). 'skip' for\n"
    "another point, 'undo', 'list', 'help' for all the rest, 'done' when finished.\n\n"
    "What each fault would show is worked out meanwhile, and kept for the next time."
)
FIRST_QUESTION_S = 1.0
"""So long the first question may wait for the library: what was kept is there by then."""


def run(options: Namespace) -> int:
    """Judge and diagnose readings from a file, or ask for them one by one."""
    if options.file == options.readings:
        raise AskedWrongly("drawing and readings cannot be the same")
    found = drawn(options.file)
    if found.circuit is None:
        return unreadable(found)
    evening = _evening(found.circuit, found.settings, options.meter)
    if options.readings is not None and not _read(evening, options.readings):
        return UNREADABLE
    if options.suggest:
        return _suggest(evening)
    if options.readings is None:
        return _asked(evening, options)
    return _told(evening, options)


def _told(evening: Evening, options: Namespace) -> int:
    """The report of all readings."""
    account = evening.account()
    _report(account, options)
    return FOUND if account.outside else OK


def _asked(evening: Evening, options: Namespace) -> int:
    """Ask for readings, and report them; they are kept until that is done."""
    from coldcheck.cli.journal import Journal
    from coldcheck.cli.session import Session

    session = Session(evening, Journal.of_user(options.file))
    try:
        _ask(session)
        status = _told(evening, options)
    except KeyboardInterrupt:
        to_stdout(f"\n{filled(_left(session))}\n")
        raise
    session.journal.away()
    return status


def _left(session: Session) -> str:
    """What becomes of the readings of an evening that is broken off."""
    if not session.evening.readings:
        return "Interrupted; nothing had been read."
    if session.journal.keep(session.evening.readings):
        return "Interrupted. The readings are kept: the same command takes them up again."
    from coldcheck.cli.journal import written

    return f"Interrupted. The readings could not be kept:\n{written(session.evening.readings)}"


def _taken_up(session: Session) -> str:
    """Take the readings of an evening that was broken off in again; what is said of it."""
    from coldcheck.bench.diagnosis.noted import parse_readings

    found, slips = parse_readings(session.evening.circuit, session.journal.text())
    session.evening.take(found)
    lost = f" {len(slips)} more do not fit the drawing as it is now." if slips else ""
    if not found and not lost:
        return ""
    count = f"{len(found)} reading{'' if len(found) == 1 else 's'}"
    return f"Taken up again: {count} of an evening that was broken off ('forget' drops them).{lost}"


def _evening(circuit: Circuit, settings: Settings, meter: str | None) -> Evening:
    from coldcheck.bench.diagnosis.account import Evening

    instruments = _read_with(own_instruments(settings), meter)
    return Evening(circuit, instruments, keeper=_shelf(circuit, instruments, settings))


def _shelf(circuit: Circuit, instruments: object, settings: Settings) -> Shelf:
    """Where what is known of a drawing is kept, by all it is worked out from."""
    from coldcheck.cli.cache import Shelf, digest_of, key_of, program

    made_of = {file: digest_of(Path(file)) for file in circuit.drawing.files}
    parts = {"program": program(), "settings": settings.fingerprint(), "meter": repr(instruments)}
    whole = all(made_of.values())  # a drawing that was typed in is kept nowhere
    return Shelf.of_user(key_of({**parts, **made_of})) if whole else Shelf(None, "")


def _read_with(instruments: tuple[Instrument, ...], words: str | None) -> tuple[Instrument, ...]:
    """The instruments with the one that DC is read with first; AskedWrongly for none such."""
    from coldcheck.bench.instruments.instruments import MEAN

    direct = [i for i in instruments if i.response == MEAN]
    chosen = [i for i in direct if words is None or words.casefold() in i.name.casefold()]
    if not chosen:
        known = "; ".join(i.name for i in direct)
        raise AskedWrongly(f"there is no meter {words!r} for DC: {known}")
    return (chosen[0], *(i for i in instruments if i is not chosen[0]))


def _read(evening: Evening, file: str) -> bool:
    """Take the readings of a file in; print what is wrong with it, all at once."""
    from coldcheck.bench.diagnosis.noted import ReadingsParser
    from coldcheck.report.shared.plain import clean

    try:
        text = _typed_in() if file == "-" else reading.text(Path(file))
    except OSError as error:
        raise AskedWrongly(f"cannot read {file}: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise AskedWrongly(f"{file} is not UTF-8 text") from error
    parser = ReadingsParser(evening.circuit)
    found, slips = parser.parse(text), parser.in_order()
    if parser.remark:
        print(clean(f"{file}: {parser.remark}"), file=sys.stderr)
    for slip in slips:
        line = f"{file}:{slip.line}.{slip.column}: {slip.message}"
        print(clean(line), file=sys.stderr)
    if not slips and not found:
        raise AskedWrongly(f"{file} holds no readings")
    evening.take(found)
    return not slips


def _typed_in() -> str:
    """Standard input to its end, which may never come; raises Refused for too much of it."""
    text = sys.stdin.read(reading.MOST_DATA + 1)
    if len(text) > reading.MOST_DATA:
        raise Refused.because("too much to be readings", "a table of readings")
    return text


def _suggest(evening: Evening) -> int:
    """Print only what to measure next."""
    from coldcheck.report.diagnosis import text as diagnosis_text

    account = evening.account()
    if account.reason:
        raise AskedWrongly(f"nothing to suggest: {account.reason}")
    show(lambda console: diagnosis_text.heading(account, console))
    show(lambda console: diagnosis_text.following(account.following, console))
    show(diagnosis_text.closing)
    return OK


def _ask(session: Session) -> None:
    """Readings typed in one by one, each answered with its verdict and the next best point."""
    from coldcheck.cli.session import ENDS
    from coldcheck.report.diagnosis import text as diagnosis_text

    evening = session.evening
    head = evening.head()
    show(lambda console: diagnosis_text.heading(head, console))
    show(diagnosis_text.closing)
    to_stdout(f"\n{ASK}\n")
    if again := _taken_up(session):
        to_stdout(f"\n{filled(again)}\n{session.listed()}\n")
    skipped: set[tuple[str, str, str]] = set()
    evening.known.begin()
    evening.known.wait(FIRST_QUESTION_S)
    while True:
        wanted = _wanted(evening, skipped)
        _prompt(evening, wanted, live=head.live)
        line = sys.stdin.readline() if sys.stdin is not None else ""
        text = line.strip()
        if not line or text.casefold() in ENDS:
            to_stdout("\n")
            return
        if text.casefold() == "skip" and wanted is not None:
            skipped.add(wanted.channel.what)
        elif text:
            _typed(session, text, wanted)


def _wanted(evening: Evening, skipped: set[tuple[str, str, str]]) -> Next | None:
    """The next best point that was not skipped; none where no reading would tell enough.

    While the suspects are still being worked out, the next of a round.
    """
    from coldcheck.bench.diagnosis.account import WORTH
    from coldcheck.bench.diagnosis.ranked import Next

    if not evening.known.ready:
        done = skipped | {(r.kind, r.net, r.other) for r in evening.readings}
        left = (c for c in evening.first_points() if c.what not in done)
        first = next(left, None)
        if first is not None:
            return Next(first, 0.0, ())
    diagnosis, _ = evening.diagnosis()
    if isinstance(diagnosis, str):
        return None
    points = diagnosis.next_points(1 + len(skipped))
    return next(
        (p for p in points if p.channel.what not in skipped and p.bits >= WORTH),
        None,
    )


def _prompt(evening: Evening, wanted: Next | None, *, live: bool) -> None:
    """Ask for a reading; what to do first where the power is to be switched for it."""
    from coldcheck.report.diagnosis.words import ENOUGH, asked, switching

    if wanted is None:
        to_stdout(f"\n{filled(ENOUGH)}\nany reading> ")
        return
    kinds = [r.kind for r in evening.readings]
    first = switching(wanted, kinds[-1] if kinds else None, live=live)
    before = f"\n{filled(first)}" if first else ""
    to_stdout(f"{before}\n{filled(f'next best: {asked(wanted)}')}> ")


def filled(text: str) -> str:
    """Text in lines of a terminal's width."""
    return fill(text, 76)


def _typed(session: Session, text: str, wanted: Next | None) -> None:
    """One line: a command, a value for the point asked for, or a whole reading."""
    from coldcheck.bench.diagnosis.noted import ReadingsParser
    from coldcheck.cli.session import YES, question, said
    from coldcheck.report.shared.plain import clean

    answer = session.command(text)
    if answer is not None:
        to_stdout("".join(f"  {line}\n" for line in answer.splitlines()))
        return
    if wanted is not None and _value_only(text, wanted.channel.kind):
        text = f"{wanted.channel.point};{wanted.channel.kind};{text}"
    parser = ReadingsParser(session.evening.circuit)
    reading = session.offered if text.casefold() in YES else parser.one(text)
    if reading is None:
        slips = [s.message for s in parser.slips] or ["nothing was offered that y could take"]
        to_stdout("".join(f"  {clean(s)}\n" for s in slips))
        return
    judged = session.put(reading)
    to_stdout(f"  {said(judged)}\n")
    if session.offered is not None:
        to_stdout(f"{indent(filled(question(judged, session.offered)), '  ')}\n")
        return
    _standing(session.evening)


def _standing(evening: Evening) -> None:
    """Where the suspects stand: the likeliest groups, each by its first."""
    from coldcheck.bench.diagnosis.account import BEYOND
    from coldcheck.report.diagnosis.words import SO_FAR, group_text, standing, working
    from coldcheck.report.shared.plain import clean

    if not evening.known.ready:
        to_stdout(f"    {working(evening.known.share)}\n")
        return
    diagnosis, _ = evening.diagnosis()
    if isinstance(diagnosis, str):
        return
    groups = diagnosis.groups()
    explained = diagnosis.outside < BEYOND and not all(r.refuted for r in groups[0])
    if not explained:
        to_stdout(f"{indent(filled(SO_FAR), '  ')}\n")
    for group in groups[:3]:
        head, rest = f"    {standing(group, explained=explained):>10}  ", " " * 16
        said = fill(clean(group_text(group)), 78, initial_indent=head, subsequent_indent=rest)
        to_stdout(f"{said}\n")


def _value_only(text: str, kind: str) -> bool:
    """Whether a line is nothing but a value for such a reading, if only a mistyped one."""
    from coldcheck.bench.diagnosis.noted import OVERLOAD
    from coldcheck.bench.diagnosis.noted_fields import plain
    from coldcheck.bench.diagnosis.readings import OHM, UNITS
    from coldcheck.drawing.values import BadValue, parse_amount

    if kind == OHM and text.casefold() in OVERLOAD:
        return True
    try:
        parse_amount(plain(text, comma=True), UNITS[kind])
    except BadValue:
        return len(text.split()) == 1 and text[0] in "+-.0123456789"
    return True


def _report(account: Account, options: Namespace) -> None:
    from coldcheck.report.diagnosis import json as diagnosis_json
    from coldcheck.report.diagnosis import text as diagnosis_text

    if options.report == "json":
        text = diagnosis_json.render(account)
    else:
        text = console_text(
            lambda console: diagnosis_text.render(account, console),
            for_file=options.output is not None,
        )
    to_stdout(text) if options.output is None else to_file(text, options.output)
