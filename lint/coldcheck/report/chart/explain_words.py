"""What is said about measuring one point, sentence by sentence."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from coldcheck.drawing.units import engineering
from coldcheck.report.chart.words import ac_text, off_text, ohms_figure
from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import listed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from coldcheck.bench.chart.explain import Explanation
    from coldcheck.bench.instruments.clip import Clip
    from coldcheck.bench.instruments.measure import Shown
    from coldcheck.bench.instruments.scope import ScopeAdvice, View

UNLIKE = 0.02
"""An average-responding meter this far from a true-rms one is worth a sentence."""

LOADS = 0.005
TOUCH_VOLTS = 42.4
"""Peak volts from which a live part is hazardous (42.4 V peak AC, 60 V DC; memory)."""

LEAST_HEIGHT = 0.5
"""Divisions below which a difference cannot be read off the screen."""


def there(found: Explanation) -> str:
    """What stands at the point, in words."""
    v = found.volts
    if v is None and "floating" in (found.clips[0].kind, found.clips[1].kind):
        return (
            f"No voltage can be given: {found.reason}. An instrument connected there becomes the "
            "only thing that holds it, and what it shows says little: measure across the winding, "
            "from one of its ends to the other."
        )
    if v is None:
        return f"No voltage can be given: {found.reason}."
    across = f"{found.point} stands {volts(v.dc.value)} V DC from {found.other}"
    if v.dc.low is not None and v.dc.high is not None and (v.dc.off or 0) >= 5e-3:
        across += f" ({volts(v.dc.low)} to {volts(v.dc.high)} V within the usual spread)"
    if v.ac.value < 1e-3:
        return f"{across}, without AC to speak of."
    return (
        f"{across}, with {ac_text(v.ac.value)} V rms of AC on it: over a mains cycle it moves from "
        f"{volts(v.lowest)} to {volts(v.highest)} V, {ac_text(v.pp.value)} V peak to peak."
    )


def cold(found: Explanation) -> str:
    """What an ohmmeter reads, in words."""
    ohms = found.ohms
    if ohms.infinite and ohms.low == inf:
        return f"Power off, an ohmmeter finds no way from {found.point} to {found.other}."
    if ohms.nominal is None:
        shown = "a resistance that depends on a value the drawing does not give"
    else:
        shown = f"{ohms_figure(ohms.nominal)} ohm".replace("infinite ohm", "infinite")
    ends = f" ({ohms_figure(ohms.low)} to {ohms_figure(ohms.high)} with all tolerances at worst)"
    way = f", through {listed(found.through)}" if found.through else ""
    return (
        f"Power off and cold an ohmmeter reads {shown}{ends if ohms.low < ohms.high else ''}{way}."
    )


def source(found: Explanation) -> str:
    """What loading follows from, in words."""
    if found.source.dc is None:
        why = found.how or "the point has no voltage of its own"
        return f"Loading is not worked out: {why}."
    ohms = engineering(max(found.source.dc, 1e-3), "ohm")
    return f"For a DC meter the point is a source of about {ohms} ({found.how})."


def meter_row(shown: Shown, *, mains: bool = False) -> tuple[str, str, str, str]:
    """Instrument, what it shows with its accuracy, what its loading takes, what to mind.

    ``mains`` says that the point is joined to the mains: no place for a meter without a category.
    """
    off = (shown.high - shown.low) / 2
    figure = volts(shown.shown) if shown.instrument.response == "mean" else ac_text(shown.shown)
    taken = f"{100 * shown.loading:.1f} %" if shown.loading >= LOADS else ""
    minds = [f"{shown.range:g} V range"] if shown.range else []
    if mains and not shown.instrument.category:
        minds.append("no category: not here")
    return shown.instrument.name, f"{figure} +/- {off_text(off, 5e-4)}", taken, _mind(shown, minds)


def _mind(shown: Shown, minds: list[str]) -> str:
    words = {
        "peak": f"not: {volts(shown.peak)} V peak, rated {shown.instrument.max_volts:g} V",
        "rms": f"not: {volts(shown.rms)} V rms, rated {shown.instrument.max_rms:g} V",
        "range": "beyond its ranges",
    }
    return "; ".join([*(words[w] for w in shown.over), *minds])


def responses(found: Explanation) -> Iterator[str]:
    """How the meters' responses differ here, and what the AC ranges do with the DC."""
    by = {s.instrument.response: s for s in found.shown}
    average, true = by.get("average"), by.get("true-rms")
    if average and true and true.unloaded >= 1e-3:
        share = average.unloaded / true.unloaded - 1
        if abs(share) >= UNLIKE:
            yield (
                f"The AC is no sine: an average-responding meter shows {abs(100 * share):.0f} % "
                f"{'more' if share > 0 else 'less'} than a true-rms one."
            )
    v = found.volts
    if v is not None and abs(v.dc.value) >= 1.0:
        yield (
            f"On an AC range the {volts(v.dc.value)} V of DC are blocked but stand at the meter's "
            "input all the same: they count against its rating, and the needle kicks while the "
            "blocking capacitor charges."
        )


def on_the_scope(found: Explanation) -> Iterator[tuple[str, list[str]]]:
    """Each scope's name and how to set it, in sentences."""
    if found.clip_there:
        for advice in found.scopes:
            yield advice.scope.name, list(_one_probe(advice))
        return
    if not found.channels:
        for advice in found.scopes:
            yield advice.scope.name, [_differential(advice)]
    for channel, advice in zip(found.channels, found.scopes, strict=False):
        stands = f"{volts(channel.dc.tip_volts)} V to ground on either lead"
        sentences = [*_two_probes(channel, advice), f"It has to stand {stands}."]
        yield channel.scope.name, [*sentences[:2], f"{_differential(advice)} {sentences[2]}"]


def _one_probe(advice: ScopeAdvice) -> Iterator[str]:
    yield f"DC coupling: {_view(advice.dc)}."
    if advice.dc.ripple_divisions < 0.05 and not advice.ac_needed:
        return
    if advice.ac_needed:
        yield (
            f"The AC is then {advice.dc.ripple_divisions:.2g} divisions high and lost in the "
            f"trace: to see it, AC coupling: {_view(advice.ac)}."
        )
    else:
        yield f"AC coupling, for the AC alone: {_view(advice.ac)}."
    yield from _blocked(advice)


def _two_probes(channel: ScopeAdvice, difference: ScopeAdvice) -> Iterator[str]:
    """Each point on a channel of its own, and one less the other."""
    share = difference.dc.per_division / channel.dc.per_division
    height = difference.dc.divisions * share
    yield f"Two probes, each on DC coupling: {_view(channel.dc)} (the taller of the two)."
    enough = "" if height >= LEAST_HEIGHT else ": too little to read, take a differential probe"
    yield f"The difference is then {height:.2g} divisions high{enough}."


def _differential(advice: ScopeAdvice) -> str:
    scale = engineering(advice.dc.per_division, "V")
    height = f"{advice.dc.divisions:.2g} divisions high"
    return f"A differential probe shows it directly: {scale} a division, {height}."


def _view(view: View) -> str:
    probe = f"probe x{view.probe.attenuation:g}"
    unfit = "" if view.fits else ", which does not fit on the screen"
    scale = f"{engineering(view.per_division, 'V')} a division"
    height = f"trace {view.divisions:.2g} divisions high{unfit}"
    tip = f"{volts(view.tip_volts)} V at the tip (probe rated {view.probe.max_volts:g} V)"
    return (
        f"{probe}, {scale}, {height}; {tip}, {volts(view.input_volts)} V at the input{_over(view)}"
    )


def _over(view: View) -> str:
    beyond = [w for w in view.over if w != "screen"]
    if not beyond:
        return ""
    words = {"input": "the input's peak rating", "rms": "its rms rating", "probe": "the probe"}
    return f": DO NOT, this is beyond {listed(words[w] for w in beyond)}"


def _blocked(advice: ScopeAdvice) -> Iterator[str]:
    view = advice.ac
    if view.input_volts - view.tip_volts / view.probe.attenuation < 1.0:
        return
    yield (
        f"The DC that AC coupling takes off the screen still stands at the input and counts "
        f"against its {advice.scope.max_volts:g} V; with an attenuating probe it stands there in "
        "full, for the blocking capacitor lets no current through the probe's resistor (unless "
        "the probe has one to ground of its own)."
    )
    yield (
        "Set the input to its ground position, touch the point, wait, then switch to AC. AC "
        f"coupling passes what is above {advice.corner_hz:.2g} Hz with this probe."
    )


def ground_clip(found: Explanation) -> Iterator[str]:
    """Where the clip may go, and what it would do where it may not."""
    here = found.clips[0]
    yield _CLIPS[here.kind](here, found.other)
    if found.clip_there:
        if found.other == "gnd":
            yield from _not_on(found.clips[1], found.point)
    elif here.kind in ("live common", "mains") or found.mains:
        yield (
            "Use a differential probe of the mains' measurement category, or two probes with both "
            "clips joined to each other and to nothing in the set, one channel less the other. "
            "The probes then stand the voltage to earth, which is up to the mains' peak more."
        )
    else:
        yield (
            f"Use a differential probe, or two probes of the same attenuation on {found.point} "
            f"and {found.other} with both clips on the chassis where it is earthed (else joined to "
            "each other and to nothing), one channel less the other."
        )


def _not_on(clip: Clip, point: str) -> Iterator[str]:
    if clip.kind == "short":
        yield f"On {point} itself the clip would be a short: {_currents(clip)}."


def _currents(clip: Clip) -> str:
    amps = [
        engineering(i, "A", 2) + kind
        for i, kind in ((clip.dc_amps, " DC"), (clip.ac_amps, " AC"))
        if i
    ]
    size = "a current that is not known would flow"
    if amps:
        size = f"about {listed(amps)} would flow (by the linearised circuit; a size, no figure)"
    if clip.discharges:
        empty = "itself" if len(clip.discharges) == 1 else "themselves"
        size += f", and {listed(clip.discharges)} would empty {empty} through the clip at once"
    return size


def _short(clip: Clip, point: str) -> str:
    level = f"{volts(clip.volts_dc)} V DC and {ac_text(clip.volts_ac or 0.0)} V AC"
    return f"Ground clip: not on {point}, which stands at {level}: {_currents(clip)}."


_CLIPS: Mapping[str, Callable[[Clip, str], str]] = {
    "earthed": lambda _, point: f"Ground clip: on {point}, which the drawing earths.",
    "unearthed": lambda _, point: (
        f"Ground clip: on {point}. The drawing shows no earth there: the scope's becomes its earth."
    ),
    "live common": lambda _, point: (
        f"Ground clip: nowhere. {point} is joined to the mains: the clip is a short of the mains "
        "through the scope when the plug sits the wrong way. Only behind an isolating transformer."
    ),
    "mains": lambda _, point: (
        f"Ground clip: never on {point}, which is the mains' side: a short of the mains through "
        "the scope's earth, limited by the fuse alone."
    ),
    "short": _short,
    "floating": lambda _, point: (
        f"Ground clip: not on {point}, which floats: the clip would become its reference, and what "
        "then shows is not what was there."
    ),
    "unknown": lambda clip, point: (
        f"Ground clip: not on {point}; what would flow is not known ({clip.reason})."
    ),
}


def limits(found: Explanation) -> Iterator[str]:
    """What the leads have to be good for."""
    if found.mains:
        yield (
            "The mains: meter and leads of measurement category II or above for its voltage; "
            "no scope without a differential probe of that category."
        )
    elif found.highest_to_gnd is not None and found.highest_to_gnd > TOUCH_VOLTS:
        yield (
            f"{volts(found.highest_to_gnd)} V to gnd at the worst instant: leads and probe tips "
            "insulated for it, one hand away, connect with the power off and the capacitors empty."
        )
