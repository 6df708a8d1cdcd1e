"""Reads the declarations of a drawing: who exists, of which type, with which leads."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.circuit.leads import (
    JACK_LEADS,
    Owner,
    output_owner,
    plain_owner,
    reverb_owner,
    switch_leads,
    transformer_owner,
    tube_owners,
)
from coldcheck.circuit.likeness import Unlike, made_like
from coldcheck.circuit.limits import TOO_LARGE
from coldcheck.circuit.problems import (
    BAD_VALUE,
    SHEET_NOT_READ,
    UNKNOWN_NAME,
    UNKNOWN_TYPE,
    USED_TWICE,
    ProblemLog,
    did_you_mean,
)
from coldcheck.circuit.relatives import hint
from coldcheck.circuit.strangers import stranger
from coldcheck.circuit.transistors import FIGURES, transistor_types
from coldcheck.circuit.tubes import (
    RATING_NAMES,
    UNREAD_RATINGS,
    Sourced,
    TubeType,
    UnknownTube,
    accepted_names,
    plain_name,
    tube_type,
)
from coldcheck.drawing.kinds import PartKind
from coldcheck.drawing.model import (
    BRIDGE_LEADS,
    BridgeLine,
    Chain,
    CoilLine,
    Compound,
    CompoundLine,
    JackLine,
    Mains,
    Measure,
    OutputLine,
    Part,
    PotLine,
    RatingLine,
    RelayLine,
    ReverbLine,
    SheetLine,
    SignalLine,
    SwitchLine,
    TransformerLine,
    TransistorLine,
    TubeLine,
    TypeLine,
    WindingLine,
)
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    from coldcheck.circuit.transistors import TransistorType
    from coldcheck.drawing.model import Drawing, Span


@dataclass(slots=True)
class Declared:
    """Everything declared in a drawing, in the order of the text."""

    owners: dict[str, Owner] = field(default_factory=dict)
    spans: dict[str, Span] = field(default_factory=dict)
    tubes: dict[str, tuple[TubeLine, TubeType]] = field(default_factory=dict)
    transformers: dict[str, tuple[TransformerLine, list[WindingLine]]] = field(default_factory=dict)
    coil_sets: dict[str, tuple[TransformerLine, list[CoilLine]]] = field(default_factory=dict)
    outputs: dict[str, OutputLine] = field(default_factory=dict)
    reverbs: dict[str, ReverbLine] = field(default_factory=dict)
    pots: dict[str, PotLine] = field(default_factory=dict)
    switches: dict[str, SwitchLine] = field(default_factory=dict)
    relays: dict[str, RelayLine] = field(default_factory=dict)
    bridges: dict[str, BridgeLine] = field(default_factory=dict)
    compounds: dict[str, CompoundLine] = field(default_factory=dict)
    transistors: dict[str, tuple[TransistorLine, TransistorType]] = field(default_factory=dict)
    jacks: dict[str, JackLine] = field(default_factory=dict)
    signals: list[SignalLine] = field(default_factory=list)
    mains: Mains | None = None

    def winding(self, transformer: str, lead: str | None) -> WindingLine | None:
        """The winding written ``T1.warm``, upper and lower case being the same."""
        entry = self.transformers.get(transformer)
        wanted = (lead or "").casefold()
        return next((w for w in entry[1] if w.name.casefold() == wanted), None) if entry else None

    def winding_names(self) -> list[str]:
        """``T1.warm`` and so on, all of them."""
        return [f"{t}.{w.name}" for t, (_, ws) in self.transformers.items() for w in ws]


def parts(drawing: Drawing) -> Iterator[Part]:
    """Every two-lead part in the order of the text."""
    for statement in drawing.statements:
        if isinstance(statement, Chain):
            yield from (link for link in statement.links if link is not None)


def read_declarations(
    drawing: Drawing, log: ProblemLog, library: Mapping[str, TubeType]
) -> Declared:
    """Collect all declarations; names used twice and unknown types go to ``log``."""
    found = Declared()
    types = _TypeBook(drawing, log, library)
    windings: list[WindingLine | CoilLine] = []
    wound: dict[str, tuple[TransformerLine, list[WindingLine | CoilLine]]] = {}
    for line in drawing.statements:
        match line:
            case Mains():
                found.mains = line
            case TransformerLine():
                windings = []
                if _claim(found, log, line.name, line.span):
                    wound[line.name] = (line, windings)
            case WindingLine() | CoilLine():
                _add_winding(log, windings, line)
            case TubeLine():
                _add_tube(found, log, types, line)
            case OutputLine() if _claim(found, log, line.name, line.span):
                found.outputs[line.name] = line
                found.owners[line.name] = output_owner(line)
            case ReverbLine() if _claim(found, log, line.name, line.span):
                found.reverbs[line.name] = line
                found.owners[line.name] = reverb_owner(line)
            case PotLine() if _claim(found, log, line.name, line.span):
                found.pots[line.name] = line
                found.owners[line.name] = plain_owner(line.name, "a pot", line.leads)
            case SwitchLine() if _claim(found, log, line.name, line.span):
                found.switches[line.name] = line
                what = f"a switch ({line.layout})"
                found.owners[line.name] = plain_owner(line.name, what, switch_leads(line))
            case RelayLine() if _claim(found, log, line.name, line.span):
                found.relays[line.name] = line
                what = f"a relay ({line.layout})"
                found.owners[line.name] = plain_owner(line.name, what, line.leads)
            case BridgeLine() if _claim(found, log, line.name, line.span):
                found.bridges[line.name] = line
                found.owners[line.name] = plain_owner(line.name, "a bridge block", BRIDGE_LEADS)
            case CompoundLine() if _claim(found, log, line.name, line.span):
                found.compounds[line.name] = line
                article = "an" if line.sort is Compound.OPTOCOUPLER else "a"
                what = f"{article} {line.sort.value}"
                found.owners[line.name] = plain_owner(line.name, what, line.leads)
            case TransistorLine():
                _add_transistor(found, log, types, line)
            case JackLine() if _claim(found, log, line.name, line.span):
                found.jacks[line.name] = line
                found.owners[line.name] = plain_owner(line.name, "a jack", JACK_LEADS)
            case SignalLine():
                found.signals.append(line)
            case SheetLine():
                hint = "sheets are read from beside the drawing's own file"
                log.add(line.span, SHEET_NOT_READ, "a sheet", "a drawing read from its file", hint)
            case _:
                pass
    _sort_transformers(found, log, wound)
    for part in parts(drawing):
        _claim_part(found, log, part)
    return found


def _claim(found: Declared, log: ProblemLog, name: str, span: Span) -> bool:
    """Take a name for a declaration; false (and a problem) where it is taken already."""
    earlier = found.spans.setdefault(name, span)
    if earlier is span:
        return True
    expected = "one name for one part"
    log.add(span, USED_TWICE, name, expected, f"{name} is already used in line {earlier.line}")
    return False


def _claim_part(found: Declared, log: ProblemLog, part: Part) -> None:
    """A part on the wire has no leads to write: say so when somebody writes one."""
    if part.kind is PartKind.HEATER:
        return
    if _claim(found, log, part.name, part.span):
        where = f"of line {part.span.line}, its two leads on the wire"
        what = f"the {part.kind.value} {where}: name the point beside it, or otherwise"
        found.owners[part.name] = Owner(part.name, what)


def _sort_transformers(
    found: Declared,
    log: ProblemLog,
    wound: Mapping[str, tuple[TransformerLine, list[WindingLine | CoilLine]]],
) -> None:
    """Those of the mains are given by volts, those for signals by turns, ohms or henries."""
    for name, (line, written) in wound.items():
        own = _measured(written)
        found.owners[name] = transformer_owner(name, own)
        coils = [w for w in own if isinstance(w, CoilLine)]
        mains = [w for w in own if isinstance(w, WindingLine)]
        if coils and not mains:
            found.coil_sets[name] = (line, coils)
            _check_coils(log, coils)
            continue
        found.transformers[name] = (line, mains)
        if coils:
            log.add(coils[0].span, BAD_VALUE, coils[0].name, "volts, as its other windings have")
        elif line.coupling is not None or line.gapped is not None:
            expected = "windings by turns, impedance or henries: its core is that of signals"
            log.add(line.span, BAD_VALUE, name, expected)


def _measured(own: list[WindingLine | CoilLine]) -> list[WindingLine | CoilLine]:
    """One written ``?`` beside windings in volts is of unknown volts."""
    if not any(isinstance(w, WindingLine) for w in own):
        return own
    return [_in_volts(w) if isinstance(w, CoilLine) and w.measure is Measure.UNKNOWN else w
            for w in own]  # fmt: skip


def _in_volts(coil: CoilLine) -> WindingLine:
    return WindingLine(
        coil.name, coil.primary, (), coil.tapped, coil.current, coil.resistance, coil.span,
        coil.dot, coil.insulation,
    )  # fmt: skip


def _check_coils(log: ProblemLog, coils: list[CoilLine]) -> None:
    """One measure for all windings; turns and impedances may have henries besides."""
    sized = [coil for coil in coils if coil.measure is not Measure.UNKNOWN]
    first = sized[0] if sized else coils[0]
    for coil in sized[1:]:
        if coil.measure is not first.measure:
            expected = f"{first.measure.value}, as {first.name} has"
            log.add(coil.span, BAD_VALUE, f"{coil.name}, by {coil.measure.value}", expected)


def _add_winding(
    log: ProblemLog, windings: list[WindingLine | CoilLine], line: WindingLine | CoilLine
) -> None:
    if any(w.name.casefold() == line.name.casefold() for w in windings):
        log.add(line.span, USED_TWICE, line.name, "one name for one winding of a transformer")
    else:
        windings.append(line)


def _add_tube(found: Declared, log: ProblemLog, types: _TypeBook, line: TubeLine) -> None:
    if not _claim(found, log, line.name, line.span):
        return
    kind = types.find(line.type, line.name)
    if kind is None:  # the line that defines the type has been complained of
        for name in (line.name, f"{line.name}A", f"{line.name}B"):
            found.owners.setdefault(name, Owner(name, "a tube of unknown type", opaque=True))
        return
    found.tubes[line.name] = (line, kind)
    for owner in tube_owners(line.name, kind):
        if owner.name == line.name or _claim(found, log, owner.name, line.span):
            found.owners[owner.name] = owner


def _add_transistor(
    found: Declared, log: ProblemLog, types: _TypeBook, line: TransistorLine
) -> None:
    if not _claim(found, log, line.name, line.span):
        return
    kind = types.transistor(line.type)
    if kind is None or kind.family.regulates is not line.regulates:
        known = transistor_types().items()
        on_file = [name for name, t in known if t.family.regulates is line.regulates]
        what = "a regulator" if line.regulates else "a transistor"
        near = did_you_mean(line.type, on_file)
        hint = near or f"type {line.type} like {on_file[0]}, and its own rating lines"
        expected = f"{what} on file ({', '.join(on_file)}), or one defined with a type line"
        log.add(line.type_span, UNKNOWN_TYPE, line.type, expected, hint)
        found.owners[line.name] = Owner(line.name, f"{what} of unknown type", opaque=True)
        return
    found.transistors[line.name] = (line, kind)
    what = f"a {kind.name}, {kind.family.value}"
    found.owners[line.name] = plain_owner(line.name, what, kind.family.leads)


_DEEPEST = 20


class _TypeBook:
    """The types a drawing defines itself, in front of the library."""

    def __init__(self, drawing: Drawing, log: ProblemLog, library: Mapping[str, TubeType]) -> None:
        self._log, self._library, self._drawing = log, library, drawing
        self._own: dict[str, tuple[TypeLine, list[RatingLine]]] = {}
        ratings: list[RatingLine] = []
        for line in drawing.statements:
            if isinstance(line, TypeLine):
                ratings = []
                if self._own.setdefault(line.name, (line, ratings))[0] is not line:
                    log.add(line.span, USED_TWICE, line.name, "one definition for one type")
            elif isinstance(line, RatingLine):
                ratings.append(line)
        own = {name: self._root(name) for name in self._own}
        self._done = {n: self._define(n, ()) for n, root in own.items() if root is None}
        self._made = {n: self._make(n, root) for n, root in own.items() if root is not None}

    def find(self, name: str, tube: str) -> TubeType | None:
        """The type of that name; one that is not on file as ``tube`` is wired.

        ``None`` for a type the drawing defines by what is not on file.
        """
        if name in self._own:
            return self._done.get(name)
        return self._on_file(name) or stranger(tube, name, self._drawing)

    def transistor(self, name: str) -> TransistorType | None:
        """The transistor of that name, the drawing's own ones first."""
        return self._made.get(name) or transistor_types().get(plain_name(name))

    def _root(self, name: str) -> TransistorType | None:
        """The transistor on file that a type of the drawing comes from, if it comes from one."""
        for _ in range(_DEEPEST):
            if name not in self._own:
                return transistor_types().get(plain_name(name))
            name = self._own[name][0].like
        return None

    def _make(self, name: str, root: TransistorType) -> TransistorType:
        line, ratings = self._own[name]
        base = self._make(line.like, root) if line.like in self._own else root
        if line.heater or line.base or line.pins:
            expected = "a transistor's type line without heater, base or pins"
            self._log.add(line.span, BAD_VALUE, name, expected)
        given = (self._rating(r, FIGURES, ()) for r in ratings)
        return base.with_figures(name, dict(filter(None, given)))

    def _define(self, name: str, above: tuple[str, ...]) -> TubeType | None:
        line, ratings = self._own[name]
        if len(above) > _DEEPEST:
            expected = f"at most {_DEEPEST} types one like the other"
            self._log.add(line.span, TOO_LARGE, f"a chain of types as far as {name}", expected)
            return None
        if line.like in above:
            text = f"{name} is like {line.like}, and {line.like} is like {name}"
            self._log.add(line.span, UNKNOWN_TYPE, line.like, "a type that stands on its own", text)
            return None
        inside = line.like in self._own and line.like != name
        base = self._define(line.like, (*above, name)) if inside else self._published(line)
        given = dict(filter(None, (self._rating(r, RATING_NAMES, UNREAD_RATINGS) for r in ratings)))
        if base is None:
            return None
        try:
            return made_like(base, line, given, self._where(line.span))
        except Unlike as unlike:
            self._log.add(line.span, BAD_VALUE, unlike.found, unlike.expected)
            return base.with_ratings(name, given)

    def _published(self, line: TypeLine) -> TubeType | None:
        """The type that another is like; there is none to be like without it."""
        found = self._on_file(line.like)
        if found is None:
            names = (*map(plain_name, self._library), *accepted_names())
            expected = "a tube type on file, or one defined with a type line"
            meant = did_you_mean(line.like, self._own) or hint(plain_name(line.like), names)
            self._log.add(line.span, UNKNOWN_TYPE, line.like, expected, meant)
        return found

    def _on_file(self, name: str) -> TubeType | None:
        for own in (name, plain_name(name)):
            if own in self._library:
                return self._library[own]
        try:
            return tube_type(name)
        except UnknownTube:
            return None

    def _rating(
        self, line: RatingLine, units: Mapping[str, str], unread: Collection[str]
    ) -> tuple[str, Sourced] | None:
        name = line.name.casefold()
        names = [n for n in units if n not in unread]
        if name not in names:
            near = did_you_mean(name, names) or f"ratings: {', '.join(names)}"
            self._log.add(line.span, UNKNOWN_NAME, line.name, "the name of a rating", near)
            return None
        unit = units[name]
        if not line.value.is_compatible_with(unit):
            found = f"{line.name} {line.value:~}"
            self._log.add(line.span, BAD_VALUE, found, f"a value in {unit}")
            return None
        where = self._where(line.span)
        return name, Sourced(float(line.value.m_as(unit)), unit, where, "drawing")

    def _where(self, span: Span) -> str:
        own = span.file == self._drawing.file
        return f"{'the drawing' if own else span.file}, line {span.line}"
