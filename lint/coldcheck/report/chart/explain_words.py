"""What is said about measuring one point, sentence by sentence."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, assert_never

from coldcheck.bench.instruments.clip import ClipKind
from coldcheck.circuit.model import GROUND
from coldcheck.drawing.units import engineering
from coldcheck.report.chart.words import NOTHING, ac_text, off_text, ohms_figure
from coldcheck.report.shared.numbers import volts
from coldcheck.report.shared.plain import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from coldcheck.bench.chart.explain import Explanation
    from coldcheck.bench.instruments.clip import Clip
    from coldcheck.bench.instruments.clipped import Clipped
    from coldcheck.bench.instruments.measure import Shown
    from coldcheck.bench.instruments.scope import ScopeAdvice, View
    from coldcheck.bench.instruments.slips import Slip

UNLIKE = 0.02
"""An average-responding meter this far from a true-rms one is worth a sentence."""

LOADS = 0.005
TOUCH_VOLTS = 42.4
"""Peak volts from which a live part is hazardous (42.4 V peak AC, 60 V DC; memory)."""

LEAST_AMPS = 1e-7
"""Amperes through a clip below which there is next to nothing."""

TOLD = 6
"""Of what a clip brings beyond its limits, so many are told."""

WORST = 3
"""Of the slips of a tip, so many are told whole."""

MANY = 100
"""Times a fuse's rating above which the figure says nothing more."""

LEAST_HEIGHT = 0.5
"""Divisions below which a difference cannot be read off the screen."""


def there(found: Explanation) -> str:
    """What stands at the point, in words."""
    v = found.volts
    if v is None and found.loose:
        return (
            f"No voltage can be given: {found.reason}. An instrument connected there becomes the "
            "only thing that holds it, and what it shows says little: measure across the winding, "
            "from one of its ends to the other."
        )
    if v is None:
        return f"No voltage can be given: {found.reason}."
    across = f"{found.point} is at {volts(v.dc.value)} V DC from {found.other}"
    if v.dc.low is not None and v.dc.high is not None and (v.dc.off or 0) >= 5e-3:
        across += f" ({volts(v.dc.low)} to {volts(v.dc.high)} V within the usual spread)"
    if v.ac.value < 1e-3:
        return f"{across}, without AC to speak of."
    return (
        f"{across}, with {ac_text(v.ac.value)} V rms of AC on it: over a mains cycle it moves from "
        f"{volts(v.lowest)} to {volts(v.highest)} V, {ac_text(v.pp.value)} V peak to peak."
    )


def against_earth(found: Explanation) -> Iterator[str]:
    """What a point on the mains stands at against earth, whichever way the plug sits."""
    if not found.mains:
        return
    if found.live:
        yield (
            "gnd is joined to the mains: these figures are from gnd, which may itself be at the "
            "full mains against earth and against anyone who touches something earthed. Measure "
            "only behind an isolating transformer, with nothing earthed connected to the set."
        )
    here = "it" if found.other == "gnd" and not found.live else f"{found.point} or {found.other}"
    if found.earth is None:
        yield (
            f"What {here} is at against earth could not be worked out: take it as the full "
            "mains and the highest voltage of the set together."
        )
        return
    neutral, line = (volts(v) for v in (found.earth.as_drawn, found.earth.turned))
    yield (
        f"Against earth {here} is at up to {neutral} V peak where the neutral is the earthed "
        f"conductor, and up to {line} V peak where plug or outlet is the other way round (at the "
        "upper end of the mains). Which of the two it is the drawing cannot tell: take the higher."
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


def meter_row(shown: Shown) -> tuple[str, str, str, str]:
    """Instrument, what it shows with its accuracy, what its loading takes, what to mind."""
    name = shown.instrument.name
    if not shown.safe:
        return name, NOTHING, "", "; ".join(_beyond(shown))
    off = (shown.high - shown.low) / 2
    figure = volts(shown.shown) if shown.instrument.response == "mean" else ac_text(shown.shown)
    taken = f"{100 * shown.loading:.1f} %" if shown.loading >= LOADS else ""
    held = f" holds the {volts(shown.peak)} V peak"
    minds = [f"{shown.range:g} V range{held if needs_saying(shown) else ''}"] if shown.range else []
    return name, f"{figure} +/- {off_text(off, 5e-4)}", taken, "; ".join(minds)


def needs_saying(shown: Shown) -> bool:
    """Whether the range is wider than the reading alone would want."""
    return shown.range != shown.instrument.range_for(shown.unloaded)


def _beyond(shown: Shown) -> Iterator[str]:
    """Why a meter is not to be connected."""
    meter = shown.instrument
    if "category" in shown.over:
        named = meter.category is not None
        yield f"{meter.category}: not on these mains" if named else "no category: not here"
    if shown.harm:
        yield f"not: its load is too much: {shown.harm[0].message.rstrip('.')}"
    if "peak" in shown.over:
        yield f"not: {volts(shown.peak)} V peak, rated {meter.max_volts:g} V"
    if "rms" in shown.over:
        yield f"not: {volts(shown.rms)} V rms, rated {meter.max_rms:g} V"
    if "range" in shown.over:
        yield f"not: none of its ranges holds {volts(shown.peak)} V peak"


def responses(found: Explanation) -> Iterator[str]:
    """How the meters' responses differ here, and what the AC ranges do with the DC."""
    by = {s.instrument.response: s for s in found.shown if s.safe}
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
            f"On an AC range the {volts(v.dc.value)} V of DC are blocked but are at the meter's "
            "input all the same: they count against its rating, and the needle kicks while the "
            "blocking capacitor charges."
        )


def on_the_scope(found: Explanation) -> Iterator[tuple[str, list[str]]]:
    """Each scope's name and how to set it, in sentences; nothing where there is to be no scope."""
    if found.mains:
        return
    if found.clip_there:
        for advice in found.scopes:
            yield advice.scope.name, list(_one_probe(advice))
        return
    if not found.channels:
        for advice in found.scopes:
            yield advice.scope.name, [_differential(advice, found)]
    for channel, advice in zip(found.channels, found.scopes, strict=False):
        probes = _two_probes(channel, advice) if channel.dc.safe else _unsafe(channel.dc, channel)
        yield channel.scope.name, [*probes, _differential(advice, found)]


def _one_probe(advice: ScopeAdvice) -> Iterator[str]:
    if not advice.dc.safe:
        yield from _unsafe(advice.dc, advice)
        return
    yield f"DC coupling: {_view(advice.dc)}."
    if advice.dc.ripple_divisions < 0.05 and not advice.ac_needed:
        return
    if not advice.ac.safe:
        yield f"No AC coupling: {_excess(advice.ac, advice)}."
        return
    if advice.ac_needed:
        yield (
            f"The AC is then {advice.dc.ripple_divisions:.2g} divisions high and lost in the "
            f"trace: to see it, AC coupling: {_view(advice.ac)}."
        )
    else:
        yield f"AC coupling, for the AC alone: {_view(advice.ac)}."
    yield from _blocked(advice)


def _unsafe(view: View, advice: ScopeAdvice) -> Iterator[str]:
    """Instead of a set-up: why there is none."""
    yield f"Not with this scope and its probes: {_excess(view, advice)}."


def _excess(view: View, advice: ScopeAdvice) -> str:
    """What is beyond its rating with the best there is."""
    scope, probe = advice.scope, view.probe
    said = {
        "probe": f"{volts(view.tip_volts)} V at the tip, where the probe x{probe.attenuation:g} is "
        f"rated {probe.max_volts:g} V",
        "input": f"{volts(view.input_volts)} V peak at the input, rated {scope.max_volts:g} V",
        "rms": f"more at the input than the {scope.max_rms:g} V rms it is rated for",
    }
    return listed(said[w] for w in view.over if w != "screen")


def _two_probes(channel: ScopeAdvice, difference: ScopeAdvice) -> Iterator[str]:
    """Each point on a channel of its own, and one less the other."""
    share = difference.dc.per_division / channel.dc.per_division
    height = difference.dc.divisions * share
    yield f"Two probes, each on DC coupling: {_view(channel.dc)} (the taller of the two)."
    enough = "" if height >= LEAST_HEIGHT else ": too little to read, take a differential probe"
    yield f"The difference is then {height:.2g} divisions high{enough}."


def _differential(advice: ScopeAdvice, found: Explanation) -> str:
    scale = engineering(advice.dc.per_division, "V")
    height = f"{advice.dc.divisions:.2g} divisions high"
    if found.highest_to_gnd is None:
        stands = "What it has to be rated to ground is not known: the highest voltage of the set"
    else:
        stands = f"It has to be rated {volts(found.highest_to_gnd)} V to ground on either lead"
    return f"A differential probe shows it directly: {scale} per division, {height}. {stands}."


def _view(view: View) -> str:
    probe = f"probe x{view.probe.attenuation:g}"
    unfit = "" if view.fits else ", which does not fit on the screen"
    scale = f"{engineering(view.per_division, 'V')} per division"
    height = f"trace {view.divisions:.2g} divisions high{unfit}"
    tip = f"{volts(view.tip_volts)} V at the tip (probe rated {view.probe.max_volts:g} V)"
    return f"{probe}, {scale}, {height}; {tip}, {volts(view.input_volts)} V at the input"


def _blocked(advice: ScopeAdvice) -> Iterator[str]:
    view = advice.ac
    if view.input_volts - view.tip_volts / view.probe.attenuation < 1.0:
        return
    yield (
        f"The DC that AC coupling takes off the screen is still at the input and counts "
        f"against its {advice.scope.max_volts:g} V; with an attenuating probe it is there in "
        "full, for the blocking capacitor lets no current through the probe's resistor (unless "
        "the probe has one to ground of its own)."
    )
    yield (
        "Set the input to its ground position, clip the probe on with the power off, switch on, "
        "wait, then set the input to AC. AC coupling passes what is above "
        f"{advice.corner_hz:.2g} Hz with this probe."
    )


def ground_clip(found: Explanation) -> Iterator[str]:
    """Where the clip may go, and what it would do where it may not."""
    if found.mains:
        yield from _on_the_mains(found)
        return
    yield _clip_there(found.clips[0], found.other)
    if found.clip_there:
        if found.clips[1].kind is ClipKind.SHORT:
            yield f"{_never(found.clips[1], found.point)}"
    elif found.clip_on_gnd:
        yield (
            f"Use a differential probe, or two probes of the same attenuation on {found.point} "
            f"and {found.other} with both clips on gnd, one channel less the other."
        )
    else:
        yield "Use a differential probe."


def _on_the_mains(found: Explanation) -> Iterator[str]:
    """No scope, and what the only way to look would have to stand."""
    if found.live:
        yield (
            "Ground clip: nowhere. gnd of this set is joined to the mains: wherever plug or outlet "
            "is the other way round, the clip shorts the mains through the scope's earth."
        )
    else:
        yield (
            f"Ground clip: nowhere here. {found.point} or {found.other} is on the mains' side: on "
            "it the clip is a short of the mains through the scope's earth, limited by the fuse "
            "alone."
        )
    stands = "the mains' peak, and the highest voltage of the set on top"
    if found.earth is not None:
        stands = f"{volts(found.earth.worst)} V or more"
    yield (
        "No scope and no plain probe here, therefore no setting for one. A differential probe with "
        f"a measurement category for this mains is the only way to look: rated {stands} to earth "
        "on either lead."
    )


def _clip_there(clip: Clip, point: str) -> str:
    """What is said of the clip at the point one measures from."""
    match clip.kind:
        case ClipKind.EARTHED:
            return f"Ground clip: on {point}, which the drawing earths."
        case ClipKind.UNEARTHED:
            return (
                f"Ground clip: on {point}. The drawing shows no earth there: the scope's becomes "
                f"its earth. First measure from {point} to the scope's earth with a meter, volts "
                "AC and DC: where it shows any, no clip before you know why."
            )
        case ClipKind.SHORT:
            return _never(clip, point)
        case ClipKind.FLOATING:
            return (
                f"Ground clip: not on {point}, which floats: the clip would become its reference, "
                "and what then shows is not what was there."
            )
        case ClipKind.UNKNOWN:
            return f"Ground clip: not on {point}; what would flow is not known ({clip.reason})."
        case ClipKind.LIVE | ClipKind.MAINS:
            return f"Ground clip: never on {point}: it is joined to the mains."
        case _:
            assert_never(clip.kind)


def _never(clip: Clip, point: str) -> str:
    """What a clip that shorts a point to gnd brings about."""
    level = f"{volts(clip.volts_dc)} V DC and {ac_text(clip.volts_ac or 0.0)} V AC"
    head = f"Ground clip: never on {point}, which is at {level}: a short to gnd"
    done = clip.clipped
    if done is None or done.dc_amps is None:
        why = f" ({done.reason})" if done is not None else ""
        return f"{head}, and what it does to the set could not be worked out{why}."
    parts = [_through(done, clip), *_robbed(done)]
    return f"{head}. Solved with the clip on: {'; '.join(parts)}. {_harm(done)}"


def _through(done: Clipped, clip: Clip) -> str:
    said = _amperes(done)
    if clip.discharges:
        empty = "itself" if len(clip.discharges) == 1 else "themselves"
        said += f", after {listed(clip.discharges)} emptied {empty} through it at once"
    return said


def _amperes(done: Clipped) -> str:
    both = ((done.dc_amps or 0.0, " DC"), (done.ac_amps or 0.0, " AC"))
    amps = [engineering(i, "A", 2) + kind for i, kind in both if i >= LEAST_AMPS]
    return f"{listed(amps)} through it" if amps else "next to nothing through it"


def _robbed(done: Clipped) -> Iterator[str]:
    if done.unbiased:
        lost = listed(
            f"{u.section} ({volts(u.before)} V grid to cathode, then {volts(u.after)} V and "
            f"{engineering(u.plate_ma / 1e3, 'A')} of plate current)"
            for u in done.unbiased
        )
        yield f"it takes the bias from {lost}"


def _harm(done: Clipped) -> str:
    """What is beyond its limits with the clip on, in the rules' own sentences."""
    said = [f.message.rstrip(".") for f in done.findings]
    said += [
        f"{b.name} carries {_times(b.times)} its rating" + (" and opens" if b.opens else "")
        for b in done.fuses
    ]
    failed = f" Not judged: {listed(done.broken)}." if done.broken else ""
    if not said:
        return f"No limit that is judged is exceeded, but the set is no longer as drawn.{failed}"
    more = f"; and {len(said) - TOLD} more" if len(said) > TOLD else ""
    return f"Then {'; '.join(said[:TOLD])}{more}.{failed}"


def _times(times: float) -> str:
    return f"{times:.2g} times" if times < MANY else f"more than {MANY} times"


def slips(found: Explanation) -> Iterator[str]:
    """What a tip does that slips to what is beside the point."""
    bridged = found.slips
    for slip in bridged.harmful[:WORST]:
        yield _slip(slip, found)
    if len(bridged.harmful) > WORST:
        yield f"Beyond limits as well: to {listed(s.to for s in bridged.harmful[WORST:])}."
    if bridged.quiet:
        yield f"To {listed(bridged.quiet)}: no limit that is judged is exceeded."
    if bridged.mains:
        yield (
            f"To {listed(bridged.mains)}: it joins the mains to what is not on them, and no earth "
            "is drawn that would make a fuse open: whatever that leads to can then kill."
        )
    for reason in dict.fromkeys(why for _, why in bridged.unknown):
        places = listed(to for to, why in bridged.unknown if why == reason)
        yield f"To {places}: what it does could not be worked out ({reason})."
    if bridged.left_out:
        yield f"Not solved: {listed(bridged.left_out)}."
    if bridged.harmful or bridged.quiet:
        yield (
            "Solved with the bridge held on, all at rest. The spark of the first instant, and what "
            "capacitors pass in it, come on top: silicon can go in that alone."
        )


def _slip(slip: Slip, found: Explanation) -> str:
    """One bridge: the worst of what it does."""
    done, clip = slip.done, found.clips[1]
    if slip.net == GROUND and clip.kind is ClipKind.SHORT:
        return f"To {slip.to}: what the ground clip on {found.point} does, above."
    if slip.shorts and found.mains:
        head = "a short of the mains, with an arc at the tip"
    else:
        head = "; ".join((_amperes(done), *_robbed(done)))
    what = "" if slip.shorts and not (done.findings or done.fuses) else f" {_harm(done)}"
    return f"To {slip.to}: {head}.{what}"


def limits(found: Explanation) -> Iterator[str]:
    """What the leads have to be good for."""
    if found.mains:
        stands = "" if found.earth is None else f", {volts(found.earth.worst)} V peak or more"
        yield f"The mains: meter and leads of measurement category II or above for it{stands}."
    elif found.highest_to_gnd is not None and found.highest_to_gnd > TOUCH_VOLTS:
        yield (
            f"{volts(found.highest_to_gnd)} V to gnd at the worst instant (the upper end of mains "
            "and spread, and before the tubes draw): leads and probe tips insulated for it, one "
            "hand away, connect with the power off and the capacitors empty."
        )
    if not found.switch_on_known:
        yield (
            "What is here before the tubes draw could not be worked out: ranges and ratings "
            "above do not count it, so use the highest range first."
        )
