"""One cause, one finding: what only follows from another finding is told with it.

A rectified bias the wrong way round overloads plates, screens and resistors; listing each of them
hides the one thing to mend. What is folded away stays in the evidence of its cause. A finding
graver than its cause is never folded, nor one that was waived, nor one under a waived cause.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coldcheck.judge.finding import LEVELS
from coldcheck.records import dataclass
from coldcheck.verdict import consequences_where as where

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from coldcheck.circuit.model import Circuit
    from coldcheck.judge.finding import Finding

UNBIASED = ("grid.positive", "grid.no-bias", "grid.bias-too-small")
OVERLOADS = (
    "tube.plate-dissipation",
    "tube.plate-dissipation-both",
    "tube.screen-dissipation",
    "tube.cathode-current",
)
DEAD = ("tube.no-cathode-path", "tube.no-plate-supply", "tube.no-screen-supply")
CORES = ("output.primary-over-current", "output.ungapped-core")
HALVES = ("tube.shared-unequally", "output.halves-unequal", "signal.split-load-unequal")
TWINS = ("drawing.twins-differ", "drawing.twins-wired-apart", "drawing.twin-missing")
STUCK = ("tube.cut-off", "tube.idles-at-an-end", "output.screen-above-plate")
LOOSE = ("drawing.single-connection", "intent.not-met")
GRIDS = ("grid.leak-too-high", "tube.guard-diode-conducts")
IDLE = ("supply.choke-below-critical", "supply.regulator-current", "supply.inverse-voltage")
UNREFERRED = ("heater.no-reference",)
STRAINED = ("heater.cathode-stress", "heater.lifted-too-far")
UNHELD = ("heater.no-common-lift", "heater.reference-too-weak", "heater.lift-unbypassed")
UNLOADED = ("mains.fuse-too-large", "tube.plate-voltage", "tube.screen-voltage")
CUT_OFF = "supply.cut-off-at-work"
EXCHANGED = "tube.grid-and-cathode-exchanged"
MISPLACED = (EXCHANGED, "output.taps-swapped")
SCREENS = ("signal.screen-overload",)
"""A resistor that is missing at a screen follows from no voltage there."""

BURNT = ("resistor.over-power", "resistor.over-voltage", "capacitor.over-voltage")
SLIPS = ("resistor.unlikely-value", "resistor.without-effect")
HEATER_VOLTS = ("heater.no-common-lift", *STRAINED)
OVERDRAWN = (
    "supply.rectifier-overload",
    "supply.regulator-current",
    "supply.regulator-dark",
    "heater.rectifier-filament-grounded",
)
CURRENTS = (
    "supply.coil-overload",
    "supply.diode-overload",
    "supply.source-overload",
    "supply.lamp-over-rating",
    "capacitor.ripple-current",
    "resistor.control-overload",
    "resistor.thermistor-overload",
    "resistor.photocell-overload",
)
UNDRIVEN = ("signal.leads-nowhere", "signal.stage-undriven")
DRIVELESS = (
    *UNDRIVEN,
    "signal.stage-leads-nowhere",
    "signal.output-bypassed",
    "signal.grid-bypassed",
    "signal.follower-overloaded",
)
UNEVEN = (
    *("signal.split-load-unequal", "signal.second-grid-loose", "output.one-phase"),
    *(*UNBIASED, *DEAD, *OVERLOADS, *MISPLACED, "grid.no-return", "signal.grid-bypassed"),
    *("signal.stage-leads-nowhere", "signal.output-bypassed", "tube.idles-at-an-end"),
    *("tube.cut-off", "resistor.unlikely-value", "capacitor.unlikely-value", "drawing.incomplete"),
)
"""What leaves one half of a push-pull stage without its drive, or out of work."""

WRONG_VOLTS = (
    *(*OVERLOADS, *IDLE, *STRAINED, *BURNT, *OVERDRAWN, *CURRENTS, *UNBIASED),
    "heater.wrong-voltage",
    "heater.winding-overload",
    "heater.no-common-lift",
    "heater.lift-capacitor-underrated",
    "capacitor.little-margin",
    "capacitor.no-room-for-swing",
    "capacitor.series-unbalanced",
    "capacitor.balancing-too-high",
    "capacitor.cathode-bypass-underrated",
    "capacitor.undrained-output",
    "grid.positive-while-cold",
    "intent.not-met",
    "output.primary-over-current",
    "output.screen-above-plate",
    "output.wrong-plate-load",
    "signal.screen-overload",
    "signal.follower-overloaded",
    "supply.insulation-overstressed",
    "supply.source-resistance-too-small",
    "supply.switch-over-rating",
    "supply.zener-overload",
    "tube.cut-off",
    "tube.idles-hot-in-class-ab",
    "tube.plate-voltage",
    "tube.screen-voltage",
)
"""What only comes of every voltage of a transformer being twice or half what it should."""

RATED_SCREEN = ("tube.screen-voltage", "tube.screen-dissipation")


ON_MAINS = (
    *("mains.fuse-in-neutral", "mains.no-fuse", "mains.no-return", "mains.live-chassis"),
    *("mains.live-common", "mains.capacitor-class", "mains.capacitor-to-chassis"),
    *("mains.capacitor-stays-charged", "mains.switch-in-neutral", "supply.winding-shorted"),
    *("touch.live-terminal", "supply.fuse-too-small"),
)
OVERFED = (
    *("resistor.over-power", "resistor.over-voltage", "capacitor.over-voltage"),
    *("heater.wrong-voltage", "supply.inverse-voltage", "supply.rectifier-overload"),
    *("tube.plate-voltage", "tube.screen-voltage", "supply.zener-overload"),
    *("touch.live-terminal", "mains.unfit-part", "mains.live-chassis", "mains.live-common"),
)
HEAVY = (
    *("supply.winding-shorted", "supply.windings-opposed", "mains.unfit-part"),
    *("mains.on-secondary", "resistor.over-power", "supply.rectifier-overload"),
    *("drawing.shorted-part", "capacitor.reversed", "capacitor.unlikely-value"),
)


@dataclass(frozen=True, slots=True)
class Link:
    """Findings of ``effects`` follow from one of ``causes`` where ``holds`` says so.

    ``raises`` allows an effect above the level of its cause, and gives the cause that level, so
    that nothing is told more mildly than it is.
    """

    causes: tuple[str, ...]
    effects: tuple[str, ...]
    holds: Callable[[Circuit, Finding, Finding], bool]
    raises: bool = False


LINKS = (
    Link(
        ("drawing.twins-differ",),
        (*BURNT, *SLIPS, "capacitor.unlikely-value", "output.bass-cut", "signal.de-emphasis-off"),
        where.same_part,
    ),
    Link(TWINS, (*OVERLOADS, *UNBIASED, *SLIPS, *STRAINED, *STUCK), where.in_a_lead),
    Link(TWINS, (*CORES, *HALVES), where.anywhere),
    Link(
        ("grid.leak-on-own-cathode", "grid.bias-tap-unused"),
        (*UNBIASED, *OVERLOADS, *STUCK, "signal.follower-overloaded"),
        where.of_the_tube,
    ),
    Link(
        ("grid.leak-on-own-cathode", "grid.bias-tap-unused"),
        ("resistor.over-power",),
        where.same_part,
    ),
    Link(("signal.selector-exchanged",), UNDRIVEN, where.anywhere),
    Link(("signal.inverter-loads-exchanged",), HALVES, where.anywhere),
    Link(
        ("output.speaker-undriven",),
        ("output.wrong-load", "output.wrong-plate-load", "output.open-secondary"),
        where.anywhere,
    ),
    Link(
        ("signal.parallel-plate-on-supply",),
        (*CORES, *OVERLOADS, "tube.shared-unequally", "output.wrong-plate-load"),
        where.anywhere,
    ),
    Link(
        ("transistor.lead-open",),
        ("supply.part-unfed", "transistor.cut-off", "transistor.gate-no-return"),
        where.same_part,
    ),
    Link(("transistor.lead-open",), ("supply.part-unfed",), where.anywhere),
    Link(
        (
            *("capacitor.wrong-side-of-back-bias", "capacitor.unlikely-value", "mains.unfit-part"),
            *("supply.filter-bridged", "supply.half-not-wired", "supply.choke-opened"),
            *("supply.open-rectifier", "capacitor.reversed", "heater.no-reference"),
        ),
        ("output.hum",),
        where.anywhere,
    ),
    Link(("supply.coil-diode-turned",), ("supply.relay-not-as-drawn",), where.same_part),
    Link(
        ("supply.coil-diode-turned",),
        (
            *("supply.source-overload", "supply.diode-overload", "transistor.overload"),
            *("transistor.dissipation", "resistor.over-power"),
        ),
        where.anywhere,
    ),
    Link(("transistor.gate-clamp-reversed",), ("resistor.over-power",), where.anywhere),
    Link(
        ("transistor.gate-clamp-reversed", "transistor.gate-no-return"),
        ("transistor.cut-off",),
        where.same_part,
    ),
    Link(("drawing.incomplete", CUT_OFF), DEAD, where.same_tube),
    Link(
        (CUT_OFF,),
        (*DRIVELESS, *IDLE, *LOOSE, "tube.cut-off", "tube.idles-at-an-end", *HEATER_VOLTS),
        where.anywhere,
    ),
    Link((CUT_OFF,), UNLOADED, where.anywhere, raises=True),
    Link(("drawing.incomplete",), ("grid.no-return",), where.on_a_loose_end),
    Link(("drawing.single-connection",), ("grid.no-return",), where.at_that_end),
    Link(("heater.half-not-wired",), ("heater.wrong-voltage",), where.same_tube),
    Link(
        ("transistor.adjustment-open",),
        ("heater.wrong-voltage", "heater.winding-overload"),
        where.anywhere,
    ),
    Link(("grid.bias-unused",), ("drawing.single-connection",), where.same_part),
    Link(("grid.bias-unused",), (*UNBIASED, *OVERLOADS), where.same_tube, raises=True),
    Link(("drawing.coil-end-open",), ("grid.no-return",), where.on_that_coil),
    Link(("signal.control-foot-open",), ("signal.detector-load-open",), where.same_part),
    Link(("signal.detector-load-open",), ("grid.no-return",), where.same_tube),
    Link(("signal.tuned-foot-too-small",), ("signal.oscillator-below-signal",), where.same_tube),
    Link(
        ("signal.converter-grids-exchanged",),
        (*RATED_SCREEN, *OVERLOADS, "tube.plate-voltage", "signal.oscillator-too-weak"),
        where.same_tube,
    ),
    Link(("signal.screen-unmodulated", "signal.pi-network-turned"), BURNT, where.same_part),
    Link(("drawing.incomplete",), ("output.open-secondary",), where.same_place),
    Link(
        ("drawing.incomplete",), ("output.taps-swapped", "output.screen-left-fed"), where.same_tube
    ),
    Link(
        ("drawing.incomplete",),
        (*LOOSE, *UNDRIVEN, "signal.tip-open", "signal.coil-leads-nowhere", "supply.part-unfed"),
        where.anywhere,
    ),
    Link(("drawing.incomplete",), (*UNLOADED, *IDLE), where.surely, raises=True),
    Link(("heater.no-common-lift", "heater.lift-unlimited"), STRAINED, where.same_heater_line),
    Link(("heater.lift-unlimited",), UNHELD, where.same_heater_line),
    Link(("heater.reference-switched",), STRAINED, where.then),
    Link(("heater.string-order",), STRAINED, where.same_tube),
    Link(("heater.filaments-join-cathodes",), ("heater.two-references",), where.same_heater_line),
    Link(("heater.filament-tied-at-end",), ("heater.two-references",), where.same_heater_line),
    Link(
        ("heater.lift-capacitor-underrated",),
        ("capacitor.over-voltage", "capacitor.little-margin"),
        where.same_part,
    ),
    Link(("drawing.plate-on-heater-line",), ("resistor.over-power",), where.on_the_tube),
    Link(("tube.plate-dissipation",), ("tube.idles-hot-in-class-ab",), where.same_tube),
    Link(("grid.leak-bias-shunted",), ("grid.leak-makes-no-bias",), where.same_tube),
    Link(
        ("signal.cross-coupled-to-itself",),
        ("grid.leak-makes-no-bias", "grid.positive"),
        where.same_tube,
    ),
    Link(("grid.positive",), ("grid.no-bias",), where.same_tube),
    Link(UNBIASED, (*OVERLOADS, "tube.idles-hot-in-class-ab"), where.same_tube),
    Link(UNBIASED, ("resistor.over-power",), where.on_the_tube),
    Link(
        ("heater.shares-rectifier-filament",),
        ("heater.rectifier-filament-grounded",),
        where.same_tube,
    ),
    Link(("tube.no-plate-supply",), ("tube.screen-dissipation",), where.same_tube),
    Link((*DEAD, "supply.open-rectifier"), UNLOADED, where.anywhere, raises=True),
    Link(DEAD, ("supply.inverse-voltage", "output.ungapped-core"), where.anywhere),
    Link((*DEAD, *UNBIASED), ("signal.follower-overloaded",), where.same_tube),
    Link(("supply.open-rectifier",), OVERLOADS, where.biased_by),
    Link(UNBIASED, ("supply.rectifier-overload",), where.anywhere),
    Link(
        ("supply.open-rectifier",), ("drawing.dead-end", "drawing.coil-end-open"), where.same_part
    ),
    Link(("supply.dropper-starves",), ("signal.motor-boating",), where.anywhere),
    Link(
        ("supply.half-not-wired", "supply.open-rectifier"),
        ("supply.choke-below-critical", "supply.regulator-dark"),
        where.anywhere,
    ),
    Link(("supply.regulator-current",), ("supply.regulator-dark",), where.anywhere),
    Link(("heater.wrong-voltage",), ("heater.wrong-voltage",), where.shares_its_part),
    Link(
        ("transistor.body-diode-carries",),
        ("transistor.gate-unprotected", "transistor.gate-over-voltage"),
        where.same_part,
    ),
    Link(
        ("transistor.upside-down",),
        (
            *("transistor.base-reversed", "transistor.overload", "transistor.dissipation"),
            *("transistor.cut-off", "supply.part-unfed", "supply.zener-overload"),
            *(*UNBIASED, *OVERLOADS, *STUCK, *BURNT, *CURRENTS),
        ),
        where.anywhere,
    ),
    Link(("transistor.regulator-dropout",), ("heater.wrong-voltage",), where.starves_its_heater),
    Link(("heater.wrong-voltage",), ("transistor.regulator-dropout",), where.overfed_by_it),
    Link(("heater.no-reference",), ("supply.divider-unused",), where.anywhere),
    Link(
        ("supply.no-bleeder",),
        ("supply.choke-below-critical", "tube.plate-voltage", "tube.screen-voltage"),
        where.in_its_supply,
    ),
    Link(
        ("supply.choke-below-critical",),
        ("tube.plate-voltage", "tube.screen-voltage"),
        where.behind_the_choke,
    ),
    Link(("resistor.over-power",), ("supply.zener-overload",), where.in_its_way),
    Link(("supply.regulator-senses-input",), ("supply.regulator-current",), where.anywhere),
    Link(("supply.regulator-current",), BURNT, where.near_the_tube, raises=True),
    Link(("supply.open-rectifier",), ("capacitor.reversed",), where.anywhere),
    Link(
        ("mains.live-chassis", "mains.earth-on-live-common"),
        ("mains.live-common",),
        where.anywhere,
    ),
    Link(("mains.switch-cuts-nothing",), LOOSE, where.anywhere),
    Link(
        ("supply.regulator-starved",),
        (*UNBIASED, *STUCK, *IDLE, *GRIDS, "output.hum"),
        where.anywhere,
    ),
    Link(
        ("output.muted-ahead-of-capacitor",),
        (
            *(*BURNT, *OVERDRAWN, *CURRENTS, *UNBIASED, *OVERLOADS, "supply.fuse-too-small"),
            *("transistor.dissipation", "transistor.overload"),
        ),
        where.anywhere,
        raises=True,
    ),
    Link(
        ("supply.winding-on-wrong-pin",),
        (
            *(*WRONG_VOLTS, *LOOSE, "tube.internal-pin", "supply.half-not-wired"),
            *("capacitor.reversed", "supply.open-rectifier", "supply.winding-shorted"),
            *("output.hum", "supply.fuse-too-small"),
        ),
        where.anywhere,
        raises=True,
    ),
    Link(
        ("supply.tap-on-middle",),
        (*WRONG_VOLTS, "capacitor.reversed", "tube.idles-at-an-end", "output.hum"),
        where.anywhere,
        raises=True,
    ),
    Link(
        ("supply.filter-ahead-of-choke",),
        (
            *(*WRONG_VOLTS, "supply.mercury-rectifier", "supply.first-capacitor-too-large"),
            *("signal.motor-boating", "supply.regulator-dark", "output.hum"),
        ),
        where.anywhere,
        raises=True,
    ),
    Link(("mains.live-chassis",), ("mains.capacitor-to-chassis",), where.same_part, raises=True),
    Link(("mains.no-return",), ("heater.wrong-voltage",), where.anywhere),
    Link(("supply.bias-switched",), OVERLOADS, where.same_tube),
    Link(("supply.bias-switched",), ("resistor.over-power",), where.on_the_tube),
    Link(("capacitor.over-voltage",), ("capacitor.little-margin",), where.same_part),
    Link(("capacitor.over-voltage",), ("supply.no-bleeder",), where.shared_by_it, raises=True),
    Link(
        ("capacitor.balancing-too-high",),
        ("capacitor.over-voltage",),
        where.same_part,
        raises=True,
    ),
    Link(("capacitor.no-room-for-swing",), ("capacitor.little-margin",), where.same_part),
    Link(("supply.choke-below-critical",), ("supply.regulator-current",), where.anywhere),
    Link(
        ("supply.choke-below-critical",),
        ("capacitor.over-voltage", "supply.switch-over-rating"),
        where.behind_the_choke,
        raises=True,
    ),
    Link(
        ("supply.winding-shorted",),
        ("heater.wrong-voltage", "heater.winding-overload", "tube.idles-at-an-end"),
        where.anywhere,
    ),
    Link(
        ("supply.windings-opposed", "supply.winding-shorted", "mains.shorted"),
        ("heater.wrong-voltage", "supply.switch-over-rating"),
        where.anywhere,
    ),
    Link(
        (*OVERLOADS, *DEAD, *UNBIASED, *MISPLACED, "grid.bias-unused"), CORES, where.its_transformer
    ),
    Link(("signal.coil-passes-dc",), CORES, where.same_part),
    Link(
        ("signal.coil-passes-dc",),
        ("heater.rectifier-filament-grounded", *OVERDRAWN, *CURRENTS, *BURNT),
        where.shorts_the_supply,
        raises=True,
    ),
    Link(("signal.equaliser-decade-off",), ("signal.record-curve-missed",), where.same_part),
    Link(("heater.two-references",), UNLOADED, where.anywhere),
    Link(("supply.regulator-current",), ("supply.rectifier-overload",), where.anywhere),
    Link(
        ("tube.stack-starved",),
        ("tube.idles-at-an-end", "tube.plate-voltage", *HEATER_VOLTS),
        where.same_tube,
    ),
    Link(UNEVEN, ("output.halves-unequal",), where.anywhere),
    Link(("output.wrong-load",), ("output.wrong-plate-load",), where.first_the_same),
    Link(("tube.screen-voltage",), ("tube.screen-dissipation", *SCREENS), where.same_tube),
    Link(("output.screen-above-plate",), ("tube.screen-dissipation", *SCREENS), where.same_tube),
    Link(("tube.screen-voltage",), OVERLOADS, where.far_over_same_tube),
    Link(("tube.screen-voltage",), CURRENTS, where.far_over),
    Link(("tube.screen-voltage",), ("supply.rectifier-overload",), where.far_over),
    Link(("heater.wrong-voltage",), ("tube.idles-at-an-end", "tube.cut-off"), where.same_tube),
    Link(("output.screen-left-fed",), OVERLOADS, where.same_tube),
    Link(("tube.screen-undropped",), RATED_SCREEN, where.same_tube),
    Link(("signal.no-plate-load",), OVERLOADS, where.same_tube),
    Link(("grid.positive",), ("grid.positive-while-cold",), where.same_tube),
    Link(UNBIASED, ("grid.leak-too-high",), where.same_tube),
    Link(
        ("signal.gain-control-blocked",),
        ("grid.leak-too-high", "grid.bypass-leaks-on-line"),
        where.same_tube,
    ),
    Link(("drawing.shorted-part",), (*UNBIASED, *OVERLOADS), where.across_the_tube),
    Link((*OVERLOADS, *UNBIASED), BURNT, where.near_the_tube, raises=True),
    Link(DEAD, (*UNBIASED, "grid.leak-too-high", *OVERLOADS), where.same_tube),
    Link((*DEAD, EXCHANGED), ("grid.positive", "grid.positive-while-cold"), where.drives),
    Link(("tube.no-plate-supply",), ("tube.no-plate-supply",), where.below),
    Link((*DEAD, EXCHANGED, *UNBIASED), ("tube.cut-off",), where.same_tube),
    Link((*DEAD, EXCHANGED), ("tube.cut-off",), where.drives),
    Link(("drawing.shorted-part",), ("tube.cut-off",), where.across_the_tube),
    Link(("tube.cut-off", *DEAD), ("signal.positive-feedback",), where.anywhere, raises=True),
    Link(("tube.cut-off",), ("tube.plate-voltage",), where.same_tube),
    Link(
        (
            *(*DEAD, *UNBIASED, "tube.cut-off", "tube.idles-at-an-end"),
            *("signal.lamp-levels-backwards", "signal.oscillator-legs", "signal.output-bypassed"),
            "signal.oscillator-reversed",
        ),
        ("signal.oscillator-too-weak",),
        where.same_tube,
    ),
    Link(
        ("signal.feedback-passes-dc",),
        ("tube.idles-at-an-end", "tube.cut-off", "resistor.unlikely-value"),
        where.same_tube,
    ),
    Link(("drawing.incomplete",), ("tube.cut-off",), where.surely),
    Link(SLIPS, ("tube.cut-off",), where.of_the_tube),
    Link(SLIPS, ("tube.cut-off",), where.drives),
    Link(("tube.no-plate-supply",), ("resistor.unlikely-value",), where.on_the_tube),
    Link(("tube.no-cathode-path",), ("heater.no-reference",), where.holds_its_heaters),
    Link((EXCHANGED,), (*HEATER_VOLTS, "grid.leak-too-high"), where.same_tube, raises=True),
    Link(("drawing.incomplete",), ("supply.open-rectifier",), where.surely),
    Link(DEAD, BURNT, where.near_the_tube, raises=True),
    Link(("tube.no-cathode-path",), HEATER_VOLTS, where.same_tube, raises=True),
    Link(("heater.shares-rectifier-filament",), BURNT, where.near_the_tube, raises=True),
    Link(
        ("heater.shares-rectifier-filament",),
        ("supply.first-capacitor-too-large",),
        where.same_tube,
    ),
    Link(("heater.lift-unlimited",), ("heater.no-reference",), where.same_heater_line),
    Link(
        ("heater.lift-unlimited", "heater.lifted-too-far", "heater.no-common-lift"),
        BURNT,
        where.on_the_lift,
        raises=True,
    ),
    Link(
        ("heater.lift-capacitor-underrated",),
        ("capacitor.over-voltage",),
        where.same_part,
        raises=True,
    ),
    Link(("resistor.over-power",), ("resistor.over-voltage",), where.same_part),
    Link(("resistor.over-power",), OVERDRAWN, where.loads_it),
    Link(SLIPS, ("signal.no-plate-load", *UNBIASED), where.of_the_tube),
    Link(SLIPS, ("signal.follower-overloaded",), where.loads_its_output),
    Link(SLIPS, (*UNBIASED, *HEATER_VOLTS, "grid.positive-while-cold"), where.drives),
    Link(("resistor.without-effect",), HEATER_VOLTS, where.lifts_it),
    Link(
        ("resistor.without-effect",),
        ("signal.motor-boating", "supply.first-capacitor-too-large"),
        where.anywhere,
    ),
    Link(("resistor.without-effect",), ("grid.no-stopper",), where.of_the_tube),
    Link(("capacitor.unlikely-value",), ("capacitor.reversed",), where.same_part, raises=True),
    Link(
        ("capacitor.unlikely-value",),
        ("heater.lift-unbypassed", "heater.reference-too-weak"),
        where.lifts_through,
    ),
    Link(
        ("capacitor.unlikely-value",),
        ("signal.motor-boating", "supply.choke-below-critical"),
        where.anywhere,
    ),
    Link(("capacitor.unlikely-value",), ("capacitor.no-room-for-swing",), where.same_part),
    Link(("grid.positive",), HEATER_VOLTS, where.same_tube_and_state),
    Link((EXCHANGED,), RATED_SCREEN, where.same_tube),
    Link((EXCHANGED,), ("resistor.unlikely-value",), where.on_the_tube),
    Link(("heater.filament-tied-at-end",), ("capacitor.reversed",), where.anywhere),
    Link(("capacitor.unlikely-value",), ("supply.no-bleeder",), where.first_the_same, raises=True),
    Link(("supply.first-capacitor-too-large",), ("supply.rectifier-overload",), where.same_tube),
    Link(("supply.rectifier-overload",), ("supply.rectifier-overload",), where.less_said),
    Link(("mains.shorted",), ON_MAINS, where.anywhere, raises=True),
    Link(
        ("mains.live-chassis", "mains.unfit-part"),
        ("touch.live-terminal",),
        where.same_part,
        raises=True,
    ),
    Link(
        ("mains.unfit-part",),
        (
            *("output.open-secondary", "output.speaker-overload"),
            *("supply.lamp-over-rating", "supply.coil-overload"),
        ),
        where.same_part,
    ),
    Link(("mains.unfit-part",), ("heater.wrong-voltage", *STRAINED, *UNREFERRED), where.same_tube),
    Link(("mains.unfit-part",), ("supply.sources-opposed",), where.same_part),
    Link(
        ("mains.on-secondary",), (*OVERFED, "supply.primary-voltage"), where.anywhere, raises=True
    ),
    Link(
        ("mains.capacitor-class",),
        ("capacitor.reversed", "capacitor.over-voltage", "capacitor.little-margin"),
        where.same_part,
        raises=True,
    ),
    Link(("mains.polarity-switch",), ("mains.capacitor-class",), where.same_part),
    Link(("heater.two-references",), ("supply.winding-shorted",), where.same_heater_line),
    Link(("supply.winding-shorted",), ("drawing.shorted-part",), where.on_that_winding),
    Link(("touch.live-terminal",), ("output.floating-secondary",), where.same_part, raises=True),
    Link((*HEAVY, *OVERLOADS, *UNBIASED), ("supply.fuse-too-small",), where.anywhere),
    Link(("supply.primary-voltage",), WRONG_VOLTS, where.anywhere, raises=True),
    Link(("supply.windings-opposed",), ("supply.primary-voltage",), where.same_part),
    Link(("supply.winding-shorted", "supply.windings-opposed"), CURRENTS, where.anywhere),
    Link(("heater.rectifier-filament-grounded",), CURRENTS, where.anywhere),
    Link(("heater.shares-rectifier-filament", "supply.half-not-wired"), CURRENTS, where.anywhere),
    Link((*UNBIASED, *OVERLOADS), CURRENTS, where.anywhere),
    Link(("supply.regulator-current", "supply.rectifier-overload"), CURRENTS, where.anywhere),
    Link((*SLIPS, "drawing.shorted-part"), CURRENTS, where.anywhere),
    Link(("resistor.over-power",), CURRENTS, where.loads_it),
    Link(("supply.coil-overload",), CURRENTS, where.anywhere),
    Link(
        ("output.plate-and-screen-exchanged",),
        (*OVERLOADS, *RATED_SCREEN, *SCREENS, "output.screen-above-plate"),
        where.same_tube,
    ),
    Link(("output.plate-and-screen-exchanged",), DRIVELESS, where.same_tube),
    Link(("output.plate-and-screen-exchanged",), BURNT, where.near_the_tube, raises=True),
    Link(
        ("output.supply-on-primary-end", "output.winding-shorted", "output.one-phase"),
        (*CORES, "output.wrong-plate-load", "output.wrong-load", "output.taps-swapped"),
        where.first_the_same,
    ),
    Link(("output.winding-shorted", "output.one-phase"), DRIVELESS, where.anywhere),
    Link(("grid.leak-on-heater-line",), (*UNBIASED, *OVERLOADS, "tube.cut-off"), where.same_tube),
    Link(("grid.leak-on-heater-line",), HEATER_VOLTS, where.anywhere),
    Link(
        ("grid.leak-on-heater-line", "output.plate-and-screen-exchanged"),
        ("intent.not-met",),
        where.anywhere,
    ),
    Link((*DEAD, EXCHANGED, *SLIPS, "drawing.incomplete"), DRIVELESS, where.anywhere),
    Link(("grid.no-return",), ("signal.stage-leads-nowhere",), where.with_nothing_wired),
    Link(("grid.no-return",), ("signal.stage-undriven",), where.same_tube),
    Link(("grid.no-return",), ("signal.leads-nowhere",), where.anywhere),
    Link(("signal.leads-nowhere",), ("signal.stage-undriven",), where.anywhere),
    Link(("signal.stage-undriven",), ("signal.stage-leads-nowhere",), where.anywhere),
    Link(
        (
            *(
                "drawing.wiper-unwired",
                "drawing.single-connection",
                "signal.control-wired-backwards",
            ),
            *("signal.tip-open", "signal.grid-bypassed", "signal.output-cathode-bypassed"),
            *("signal.output-bypassed", "signal.cross-coupled-to-itself"),
        ),
        UNDRIVEN,
        where.anywhere,
    ),
    Link(("signal.output-bypassed",), ("signal.no-plate-load",), where.same_tube),
    Link(
        (
            *UNBIASED,
            *DEAD,
            *SLIPS,
            EXCHANGED,
            "tube.cut-off",
            "signal.output-bypassed",
            "grid.no-return",
        ),
        ("tube.idles-at-an-end",),
        where.same_tube,
    ),
    Link(
        ("supply.primary-voltage", "drawing.incomplete", "drawing.shorted-part"),
        ("tube.idles-at-an-end",),
        where.anywhere,
    ),
    Link(SLIPS, ("tube.idles-at-an-end",), where.of_the_tube),
    Link(("grid.leak-on-heater-line",), ("tube.idles-at-an-end",), where.same_tube),
    Link(
        ("supply.regulators-paralleled",),
        ("supply.regulator-current", "supply.regulator-dark"),
        where.same_tube,
    ),
    Link(
        ("tube.screen-and-suppressor-exchanged",),
        (*UNBIASED, *STUCK, *DEAD, "tube.suppressor-floating", "tube.screen-starved"),
        where.same_tube,
    ),
    Link(("tube.plate-and-screen-exchanged",), ("tube.idles-at-an-end",), where.same_tube),
    Link(("signal.grid-bypassed",), ("grid.bias-too-slow",), where.same_tube),
    Link((EXCHANGED,), ("signal.grid-bypassed",), where.same_tube),
    Link(("supply.regulator-senses-input",), (*UNBIASED, *OVERLOADS), where.same_tube),
    Link(
        ("tube.plate-and-screen-exchanged",),
        ("signal.output-bypassed", "signal.stage-leads-nowhere"),
        where.same_tube,
    ),
)


def fold(circuit: Circuit, findings: Sequence[Finding]) -> list[Finding]:
    """The findings without those that follow from another one; causes name what they explain."""
    causes: dict[int, tuple[int, Link]] = {}
    for i, effect in enumerate(findings):
        for j, cause in enumerate(findings):
            link = _link(circuit, cause, effect) if j != i and _root(causes, j) != i else None
            if link is not None:
                causes[i] = (j, link)
                break
    told = list(findings)
    explained: dict[int, list[str]] = {}
    for i, (_, link) in causes.items():
        effect, top = findings[i], _root(causes, i)
        explained.setdefault(top, []).append(f"{effect.rule} at {', '.join(effect.at)}")
        if link.raises:
            told[top] = _raised(told[top], effect.level)
    return [_telling(f, explained.get(i, [])) for i, f in enumerate(told) if i not in causes]


def _root(causes: dict[int, tuple[int, Link]], i: int) -> int:
    """The finding at the end of a chain of causes."""
    while i in causes:
        i = causes[i][0]
    return i


def _link(circuit: Circuit, cause: Finding, effect: Finding) -> Link | None:
    if cause.accepted is not None or effect.accepted is not None:
        return None
    if cause.only_edge and not effect.only_edge:
        return None  # what is merely possible explains nothing that is so
    for link in LINKS:
        if cause.rule in link.causes and effect.rule in link.effects:
            graver = LEVELS.index(effect.level) > LEVELS.index(cause.level)
            allowed = not graver or (link.raises and cause.level != "advice")
            if allowed and link.holds(circuit, cause, effect):
                return link
    return None


def _raised(finding: Finding, level: str) -> Finding:
    return max(finding, replace(finding, level=level), key=lambda f: LEVELS.index(f.level))


def _telling(finding: Finding, effects: list[str]) -> Finding:
    if not effects:
        return finding
    return replace(finding, evidence={**finding.evidence, "explains": "; ".join(effects)})
