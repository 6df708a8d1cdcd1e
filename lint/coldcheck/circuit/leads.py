"""The leads of everything a drawing declares, and what people call them.

An :class:`Owner` is anything written before a dot or a colon. It maps every accepted spelling of
a lead, in lower case, to the lead's key, and knows how to describe itself when a lead is wrong.
"""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, TypeAlias

from coldcheck.circuit.problems import did_you_mean, listed
from coldcheck.records import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from coldcheck.circuit.tubes import TubeType
    from coldcheck.drawing.model import CoilLine, OutputLine, ReverbLine, SwitchLine, WindingLine
    from coldcheck.drawing.units import Quantity

    Wound: TypeAlias = WindingLine | CoilLine

JACK_LEADS = ("tip", "sleeve", "ring", "switch")

SPELLINGS: Mapping[str, tuple[str, ...]] = {
    "plate": ("anode", "p", "a"),
    "grid": ("g", "g1", "grid1"),
    "screen": ("g2", "grid2"),
    "grid2": ("g2",),
    "suppressor": ("g3", "grid3"),
    "grid3": ("g3",),
    "grid4": ("g4",),
    "target": ("t",),
    "cathode": ("k",),
    "anode": ("a",),
    "plate1": ("p1", "a1", "anode1"),
    "plate2": ("p2", "a2", "anode2"),
    "diode1": ("d1",),
    "diode2": ("d2",),
    "diode3": ("d3",),
    "tap": ("ht", "htap"),
    "h1": ("f1",),
    "h2": ("f2",),
    "f1": ("h1",),
    "f2": ("h2",),
    "ct": ("tap",),
    "common": ("c", "com", "gnd", "ground"),
    "shield": ("shell",),
    "in": ("input", "vin"),
    "out": ("output", "vout"),
    "adj": ("adjust",),
    "drain": ("d",),
    "gate": ("g",),
    "source": ("s",),
    "collector": ("c",),
    "base": ("b",),
    "emitter": ("e",),
    "plus": ("pos", "positive"),
    "minus": ("neg", "negative"),
    "ac1": ("ac_1",),
    "ac2": ("ac_2",),
}
CAP = "cap"
_IDLE = ("nc", "ic", "jumper")
_FILAMENT = ("f1", "f2")
"""Ends that all sections of a directly heated tube have in common."""


@dataclass(frozen=True, slots=True)
class Owner:
    """Something with leads.

    what
        What it is, for messages: ``a 12AX7 with sections V1A and V1B``.
    leads
        Spelling in lower case -> key. ``shown`` are the canonical spellings to list.
    pins
        Pin number -> key (tubes only).
    elsewhere
        Spelling -> where that lead really is: ``plate`` -> ``V1A.plate or V1B.plate``.
    opaque
        Its type is unknown, so any lead is let pass.
    unnumbered
        A tube the numbers of whose pins are not known.
    """

    name: str
    what: str
    leads: Mapping[str, str] = field(default_factory=dict)
    shown: tuple[str, ...] = ()
    pins: Mapping[str, str] = field(default_factory=dict)
    elsewhere: Mapping[str, str] = field(default_factory=dict)
    opaque: bool = False
    unnumbered: bool = False

    def keys(self) -> tuple[str, ...]:
        """Every key of this owner, without repetition."""
        return tuple(dict.fromkeys((*self.leads.values(), *self.pins.values())))

    @property
    def tube(self) -> bool:
        """Whether it is a tube, or a section of one."""
        return bool(self.pins) or self.unnumbered

    def hint(self, lead: str | None, pin: str | None) -> str:
        """What to write instead of an unknown lead or pin."""
        if pin is not None:
            pins = listed(self.pins)
            return f"{self.name} is {self.what}: pins {pins}" if pins else self._no_pins()
        word = (lead or "").casefold()
        if word in self.elsewhere:
            return f"{self.name} is {self.what}: say {self.elsewhere[word]}"
        if not self.shown:
            return f"{self.name} is {self.what}"
        near = did_you_mean(word, (t for t in self.leads if len(t) > 2)) if word else ""
        return f"{self.name} is {self.what}: leads {', '.join(self.shown)}" + near_text(near)

    def _no_pins(self) -> str:
        if self.unnumbered:
            leads = ", ".join(self.shown) if self.shown else "those of its sections"
            known = f"{self.name} is {self.what}, whose pin numbers are not on file"
            return f"{known}; its electrodes by name do as well: {leads}"
        return f"{self.name} is {self.what}; only tubes have numbered pins"


def near_text(near: str) -> str:
    """``near`` as a further clause."""
    return f"; {near}" if near else ""


def spelled(leads: Iterable[str]) -> dict[str, str]:
    """Every accepted spelling of these lead names -> the lead name; full names win."""
    leads = tuple(leads)
    found = {lead: lead for lead in leads}
    for lead in leads:
        stem, _, last = lead.rpartition(".")
        for other in SPELLINGS.get(last, ()):
            found.setdefault(f"{stem}.{other}".lstrip("."), lead)
    return found


def plain_owner(
    name: str, what: str, leads: Iterable[str], also: Mapping[str, str] | None = None
) -> Owner:
    """An owner whose lead keys are ``NAME.lead``; ``also`` are other spellings of its own leads."""
    leads = tuple(leads)
    every = {**(also or {}), **spelled(leads)}
    keys = {text.casefold(): f"{name}.{lead}" for text, lead in every.items()}
    return Owner(name, what, keys, leads)


def transformer_owner(name: str, windings: Iterable[Wound]) -> Owner:
    """Leads ``T1.ht.1``, ``T1.ht.ct``, ``T1.ht.2``."""
    windings = tuple(windings)
    leads = [f"{w.name}.{end}" for w in windings for end in winding_leads(w)]
    also = {f"{w.name}.{x}": f"{w.name}.{end}" for w in windings for x, end in _ends(w).items()}
    return plain_owner(name, "a transformer", leads, also)


def reverb_owner(line: ReverbLine) -> Owner:
    """Leads ``TK1.drive.1`` and so on, also ``TK1.in1``, ``TK1.out1`` as tanks are marked."""
    leads = [f"{coil.name}.{end}" for coil in line.coils for end in ("1", "2")]
    marks = ("in1", "in2", "out1", "out2")
    return plain_owner(line.name, "a spring tank", leads, dict(zip(marks, leads, strict=True)))


def winding_leads(winding: Wound) -> tuple[str, ...]:
    """The leads of one winding in order.

    A tap is called by its volts, ohms or turns; one that both halves have says which half,
    ``50_1`` and ``50_2``.
    """
    taps = [[tap_name(volts) for volts in half] for half in winding.taps]
    if len(winding.sizes) < 2:
        middle = ["ct"] if winding.tapped else taps[0] if taps else []
        return ("1", *middle, "2")
    first, second = taps or ([], [])
    both = set(first) & set(second)
    one = [f"{tap}_1" if tap in both else tap for tap in reversed(first)]
    other = [f"{tap}_2" if tap in both else tap for tap in second]
    return ("1", *one, "ct", *other, "2")


def _ends(winding: Wound) -> dict[str, str]:
    """What the ends of a winding with taps from end to end are called besides."""
    if len(winding.sizes) > 1 or not any(winding.taps):
        return {}
    return {"0": "1", tap_name(winding.sizes[0]): "2"}


def tap_name(value: Quantity) -> str:
    """What a tap is called: its figure, the decimal point as a letter: ``8``, ``3R2``, ``6V3``."""
    text = f"{float(value.m):.6g}"
    units = {"ohm": "R", "volt": "V", "turn": "T"}
    return text.replace(".", next(x for u, x in units.items() if value.is_compatible_with(u)))


def output_leads(line: OutputLine) -> tuple[str, ...]:
    """Primary leads in order of the turns, then the secondary.

    Without a centre tap an ultra-linear tap is that of a single-ended stage: one lead ``u1``.
    """
    if line.tap is None:
        primary: tuple[str, ...] = ("p1", "ct", "p2") if line.tapped else ("p1", "p2")
    else:
        primary = ("p1", "u1", "ct", "u2", "p2") if line.tapped else ("p1", "u1", "p2")
    return (*primary, "s1", *(tap_name(ohms) for ohms in line.steps), "s2")


def output_owner(line: OutputLine) -> Owner:
    """Leads ``T2.p1``, ``T2.s1``; of a tapped secondary the ends are also ``T2.0``, ``T2.16``."""
    also = {"0": "s1", tap_name(line.secondary): "s2"} if line.steps else {}
    return plain_owner(line.name, "an output transformer", output_leads(line), also)


def switch_leads(line: SwitchLine) -> tuple[str, ...]:
    """``common 1 [2 ...]``, with ``a.``, ``b.``, ... before them for several poles."""
    return tuple(pole + end for pole in line.poles for end in line.ends)


def heater_ends(kind: TubeType) -> tuple[str, ...]:
    """The leads of the heater: ends, then the tap; none for a cold cathode."""
    if kind.cathode == "cold":
        return ()
    ends = ("f1", "f2") if kind.cathode == "filament" else ("h1", "h2")
    return (*ends, "tap") if kind.tapped else ends


def tube_owners(name: str, kind: TubeType) -> list[Owner]:
    """The tube itself, and each of its sections where there is more than one."""
    numbers = kind.pins if kind.pins_known else (p for p in kind.pins if p.isdigit() or p == CAP)
    pins = {pin: pin_key(name, kind, pin) for pin in numbers}
    common = heater_ends(kind)
    if ("", "shield") in kind.pins.values():
        common = (*common, "shield")
    shared = {text: f"{name}.{lead}" for text, lead in spelled(common).items()}
    if len(kind.sections) == 1:
        own = tuple(e for e in kind.sections[0].electrodes if e not in common)
        leads = {text: f"{name}.{lead}" for text, lead in spelled((*own, *common)).items()}
        leads = {**_top_cap(name, kind), **leads}
        shown = (*own, *common)
        elsewhere = _filament(name, kind)
        bare = not kind.pins_known
        return [Owner(name, f"a {kind.name}", leads, shown, pins, elsewhere, unnumbered=bare)]
    sections = [name + s.name for s in kind.sections]
    what = f"a {kind.name} with sections {listed(sections)}"
    elsewhere = _elsewhere(name, kind)
    bare = not kind.pins_known
    whole = {t: k for t, k in elsewhere.items() if _all_have(kind, k.partition(".")[2], k)}
    shared = {**_top_cap(name, kind), **whole, **shared}
    owners = [Owner(name, what, shared, common, pins, elsewhere, unnumbered=bare)]
    for section in kind.sections:
        electrodes = spelled(section.electrodes)
        half_own = {t: lead_key(name, kind, section.name, e) for t, e in electrodes.items()}
        what_half = f"half of {name}, a {kind.name} with sections {listed(sections)}"
        half = Owner(
            name + section.name,
            what_half,
            {**shared, **half_own},
            section.electrodes,
            pins,
            unnumbered=bare,
        )
        owners.append(half)
    return owners


def pin_key(name: str, kind: TubeType, pin: str) -> str:
    """The key a pin belongs to: its electrode's, or the pin's own where nothing is inside."""
    section, electrode = kind.pins[pin]
    return f"{name}:{pin}" if electrode in _IDLE else lead_key(name, kind, section, electrode)


def lead_key(name: str, kind: TubeType, section: str, electrode: str) -> str:
    """The key of an electrode: that of the one it shares a pin with, where it does."""
    section, electrode = kind.joined.get((section, electrode), (section, electrode))
    own = "" if electrode in _FILAMENT else section
    return f"{name}{own}.{electrode}"


def _elsewhere(name: str, kind: TubeType) -> dict[str, str]:
    """Electrodes asked of the whole tube: which section's did they mean."""
    found: dict[str, str] = {}
    for text, electrode in spelled(e for s in kind.sections for e in s.electrodes).items():
        keys = [
            lead_key(name, kind, s.name, electrode) for s in kind.sections
            if electrode in s.electrodes
        ]  # fmt: skip
        found[text] = listed(dict.fromkeys(keys), "or")
    return found


def _top_cap(name: str, kind: TubeType) -> dict[str, str]:
    """The lead on top of the bulb by that name, whatever electrode it is."""
    return {CAP: pin_key(name, kind, CAP)} if CAP in kind.pins else {}


def _all_have(kind: TubeType, electrode: str, key: str) -> bool:
    """Whether every section has that electrode, and all of them on the one lead ``key``."""
    return " or " not in key and all(electrode in s.electrodes for s in kind.sections)


def _filament(name: str, kind: TubeType) -> dict[str, str]:
    """The cathode of a directly heated tube is its filament, and it has two ends."""
    if kind.cathode != "filament":
        return {}
    pins = [f"{name}:{pin}" for pin, (_, e) in kind.pins.items() if e in _FILAMENT]
    numbers = f" (pins {listed(pins)})" if kind.pins_known else ""
    where = f"{name}.f1 or {name}.f2{numbers}: its filament is the cathode"
    return {"cathode": where, "k": where}
