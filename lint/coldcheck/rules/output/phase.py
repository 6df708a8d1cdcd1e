"""Two like channels whose speakers move against each other."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from coldcheck.anatomy.coupling import coupled, givers, still_nets
from coldcheck.anatomy.feedback_loops import ways_back
from coldcheck.anatomy.working import working
from coldcheck.circuit.model import LANDMARKS
from coldcheck.judge.finding import Blame
from coldcheck.judge.rule import rule
from coldcheck.records import dataclass
from coldcheck.sources.register import PRACTICE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.anatomy.case import Case
    from coldcheck.circuit.model import Circuit, OutputTransformer, Section
    from coldcheck.judge.finding import Finding, Outcome
    from coldcheck.judge.rule import Rule


@dataclass(frozen=True, slots=True)
class _Channel:
    """A single tube on a transformer: on which end of each winding its plate and gnd are."""

    section: Section
    output: OutputTransformer
    plate_first: bool
    rest_first: bool
    before: frozenset[str]
    """Types of the plates that drive it."""

    @property
    def as_is(self) -> bool:
        """Whether the plate's end and the one on gnd are both the first, or both the second."""
        return self.plate_first == self.rest_first


@rule(
    "output.channels-out-of-phase",
    title="One of two like channels with its secondary turned round",
    level="notice",
    blame=Blame.SLIP,
    states="the drawing alone",
    needs="two output transformers of one kind, each with a single tube of one type",
    criterion="Two output transformers of the same impedances, each driven by one tube of the same "
    "type behind a plate of the same type, without feedback from the secondary: the plates are on "
    "the same end of the primaries, and gnd on different ends of the secondaries, or the other "
    "way round.",
    why="One speaker or earpiece moves out while the other moves in: in stereo there is no middle "
    "and little bass. Each channel alone works, so nobody looks for it.",
    source=PRACTICE,
    limits="Rests on the polarity of the leads: of two transformers of one kind the like ends are "
    "taken to be in step. Channels meant to work against each other (a bridged pair) are taken "
    "for a mistake unless one plate drives both.",
)
def channels_out_of_phase(case: Case) -> Iterator[Outcome]:
    """Compare each pair of like transformers."""
    fed_back = {b.output.name for b in ways_back(case.circuit) if b.output is not None}
    found = [c for c in _channels(case.circuit) if c.output.name not in fed_back]
    for one, other in combinations(found, 2):
        if _alike(case.circuit, one, other) and one.as_is != other.as_is:
            yield _finding(case, one, other)


def _channels(circuit: Circuit) -> Iterator[_Channel]:
    sections = [s for _, s in working(circuit)]
    for output in circuit.outputs.values():
        ends = dict(output.leads)
        plates = [(s, lead) for s in sections for lead in ("p1", "p2")
                  if s.net("plate") == ends[lead]]  # fmt: skip
        secondary = [net for _, net, _ in output.secondary_leads]
        rest = [net in LANDMARKS for net in (secondary[0], secondary[-1])]
        if len(plates) == 1 and sum(rest) == 1:
            section, lead = plates[0]
            yield _Channel(section, output, lead == "p1", rest[0], _before(circuit, section))


def _before(circuit: Circuit, section: Section) -> frozenset[str]:
    """The tube types of the plates that a grid hears."""
    grid, types = section.net("grid"), {s.name: s for s in circuit.sections()}
    heard = givers(circuit, coupled(circuit, [grid] if grid else [], still_nets(circuit)))
    return frozenset(
        circuit.tubes[types[name].tube].type.name
        for name, end in heard if end == "plate" and name in types
    )  # fmt: skip


def _alike(circuit: Circuit, one: _Channel, other: _Channel) -> bool:
    kinds = [circuit.tubes[c.section.tube].type.name for c in (one, other)]
    sizes = [(c.output.primary, c.output.secondary, c.output.steps) for c in (one, other)]
    heard = [
        givers(circuit, coupled(circuit, [c.section.electrodes["grid"]], still_nets(circuit)))
        for c in (one, other)
    ]
    same = kinds[0] == kinds[1] and sizes[0] == sizes[1] and one.before == other.before
    return same and bool(one.before) and not heard[0] & heard[1]


def _finding(case: Case, one: _Channel, other: _Channel) -> Finding:
    ends = [(c.output.secondary_leads[0][0], c.output.secondary_leads[-1][0]) for c in (one, other)]
    mine, theirs = (f"{c.output.name}.{e[0 if c.rest_first else 1]}"
                    for c, e in zip((one, other), ends, strict=True))  # fmt: skip
    first, last = ends[1]
    name = other.output.name
    return channels_out_of_phase.finding(
        case,
        (name, one.output.name, f"{name}.{first}", f"{name}.{last}"),
        f"{one.output.name} and {name} are driven alike, and one has {mine} on gnd, the other "
        f"{theirs}: the two speakers move against each other",
        f"Exchange {name}.{first} and {name}.{last}, or those of {one.output.name}",
        evidence={"on_gnd": f"{mine}, {theirs}"},
        certainty="likely",
    )


RULES: tuple[Rule, ...] = (channels_out_of_phase,)
