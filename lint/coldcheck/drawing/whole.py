"""What only the whole file shows: names used twice, lines out of their place, missing dots."""

from __future__ import annotations

import re
from dataclasses import replace
from difflib import get_close_matches
from typing import TYPE_CHECKING

from coldcheck.drawing import model
from coldcheck.drawing.kinds import PartKind

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from coldcheck.drawing.lines import Line

_DECLARED = (
    model.TransformerLine, model.TubeLine, model.OutputLine, model.ReverbLine, model.PotLine,
    model.SwitchLine, model.RelayLine, model.BridgeLine, model.CompoundLine, model.TransistorLine,
    model.JackLine, model.SheetLine,
)  # fmt: skip
_ELECTRODES = {
    "k": "cathode", "cathode": "cathode", "p": "plate", "a": "plate", "plate": "plate",
    "anode": "plate", "g": "grid", "grid": "grid", "g1": "grid", "g2": "screen",
    "screen": "screen", "g3": "suppressor",
}  # fmt: skip


def check(
    numbered: Sequence[tuple[Line, model.Statement]], problems: list[model.Problem]
) -> list[model.Statement]:
    """Return the statements that stand, adding a problem for each that does not."""
    kept: list[model.Statement] = []
    first: dict[tuple[str, str], model.Span] = {}
    tubes = {s.name for _, s in numbered if isinstance(s, model.TubeLine)}
    above: model.Statement | None = None
    unread = {p.span.line: _meant_as_home(p.source_line) for p in problems}
    for line, statement in numbered:
        found = _misplaced(line, statement, above)
        if found and _lost_home(line, above, unread):
            continue
        found = found or [*_twice(line, statement, above, first), *_dotless(line, statement, tubes)]
        problems.extend(found)
        if not found:
            kept.append(statement)
        if not isinstance(statement, model.WindingLine | model.CoilLine | model.RatingLine):
            above = statement
    return _turned_together(numbered, kept, problems)


def _turned_together(
    numbered: Sequence[tuple[Line, model.Statement]],
    kept: list[model.Statement],
    problems: list[model.Problem],
) -> list[model.Statement]:
    """Ganged pots stand where the one on whose shaft they are stands."""
    pots = {s.name: s for s in kept if isinstance(s, model.PotLine)}
    unread = {word for p in problems for word in p.source_line.split()[1:2]}
    for line, pot in numbered:
        if isinstance(pot, model.PotLine) and pot.ganged is not None:
            first = pots.get(pot.ganged)
            if (first is None or first.ganged is not None) and pot.ganged not in unread:
                start = line.text.rindex(pot.ganged)
                problems.append(line.problem(
                    "drawing.unknown-name", start, start + len(pot.ganged), f'"{pot.ganged}"',
                    "a pot of this drawing that is itself ganged with no other",
                ))  # fmt: skip
    return [_at_its_partners(s, pots) for s in kept]


def _at_its_partners(line: model.Statement, pots: Mapping[str, model.PotLine]) -> model.Statement:
    first = pots.get(line.ganged or "") if isinstance(line, model.PotLine) else None
    if isinstance(line, model.PotLine) and first is not None:
        return replace(line, at=first.at)
    return line


def _misplaced(
    line: Line, statement: model.Statement, above: model.Statement | None
) -> list[model.Problem]:
    """A winding without its transformer, a rating without its type."""
    wound = model.WindingLine | model.CoilLine
    if isinstance(statement, wound) and not isinstance(above, model.TransformerLine):
        word, home = ("primary" if statement.primary else "winding"), "transformer"
    elif isinstance(statement, model.RatingLine) and not isinstance(above, model.TypeLine):
        word, home = "rating", "type"
    else:
        return []
    start = line.text.find(word)
    return [line.problem(
        "drawing.syntax", start, start + len(word), f'"{word}" with no {home} above it',
        f"the {home} line directly above",
    )]  # fmt: skip


def _meant_as_home(text: str) -> bool:
    """Whether an unreadable line was to be a ``transformer`` or ``type`` line."""
    word = text.split(maxsplit=1)[0] if text.strip() else ""
    return bool(get_close_matches(word, ("transformer", "type"), n=1, cutoff=0.7))


def _lost_home(line: Line, above: model.Statement | None, unread: dict[int, bool]) -> bool:
    """Whether the missing home stands right above, unread: one slip, one problem."""
    start = above.span.line if above is not None else 0
    between = [number for number in unread if start < number < line.numbers[0]]
    return bool(between) and unread[max(between)]


def _names(
    statement: model.Statement, above: model.Statement | None
) -> Iterator[tuple[str, str, model.Span]]:
    """Yield (sort, name, place) of everything a statement gives a name to."""
    if isinstance(statement, _DECLARED):
        yield "part", statement.name, statement.span
    elif isinstance(statement, model.Chain):
        for link in statement.links:
            if link is not None and link.kind is not PartKind.HEATER:
                yield "part", link.name, link.span
            elif link is not None:
                yield "heater", link.name, link.span
    elif isinstance(statement, model.WindingLine | model.CoilLine) and isinstance(
        above, model.TransformerLine
    ):
        yield f"winding of {above.name}", statement.name, statement.span
    elif isinstance(statement, model.TypeLine):
        yield "type", statement.name, statement.span
    elif isinstance(statement, model.SignalLine):
        yield "signal", statement.name, statement.span
    elif isinstance(statement, model.Mains):
        yield "statement", "mains", statement.span
    elif isinstance(statement, model.Title):
        yield "statement", "drawing", statement.span


def _twice(
    line: Line,
    statement: model.Statement,
    above: model.Statement | None,
    first: dict[tuple[str, str], model.Span],
) -> Iterator[model.Problem]:
    for sort, name, span in _names(statement, above):
        earlier = first.setdefault((sort, name), span)
        if earlier is not span:
            yield model.Problem(
                span, "drawing.name-used-twice", f'"{name}" a second time',
                f"another name: line {earlier.line} has {name} already",
                source_line=line.sources[line.numbers.index(span.line)],
            )  # fmt: skip


def _dotless(line: Line, statement: model.Statement, tubes: set[str]) -> Iterator[model.Problem]:
    """``V1k`` where V1 is a tube: a lead without its dot would quietly be a new point."""
    if not isinstance(statement, model.Chain):
        return
    for point in statement.points:
        if point is None or point.lead or point.pin:
            continue
        match = re.fullmatch(r"(V\w*?\d+)([A-Z]?)_?([a-z]+[123]?)", point.owner)
        if match and match[1] in tubes and match[3] in _ELECTRODES:
            what = _ELECTRODES[match[3]]
            owner = match[1] + match[2]
            hint = f"for the {what} write {owner}.{match[3]}"
            if not match[2]:
                hint += f", or {owner}A.{match[3]} where the tube has two sections"
            yield model.Problem(
                point.span, "drawing.syntax", f'"{point.owner}"', "a lead with its dot", hint,
                line.sources[line.numbers.index(point.span.line)],
            )  # fmt: skip
