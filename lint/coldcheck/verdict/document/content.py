"""What a document holds: numbers, names and sentences, and nothing to ask further.

Figures are plain SI floats of six digits; an infinite time never ends. Volts are to gnd unless a
name says otherwise. Reports choose from it and word it; none of them works anything out.
"""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Mapping

    from coldcheck.anatomy.lift_room import Room
    from coldcheck.drawing.model import Span
    from coldcheck.judge.finding import Finding, NotJudged
    from coldcheck.picture.model import Picture
    from coldcheck.sources.register import Citation


@dataclass(frozen=True, slots=True)
class Level:
    """A point over one cycle; ``plus_minus`` is the usual spread of its mean."""

    dc: float
    plus_minus: float | None
    ac_rms: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Reading:
    """A tube section at work; all but ``cathode_v`` to its cathode.

    ``heater_cathode_worst`` is the instant that is furthest from zero, with its sign.
    """

    plate_v: float | None
    plate_ma: float | None
    screen_v: float | None
    screen_ma: float | None
    grid_v: float | None
    cathode_v: float | None
    plate_w: float | None
    screen_w: float | None
    peak_plate_ma: float | None
    inverse_v: float | None
    heater_cathode_dc: float | None
    heater_cathode_worst: float | None


@dataclass(frozen=True, slots=True)
class TransistorTold:
    """A transistor in a state: volts across its current's path and of what steers it, the peak.

    ``share`` is its power over the rated one, for a case at 25 degrees, if that is on file.
    """

    type: str
    volts: float | None
    ma: float | None
    steering_v: float | None
    watts: float | None
    share: float | None


@dataclass(frozen=True, slots=True)
class StateTold:
    """A state; one that is not solved has its reason and no number at all."""

    solved: bool
    residual_a: float | None
    reason: str
    points: Mapping[str, Level] = field(default_factory=dict)
    undefined: Mapping[str, str] = field(default_factory=dict)
    tubes: Mapping[str, Reading] = field(default_factory=dict)
    transistors: Mapping[str, TransistorTold] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class SectionTold:
    """A tube section that has a reading when warm; ``share`` of its plate's limit, if any."""

    name: str
    type: str
    rectifier: bool
    share: float | None


@dataclass(frozen=True, slots=True)
class Part:
    """Tubes that can share a winding, where not all of them can."""

    tubes: tuple[str, ...]
    window: Room
    follows_its_cathode: bool
    sections_disagree: bool
    divider: Mapping[str, float | str] | None


@dataclass(frozen=True, slots=True)
class WindingTold:
    """A heater winding: where it stands, and the lift that every tube on it stands.

    ``remedy`` is a divider in words, where the winding does not stand within its window.
    """

    winding: str
    tubes: tuple[str, ...]
    stands_at: float | None
    lowest: float | None
    highest: float | None
    window: Room
    with_a_tube_out: Room
    empty: bool
    conflicts: tuple[str, ...]
    no_limit_on_file: tuple[str, ...]
    split: tuple[Part, ...]
    divider: Mapping[str, float | str] | None
    remedy: str


@dataclass(frozen=True, slots=True)
class Gain:
    """A ratio at mid band and its corners; no decibels where it is nothing."""

    gain: float
    gain_db: float | None
    low_corner_hz: float | None
    high_corner_hz: float | None


@dataclass(frozen=True, slots=True)
class Bound:
    """What bounds a swing, and the rms volts of the source that reach it."""

    cause: str
    source_rms_v: float


@dataclass(frozen=True, slots=True)
class StageTold:
    """A section that a source drives; ``most_rms_v`` is where its first limit is reached."""

    section: str
    input: str
    output: str
    gain: Gain
    output_ohm: float
    plate_swing_peak_v: float
    cathode_swing_peak_v: float
    overdriven: bool
    volts_rms: float
    most_rms_v: float | None
    limits: tuple[Bound, ...]


@dataclass(frozen=True, slots=True)
class HumTold:
    """Hum at an output; ``compared`` says whether a signal arrives there to hold it against."""

    ripple_rms_v: float | None
    ripple_below_signal_db: float | None
    leakage_rms_v: float
    leakage_below_signal_db: float | None
    most_through: str
    compared: bool


@dataclass(frozen=True, slots=True)
class OutputTold:
    """A place where the signal is taken; watts where a speaker is on it."""

    name: str
    gain: Gain
    output_ohm: float
    load_ohm: float | None
    volts_rms: float
    most_rms_v: float | None
    watts: float | None
    watts_at_most: float | None
    damping: float | None
    hum: HumTold | None


@dataclass(frozen=True, slots=True)
class SourceTold:
    """All that one signal source drives; ``limited_by`` is the section first at its limit."""

    source: str
    volts_rms: float
    frequency_hz: float
    limited_by: str | None
    overdriven: bool
    stages: tuple[StageTold, ...]
    outputs: tuple[OutputTold, ...]


@dataclass(frozen=True, slots=True)
class SignalTold:
    """The signal and its hum, or why there are no numbers."""

    solved: bool
    reason: str
    sources: tuple[SourceTold, ...]
    unused: Mapping[str, str]
    assumed_primary_h: Mapping[str, float]
    assumed_leakage_ohm: float
    swept_from_hz: float


@dataclass(frozen=True, slots=True)
class CapacitorDown:
    """The discharge of a capacitor; without ``drained_through`` it may be through the others."""

    capacitor: str
    volts: float
    joules: float
    seconds: float
    guard_seconds: float
    charged_in: str
    drained_through: tuple[str, ...]
    perhaps_drained_through: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PointDown:
    """A point on its way down."""

    point: str
    volts: float
    seconds: float
    guard_seconds: float
    charged_in: str


@dataclass(frozen=True, slots=True)
class PositionTold:
    """The way down in one position of the switches."""

    thrown: tuple[str, ...]
    capacitors: tuple[CapacitorDown, ...]
    points: tuple[PointDown, ...]


@dataclass(frozen=True, slots=True)
class SlowCapacitor:
    """A discharge a hand could be quicker than; ``thrown`` where a switch makes it slower."""

    capacitor: CapacitorDown
    thrown: str


@dataclass(frozen=True, slots=True)
class SlowPoint:
    """A point that stays alive, in the position of the switches that keeps it so longest."""

    point: PointDown
    thrown: str


@dataclass(frozen=True, slots=True)
class OffTold:
    """After switch-off. ``slow`` and ``alive`` are what is worth a line, the rest is all there is.

    ``touch_v``, ``guard_v`` and the rest in volts, coulombs and farads are the limits it was
    looked at by.
    """

    touch_v: float
    guard_v: float
    charge_c: float
    charge_v: float
    small_f: float
    reason: str
    not_timed: tuple[str, ...]
    positions: tuple[PositionTold, ...]
    slow: tuple[SlowCapacitor, ...]
    alive: tuple[SlowPoint, ...]


@dataclass(frozen=True, slots=True)
class PeakTold:
    """The highest on the way to warm, and the same when warm; ``strained`` if noticeably more."""

    at: str
    highest_v: float
    warm_v: float | None
    state: str
    strained: bool


@dataclass(frozen=True, slots=True)
class WarmUpTold:
    """The way from switch-on to warm."""

    steps: tuple[str, ...]
    not_solved: tuple[str, ...]
    capacitors: tuple[PeakTold, ...]
    heater_cathode: tuple[PeakTold, ...]
    grid_cathode: tuple[PeakTold, ...]


@dataclass(frozen=True, slots=True)
class Through:
    """A part with two leads in a state: volts from the first to the second, means of the rest."""

    volts: float
    ac_rms: float
    ma: float | None
    watts: float | None


@dataclass(frozen=True, slots=True)
class Shown:
    """The circuit as it is drawn, with room for the volts of every state.

    lines
        Part of the picture -> where it is written.
    places
        Place of a finding -> what stands for it in the picture: parts and nets.
    through
        State -> part -> what is across and through it.
    """

    picture: Picture
    lines: Mapping[str, Span]
    places: Mapping[str, tuple[str, ...]]
    through: Mapping[str, Mapping[str, Through]]


@dataclass(frozen=True, slots=True)
class Document:
    """The review of one drawing.

    kinds
        Place of a finding -> part, point or object.
    lines, sheets
        The drawing's own lines, and those of its sheets by name of the file.
    files
        The drawing and what it was made from.
    rails
        Points that feed the circuit, in the order of the drawing.
    drawn
        Whether it is of a drawing at all; what a change does to its own review is none.
    shown, not_shown
        The picture, where one was asked for; or why there is none.
    """

    file: str
    title: str
    readable: bool
    findings: tuple[Finding, ...]
    not_judged: tuple[NotJudged, ...]
    lines: tuple[str, ...] = ()
    sheets: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    kinds: Mapping[str, str] = field(default_factory=dict)
    files: tuple[str, ...] = ()
    states: Mapping[str, StateTold] = field(default_factory=dict)
    rails: tuple[str, ...] = ()
    sections: tuple[SectionTold, ...] = ()
    heater_windings: tuple[WindingTold, ...] = ()
    signal: SignalTold | None = None
    off: OffTold | None = None
    warm_up: WarmUpTold | None = None
    drawn: bool = True
    shown: Shown | None = None
    not_shown: str = ""

    @property
    def broken(self) -> bool:
        """Whether something broke down on the way, so that silence is no verdict."""
        return any(item.kind.broken for item in self.not_judged)

    @property
    def cites(self) -> tuple[Citation, ...]:
        """The places in sources that its findings and the limits of lifts go by, each once."""
        windings = self.heater_windings
        rooms = [room for w in windings for room in (w.window, w.with_a_tube_out)]
        rooms += [part.window for w in windings for part in w.split]
        edges = (edge for room in rooms for edge in (room.low, room.high) if edge is not None)
        found = [c for finding in self.findings for c in finding.cites]
        return tuple(dict.fromkeys((*found, *(c for edge in edges for c in edge.cites))))

    def line(self, span: Span) -> str:
        """The line of the drawing or of a sheet that a place is in; empty for no line of theirs."""
        lines = self.lines if span.file == self.file else self.sheets.get(span.file, ())
        return lines[span.line - 1] if 1 <= span.line <= len(lines) else ""
