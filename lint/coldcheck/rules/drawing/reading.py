"""Drawing rules: what could not be read, and wires that end nowhere.

The rules about reading are produced while the text is read; here they have their documentation,
and their functions find nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.anatomy.loose import attachments
from coldcheck.anatomy.loose import wired_points as wired_points
from coldcheck.circuit.relatives import hint
from coldcheck.circuit.tubes import accepted_names, plain_name
from coldcheck.judge.figure import figure
from coldcheck.judge.rule import Rule, rule
from coldcheck.sources.register import PRACTICE, Citation

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.judge.finding import Outcome


@rule(
    "drawing.single-connection",
    title="A point that leads nowhere",
    level="notice",
    states="the drawing alone",
    needs="nothing",
    criterion=(
        "A point the drawing wires up, named by the builder or a lead, has a single part or "
        "electrode on it, or none. Landmarks, jack leads, signal sources and points an `expect` "
        "line names count as a connection. Leads the drawing never mentions are left alone."
    ),
    why=(
        "A name spelt two ways, a junction dot overlooked, a wire not followed to its end: each "
        "leaves a point with one thing on it, and the part does nothing."
    ),
    source=PRACTICE,
    limits=(
        "A point that is named once may be meant: a test point, a lead left free on purpose. "
        "Then an accept says so."
    ),
)
def single_connection(case: Case) -> Iterator[Outcome]:
    """Count what hangs on every net the drawing's wires touch."""
    for net, name in wired_points(case.circuit).items():
        hanging = attachments(case.circuit, net)
        if len(hanging) > 1:
            continue
        what = f"only {hanging[0]}" if hanging else "nothing"
        yield single_connection.finding(
            case,
            (name,),
            f"{name} has {what} on it",
            "Follow the wire on the drawing again; look for a second spelling of the name. What "
            "leads out of the drawing is a `jack`, a supply's terminals a `connector`",
            evidence={"connections": figure(len(hanging), "")},
            certainty="certain",
        )


def _nothing(_case: Case) -> Iterable[Outcome]:
    """Found while reading, not by a rule: a drawing that cannot be read is not judged."""
    return ()


def _reading(
    identifier: str, title: str, criterion: str, why: str, limits: str, needs: str = "the text"
) -> Rule:
    return rule(
        identifier,
        title=title,
        level="notice",
        states="while reading",
        needs=needs,
        criterion=criterion,
        why=why,
        source=Citation("language"),
        limits=limits,
    )(_nothing)


_STOP = "Nothing is worked out until it is mended: a voltage around a missing line is a guess."

syntax = _reading(
    "drawing.syntax",
    "A line that is not in the language",
    "The line does not follow the grammar; what was expected at the marked place is said.",
    f"A line the reader cannot follow may be the one that holds the circuit together. {_STOP}",
    "The reader stops at the first mark in a line that fits no statement, so a line with "
    "two slips shows them one after the other. Other lines are still read.",
)
too_large = _reading(
    "drawing.too-large",
    "More than a review takes on",
    "Something there are more of in the drawing than a review works out; what, how many and the "
    "limit are said, at the first one beyond it.",
    "Paths, states and equations grow faster than a drawing. A text that would keep a machine busy "
    "for hours is refused by counting, before anything is solved, the same on every machine.",
    "The limits are far above any amplifier or radio. A drawing that passes one is no circuit to "
    "look at whole: draw what can be looked at alone in a drawing of its own.",
    "the circuit as read, its parts counted",
)
bad_value = _reading(
    "drawing.bad-value",
    "A value that makes no sense",
    "A number cannot be read, or is outside what such a part can have.",
    f"A slip of the pen in a value shifts every voltage behind it. {_STOP}",
    "Only values that cannot be are refused. One that is merely unlikely is read, and "
    "resistor.unlikely-value and its kin look at it later.",
)
wrong_unit = _reading(
    "drawing.wrong-unit",
    "A unit that does not belong there",
    "A field has the dimension of something else: farad on a resistor, watt on a capacitor.",
    f"The part is probably another one than its letter says. {_STOP}",
    "The unit is compared with what the part is; a wrong number with the right unit is "
    "not seen here.",
)
name_used_twice = _reading(
    "drawing.name-used-twice",
    "One name for two parts",
    "A part, tube, transformer, winding, pot, switch or type is declared a second time.",
    f"It is not known which of the two a lead or a waiver means. {_STOP}",
    "Points may be named as often as they are met; only parts and declarations have to be "
    "unique in a drawing.",
)
unreadable_file = _reading(
    "drawing.unreadable-file",
    "A file that cannot be opened as text",
    "The file is missing, too big, not UTF-8, or holds control characters.",
    "There is nothing to review, and no verdict may be drawn from that.",
    "What is wrong with the file system or the encoding is reported as the system gives it.",
    needs="the file",
)
sheet_not_read = _reading(
    "drawing.sheet-not-read",
    "A sheet that is not there, or is none of the project's",
    "The file of a `sheet` line is missing, is no ordinary .tube file, or lies outside the "
    "project: the nearest folder upwards with .git, pyproject.toml or coldcheck.toml, else the "
    "drawing's own folder. Links are followed before this is decided.",
    f"What stands in the sheet belongs to the circuit. {_STOP} A drawing may come from a stranger, "
    "so it cannot make the review open files anywhere else.",
    "What is wrong with a file is reported as the system gives it.",
    needs="the file, and those it names",
)
sheet_nesting = _reading(
    "drawing.sheet-nesting",
    "Sheets within sheets without end",
    "A sheet uses itself, directly or through others; sheets nest more than 8 deep, are used more "
    "than 200 times in a drawing, or are together larger than a drawing may be.",
    f"A sheet in itself is no circuit. {_STOP} The other bounds keep a small file from asking "
    "for a machine's whole memory.",
    "A drawing on paper comes nowhere near the bounds; one written by a program may.",
    needs="the file, and those it names",
)
not_supported = _reading(
    "drawing.not-supported",
    "Something the reader knows of but cannot do yet",
    "The statement is part of the language's plan, but this version does not read it.",
    f"Leaving it out would review another circuit than the one on paper. {_STOP}",
    "The language is younger than the trade: a word that is refused today may be right. "
    "Nothing of the drawing is worked out around it.",
)
unknown_name = _reading(
    "drawing.unknown-name",
    "A name that stands for nothing",
    "A lead, heater, winding, rating or point is written of something that is not declared.",
    f"A misspelt name makes a second point beside the one that was meant. {_STOP}",
    "A misspelt name that happens to be another known name is not seen; see "
    "drawing.single-connection.",
)
unknown_lead = _reading(
    "drawing.unknown-lead",
    "A lead or pin the part does not have",
    "The part is declared, but its type has no lead or pin of that name.",
    "Wrong pin numbers are the commonest slip of all in copying a tube circuit, and two bases "
    f"of the same shape put different electrodes on the same pin. {_STOP}",
    "The leads are those of the data on file for the type; another maker's basing under "
    "the same name is not known.",
)


@rule(
    "drawing.unknown-type",
    title="A tube type that is not on file",
    level="advice",
    states="the drawing alone",
    needs="nothing",
    criterion="The type is neither in the library nor in the project's data nor defined in the "
    "drawing with a `type` line.",
    why="Without its pins, ratings and currents little about the tube can be judged. Its sections "
    "and electrodes are taken from the way it is wired; what hangs on its current has no number, "
    "and the verdict is undecided: a drawing is never let through on it. A `type` line that is "
    "like a type not on file cannot be read.",
    source=PRACTICE,
    limits="A relative is named only where the naming of tubes says that it is one; a slip of the "
    "pen that is another type on file is not seen. The current of its heater is not counted.",
)
def unknown_type(case: Case) -> Iterator[Outcome]:
    """Each tube whose type nobody knows, with its relatives on file."""
    for tube in case.circuit.tubes.values():
        if tube.type.stranger:
            known = hint(plain_name(tube.type.name), accepted_names())
            yield unknown_type.finding(
                case,
                (tube.name,),
                f"{tube.type.name} is not on file{'; ' if known else ''}{known}",
                "Write the type as it is on file, or give it a data file "
                f"(`coldcheck tubes --new {tube.type.name}`)",
                evidence={"type": tube.type.name},
                certainty="certain",
            )


RULES: tuple[Rule, ...] = (
    single_connection,
    syntax,
    too_large,
    bad_value,
    wrong_unit,
    name_used_twice,
    unreadable_file,
    sheet_not_read,
    sheet_nesting,
    not_supported,
    unknown_name,
    unknown_lead,
    unknown_type,
)
