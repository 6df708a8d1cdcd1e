"""The command line. This module is light: a command's own module is imported when it is used.

Exit status: 0 let through, 1 held or undecided, 2 a drawing could not be read, 3 the tool failed
or was called wrongly, 130 interrupted, 141 the reader of the output went away.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys

from coldcheck import __version__

TYPE_CHECKING = False  # as typing's, without importing typing: --help has to start fast
if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import NoReturn

OK, FOUND, UNREADABLE, FAILED, INTERRUPTED, BROKEN_PIPE = 0, 1, 2, 3, 130, 141

# The words of coldcheck.judge.finding.LEVELS; importing them would cost more than all of --help.
GATES = ("advice", "notice", "caution", "warning", "danger")
FORMATS = ("text", "terse", "json", "sarif", "junit", "annotations", "html")
TUBE_KINDS = ("triode", "double-triode", "pentode", "triode-pentode", "rectifier", "heater-only")

_STATUS_HELP = """\
exit status: 0 let through; 1 held, or undecided; 2 a drawing could not be read;
3 coldcheck failed or was called wrongly
"""


COLLECT_AFTER = 1_000_000
"""New objects after which Python looks for rings among them; its usual 700 costs a twentieth."""


class Parser(argparse.ArgumentParser):
    """A parser whose usage errors do not look like an unreadable drawing (status 2)."""

    def error(self, message: str) -> NoReturn:
        """Print one line on what is wrong and where help is; exit with status 3."""
        text = "".join(c if c.isprintable() else "?" for c in message)
        self.exit(FAILED, f"{self.prog}: {text}\nSee {self.prog} --help\n")


def parser() -> Parser:
    """The parser of the whole command line."""
    top = Parser(
        prog="coldcheck",
        description="Reviews the drawing of a tube circuit before anyone applies power.",
        epilog=_STATUS_HELP,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    top.add_argument("--version", action="version", version=f"coldcheck {__version__}")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for add in (
        *(_add_review, _add_draw, _add_chart, _add_ladder, _add_parts, _add_faults, _add_trace),
        *(_add_tubes, _add_why, _add_drill, _add_tidy, _add_compare, _add_readings),
        *(_add_settings, _add_completion, _add_serve),
    ):
        add(commands)
    return top


def _add_review(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(commands, "review", "findings, with evidence, and a verdict")
    command.add_argument(
        "files",
        nargs="*",
        metavar="FILE",
        help="a drawing, a folder (every *.tube in it and below), a pattern such as '*.tube', or - "
        "for standard input; what others of them have as a sheet is reviewed there",
    )
    command.add_argument(
        "--using",
        action="store_true",
        help="FILE are what changed, for hooks: review every drawing of the repository that is one "
        "of them, or is made from one, or from one that is gone",
    )
    _add_gate(command, "mildest level that holds the drawing")
    _renamed(command, "--show-settings", "coldcheck settings FILE")
    command.add_argument(
        "--report",
        action="append",
        metavar="FORM[=FILE]",
        help=f"form of the report: {', '.join(FORMATS)} (default text); with =FILE it goes there; "
        "may be given several times",
    )
    command.add_argument(
        "--touched-since",
        metavar="REV",
        help="only drawings that differ from that git revision, or use a file that does",
    )
    _renamed(command, "--changed-since", "--touched-since")
    command.add_argument(
        "--trusting",
        metavar="REV",
        help="take settings, ledger, waivers and tube data from that git revision, and hold a "
        "change that loosens them",
    )
    command.add_argument(
        "--jobs", type=int, metavar="N", help="processes to use (default: one a core)"
    )
    command.add_argument(
        "--no-cache", action="store_true", help="review anew, and keep nothing for the next time"
    )
    command.add_argument(
        "--ledger", metavar="FILE", help="standing findings: only what is not in it counts"
    )
    command.add_argument(
        "--update-ledger", action="store_true", help="rewrite the ledger with what is found today"
    )
    command.add_argument(
        "--output", metavar="FILE", help="write the report there, whole or not at all"
    )


def _add_settings(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(
        commands, "settings", "what settings hold for a drawing, and where each value came from"
    )
    command.add_argument("files", nargs="+", metavar="FILE", help="drawings, folders, patterns")


def _add_draw(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(commands, "draw", "the circuit drawn back from its text, volts in it")
    command.add_argument("file", metavar="FILE", help="a drawing")
    command.add_argument("--state", default="warm", help="state of the volts (default warm)")
    command.add_argument(
        "--no-volts", dest="volts", action="store_false", help="leave the volts out"
    )
    command.add_argument(
        "--findings", action="store_true", help="review it, and mark the findings where they are"
    )
    command.add_argument(
        "--only",
        metavar="NAME",
        help="one panel alone: signal, supply, heaters, bias, a sheet, or where a part is",
    )
    command.add_argument(
        "--symbols",
        choices=("iec", "ieee"),
        default="iec",
        help="symbols of IEC 60617 or of IEEE 315 (default iec)",
    )
    command.add_argument(
        "--report",
        choices=("svg", "html", "pdf", "png"),
        default="svg",
        help="form of it (default svg)",
    )
    command.add_argument("--output", metavar="FILE", help="write it there, whole or not at all")


def _add_chart(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(
        commands, "chart", "the voltages and resistances to expect, and how to measure a point"
    )
    command.add_argument("file", metavar="FILE", help="a drawing")
    command.add_argument("--state", help="state of the voltages (default warm)")
    command.add_argument(
        "--at", metavar="POINT", help="explain one point or pin, measured from gnd: V3:8"
    )
    command.add_argument("--between", nargs=2, metavar=("A", "B"), help="explain A measured from B")
    command.add_argument(
        "--plan",
        action="store_true",
        help="the plan of a careful first power-up: cold checks, readings at each step, limits",
    )
    command.add_argument(
        "--report",
        choices=("text", "markdown", "csv", "json", "html", "svg"),
        default="text",
        help="form of the report (default text); svg is the wave at a point",
    )
    command.add_argument("--output", metavar="FILE", help="write it there, whole or not at all")


def _add_ladder(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(
        commands, "ladder", "the potentials as a picture, height is volts, states side by side"
    )
    command.add_argument("file", metavar="FILE", help="a drawing")
    command.add_argument(
        "--state",
        action="append",
        default=[],
        metavar="STATE",
        help="a state to show; may be given several times (default: cold, warm, high line, those "
        "that close a heater's window, and the tube whose lack moves most)",
    )
    command.add_argument(
        "--report", choices=("svg", "text"), default="svg", help="form of the ladder (default svg)"
    )
    command.add_argument("--output", metavar="FILE", help="write it there, whole or not at all")


def _add_parts(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(
        commands,
        "parts",
        "what to buy, and what each part must stand; every lead and what it joins",
    )
    command.add_argument("file", metavar="FILE", help="a drawing")
    command.add_argument(
        "--wires",
        action="store_true",
        help="every lead and socket pin with what it joins, to tick off against paper or chassis",
    )
    command.add_argument(
        "--report",
        choices=("text", "csv", "html"),
        default="text",
        help="form of the list (default text)",
    )
    command.add_argument("--output", metavar="FILE", help="write it there, whole or not at all")


def _add_faults(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(
        commands, "faults", "each part open and shorted in turn: what would then be over its limit"
    )
    command.add_argument("file", metavar="FILE", help="a drawing")
    command.add_argument(
        "--part",
        action="append",
        default=[],
        metavar="PART",
        help="only the faults of this part, winding, tube or switch; may be given several times",
    )
    _add_gate(command, "mildest level that holds the drawing")
    command.add_argument(
        "--report",
        action="append",
        metavar="FORM[=FILE]",
        help=f"form of the report: {', '.join(FORMATS)} (default text); with =FILE it goes there; "
        "may be given several times",
    )
    command.add_argument(
        "--sheet",
        metavar="FILE",
        help="a sheet to sign as well, with columns for the measures taken; .html or .csv",
    )
    command.add_argument("--output", metavar="FILE", help="write it there, whole or not at all")


def _add_trace(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(commands, "trace", "every DC path from a point to its references")
    command.add_argument("file", metavar="FILE", help="a drawing")
    command.add_argument("point", metavar="POINT", help="a point or lead: B1, V1A.grid, V3:8")


def _add_tubes(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(commands, "tubes", "the tube data on file, each number with its source")
    command.add_argument("type", nargs="?", metavar="TYPE", help="one type in full: 12AX7")
    command.add_argument(
        "--new",
        metavar="NAME",
        help="write NAME.toml, a file to fill in from a data sheet, into the project's folder of "
        "tube data (here, where it has none)",
    )
    command.add_argument(
        "--kind",
        choices=TUBE_KINDS,
        help="what the new file is for (default triode)",
    )
    command.add_argument(
        "--fit",
        metavar="FILE",
        help="check a data file, work out its law, write that into the file, and show published "
        "figures beside predicted",
    )


def _add_why(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(commands, "why", "what a rule looks for, why, and where that comes from")
    command.add_argument("rule", nargs="?", metavar="RULE", help="one rule: heater.no-reference")
    command.add_argument(
        "--report",
        choices=("text", "html"),
        default="text",
        help="form of the page (default text); html draws the wrong and the right drawing",
    )
    command.add_argument("--output", metavar="FILE", help="write it there, whole or not at all")


def _add_drill(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(commands, "drill", "teaching: spot the mistake, then see it explained")
    command.add_argument(
        "--seed", type=int, metavar="N", help="the same drawings for everyone who gives this number"
    )
    command.add_argument(
        "--count", type=int, default=5, metavar="N", help="how many drawings (default 5)"
    )
    command.add_argument(
        "--source",
        choices=("pairs", "samples"),
        action="append",
        help="small drawings, or whole samples with a mistake planted (default by the degree)",
    )
    command.add_argument(
        "--degree",
        choices=("easy", "fair", "hard"),
        default="fair",
        help="easy: small drawings, a hint given; fair: small ones and whole sets (default); "
        "hard: whole sets, answers near each other",
    )
    command.add_argument(
        "--of", metavar="FILE", help="exercises made of this drawing, which is better sound"
    )
    command.add_argument(
        "--readings",
        action="store_true",
        help="readings of a set in which one part has failed: which fault is it?",
    )
    command.add_argument(
        "--family",
        action="append",
        default=[],
        metavar="FAMILY",
        help="only mistakes of this family of rules: heater, supply, grid ...",
    )
    command.add_argument(
        "--list", action="store_true", help="print the drawings and the choices, without answers"
    )
    command.add_argument("--key", metavar="FILE", help="write the answers there")
    command.add_argument(
        "--report",
        choices=("text", "html"),
        default="text",
        help="html: sheets to print, with pictures; the key on pages of its own behind them",
    )
    command.add_argument("--output", metavar="FILE", help="write it there, whole or not at all")


def _add_tidy(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(commands, "tidy", "the drawing neatly laid out, meaning unchanged")
    command.add_argument("files", nargs="+", metavar="FILE", help="drawings, folders, patterns")
    command.add_argument(
        "--save", action="store_true", help="write each drawing back where it was not tidy"
    )
    command.add_argument(
        "--verify", action="store_true", help="only name the drawings that are not tidy (status 1)"
    )
    _renamed(command, "--write", "--save")
    _renamed(command, "--check", "--verify")


def _add_compare(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(
        commands, "compare", "two revisions: parts, voltages and findings that changed"
    )
    command.add_argument("files", nargs="+", metavar="FILE", help="the old and the new drawing")
    command.add_argument(
        "--rev",
        nargs=2,
        metavar=("OLD", "NEW"),
        help="two revisions of one drawing in its git repository",
    )
    command.add_argument("--state", default="warm", help="state of the voltages (default warm)")
    _add_gate(command, "mildest level at which a new or worse finding counts")
    command.add_argument(
        "--report",
        choices=("text", "html", "json", "markdown"),
        default="text",
        help="form of the report (default text); html draws both, what changed marked in them",
    )
    command.add_argument("--output", metavar="FILE", help="write it there, whole or not at all")


def _add_readings(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(
        commands,
        "readings",
        "bench measurements against predictions; which single fault explains them best",
    )
    command.add_argument("file", metavar="FILE", help="a drawing")
    command.add_argument(
        "readings",
        nargs="?",
        metavar="READINGS",
        help="CSV: point, kind (dc, ac, ohm, mA, Hz, signal), value, state; a point is also "
        "'V3.h1 to V3.h2', 'across R12' or, for a current, 'through R7'; or the filled chart of "
        "'chart --report csv'; - for standard input. Without it they are asked for one by one, "
        "the point that tells most first",
    )
    command.add_argument(
        "--suggest", action="store_true", help="only say which points to measure next"
    )
    command.add_argument(
        "--meter",
        metavar="WORDS",
        help="what DC is read with, by words of its name: analogue, tube voltmeter, or one of your "
        "own in the settings (default: the first of your own, else a digital meter of 10 Mohm)",
    )
    command.add_argument(
        "--report", choices=("text", "json"), default="text", help="form of the report"
    )
    command.add_argument("--output", metavar="FILE", help="write it there, whole or not at all")


def _add_serve(commands: argparse._SubParsersAction[Parser]) -> None:
    _command(
        commands,
        "serve",
        "the editor service: speaks the Language Server Protocol over standard input and output",
    )


def _add_completion(commands: argparse._SubParsersAction[Parser]) -> None:
    command = _command(
        commands, "completion", "what a shell needs to complete commands, options and files"
    )
    command.add_argument("shell", choices=("bash", "zsh", "tcsh"), metavar="SHELL",
                         help="bash, zsh or tcsh")  # fmt: skip


class _Renamed(argparse.Action):
    """An option that has another name now: refused, with the new name in the message."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        _namespace: argparse.Namespace,
        _values: object,
        option_string: str | None = None,
    ) -> NoReturn:
        """End with the usage status."""
        parser.error(f"{option_string} is now called {self.const}")


def _renamed(command: Parser, old: str, new: str) -> None:
    command.add_argument(
        old, action=_Renamed, dest="renamed", nargs="?", const=new, help=argparse.SUPPRESS
    )


def _add_gate(command: Parser, meaning: str) -> None:
    command.add_argument(
        "--gate",
        choices=GATES,
        metavar="LEVEL",
        help=f"{meaning}: {', '.join(GATES)} (default: as the settings say, else notice)",
    )


def _command(commands: argparse._SubParsersAction[Parser], name: str, does: str) -> Parser:
    return commands.add_parser(
        name,
        help=does,
        description=f"{does[0].upper()}{does[1:]}.",
        epilog=_STATUS_HELP,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )


def process() -> NoReturn:
    """The command as a process of its own: :func:`main`, and out without tidying the memory.

    At its end Python looks for rings among all that was loaded, a tenth of a review's time, only
    to hand the memory back to a system that takes it anyway.
    """
    gc.set_threshold(COLLECT_AFTER)
    status = main()
    gc.freeze()
    sys.exit(status)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and return the exit status; never raises on a user's account."""
    # The matrices are small: more threads only wait for one another. Must precede numpy.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a terminal that lacks a sign still gets the words
            stream.reconfigure(errors="backslashreplace")
    try:
        return _guarded(argv)
    except SystemExit as stop:  # argparse: --help, --version, usage errors
        return stop.code if isinstance(stop.code, int) else FAILED


def _guarded(argv: Sequence[str] | None) -> int:
    """Parse and run; turn what escapes into a status and one plain line."""
    try:
        top = parser()
        _refuse_disguised(top, sys.argv[1:] if argv is None else argv)
        options = top.parse_args(argv)
        if options.command == "review" and not (options.files or options.using):
            top.error("review wants a drawing, a folder or a pattern")
        status = _run(options)
        if sys.stdout is not None:
            sys.stdout.flush()
        return status
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        _silence_stdout()
        return BROKEN_PIPE
    except Exception as error:
        if os.environ.get("COLDCHECK_DEBUG"):
            raise
        return _failed(error)
    finally:
        _settle_stdout()


def _refuse_disguised(top: Parser, argv: Sequence[str]) -> None:
    """A drawing that is named like an option is not to be taken for one: ``--ledger=x.tube``."""
    for word in argv[: argv.index("--")] if "--" in argv else argv:
        if word.startswith("-") and word.endswith(".tube") and os.path.isfile(word):  # noqa: PTH113
            top.error(f"{word} is a file: put -- before the names of files")


def _run(options: argparse.Namespace) -> int:
    from importlib import import_module

    command = import_module(f"coldcheck.cli.{options.command}")
    file = getattr(options, "file", None)
    if file is None:
        return int(command.run(options))
    from coldcheck.cli.memory import enough_for

    with enough_for(file):
        return int(command.run(options))


def _silence_stdout() -> None:
    """Point stdout at nothing, so that the interpreter's last flush has no one to complain to."""
    try:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (OSError, ValueError, AttributeError):
        return


def _settle_stdout() -> None:
    """What could not be written was told: the interpreter's last flush shall not tell it again."""
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except (OSError, ValueError):
        _silence_stdout()


def _failed(error: Exception) -> int:
    """Say that the tool failed, in one line; nothing about the drawing follows from it."""
    from coldcheck.cli.failure import failure_text

    print(failure_text(error), file=sys.stderr)
    return FAILED
