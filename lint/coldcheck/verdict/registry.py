"""Every module of rules, family by family, listed by hand; a test compares it with the folder."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.rules.capacitor import back_bias as capacitor_back_bias
from coldcheck.rules.capacitor import cathode as capacitor_cathode
from coldcheck.rules.capacitor import detector as capacitor_detector
from coldcheck.rules.capacitor import margin as capacitor_margin
from coldcheck.rules.capacitor import output as capacitor_output
from coldcheck.rules.capacitor import over_voltage as capacitor_over_voltage
from coldcheck.rules.capacitor import polarity as capacitor_polarity
from coldcheck.rules.capacitor import ripple as capacitor_ripple
from coldcheck.rules.capacitor import series as capacitor_series
from coldcheck.rules.capacitor import slips as capacitor_slips
from coldcheck.rules.drawing import incomplete as drawing_incomplete
from coldcheck.rules.drawing import open_end as drawing_open_end
from coldcheck.rules.drawing import reading as drawing_reading
from coldcheck.rules.drawing import shorts as drawing_shorts
from coldcheck.rules.drawing import twins as drawing_twins
from coldcheck.rules.drawing import values as drawing_values
from coldcheck.rules.drawing import wiper as drawing_wiper
from coldcheck.rules.grid import bias as grid_bias
from coldcheck.rules.grid import bias_unused as grid_bias_unused
from coldcheck.rules.grid import cold as grid_cold
from coldcheck.rules.grid import control as grid_control
from coldcheck.rules.grid import heater_line as grid_heater_line
from coldcheck.rules.grid import leakage as grid_leakage
from coldcheck.rules.grid import positive as grid_positive
from coldcheck.rules.grid import returns as grid_returns
from coldcheck.rules.grid import unbiased as grid_unbiased
from coldcheck.rules.grid import wiring as grid_wiring
from coldcheck.rules.heater import anchors as heater_anchors
from coldcheck.rules.heater import barretter as heater_barretter
from coldcheck.rules.heater import common_lift as heater_common_lift
from coldcheck.rules.heater import filament as heater_filament
from coldcheck.rules.heater import halves as heater_halves
from coldcheck.rules.heater import lamp as heater_lamp
from coldcheck.rules.heater import left_lit as heater_left_lit
from coldcheck.rules.heater import lift_rail as heater_lift_rail
from coldcheck.rules.heater import rectifier as heater_rectifier
from coldcheck.rules.heater import reference as heater_reference
from coldcheck.rules.heater import stress as heater_stress
from coldcheck.rules.heater import string as heater_string
from coldcheck.rules.heater import supply as heater_supply
from coldcheck.rules.intent import expectations as intent_expectations
from coldcheck.rules.mains import across as mains_across
from coldcheck.rules.mains import capacitors as mains_capacitors
from coldcheck.rules.mains import fuse as mains_fuse
from coldcheck.rules.mains import fuse_and_earth as mains_fuse_and_earth
from coldcheck.rules.mains import idle_switch as mains_idle_switch
from coldcheck.rules.mains import lift as mains_lift
from coldcheck.rules.mains import return_path as mains_return_path
from coldcheck.rules.mains import shorted as mains_shorted
from coldcheck.rules.mains import switch as mains_switch
from coldcheck.rules.mains import switched_lead as mains_switched_lead
from coldcheck.rules.mains import touch as mains_touch
from coldcheck.rules.output import core as output_core
from coldcheck.rules.output import drive as output_drive
from coldcheck.rules.output import hum as output_hum
from coldcheck.rules.output import jack as output_jack
from coldcheck.rules.output import load as output_load
from coldcheck.rules.output import mute as output_mute
from coldcheck.rules.output import mute_point as output_mute_point
from coldcheck.rules.output import phase as output_phase
from coldcheck.rules.output import screen as output_screen
from coldcheck.rules.output import secondary as output_secondary
from coldcheck.rules.output import speaker as output_speaker
from coldcheck.rules.output import taps as output_taps
from coldcheck.rules.output import windings as output_windings
from coldcheck.rules.resistor import controls as resistor_controls
from coldcheck.rules.resistor import effect as resistor_effect
from coldcheck.rules.resistor import ranges as resistor_ranges
from coldcheck.rules.resistor import ratings as resistor_ratings
from coldcheck.rules.resistor import value as resistor_value
from coldcheck.rules.signal import channels as signal_channels
from coldcheck.rules.signal import control_foot as signal_control_foot
from coldcheck.rules.signal import control_line as signal_control_line
from coldcheck.rules.signal import control_source as signal_control_source
from coldcheck.rules.signal import converter as signal_converter
from coldcheck.rules.signal import coupling as signal_coupling
from coldcheck.rules.signal import cross_coupling as signal_cross_coupling
from coldcheck.rules.signal import decks as signal_decks
from coldcheck.rules.signal import detector as signal_detector
from coldcheck.rules.signal import direct as signal_direct
from coldcheck.rules.signal import discriminator as signal_discriminator
from coldcheck.rules.signal import divider as signal_divider
from coldcheck.rules.signal import equaliser as signal_equaliser
from coldcheck.rules.signal import feedback as signal_feedback
from coldcheck.rules.signal import feedback_corner as signal_feedback_corner
from coldcheck.rules.signal import feedback_lost as signal_feedback_lost
from coldcheck.rules.signal import feedback_strong as signal_feedback_strong
from coldcheck.rules.signal import fm as signal_fm
from coldcheck.rules.signal import follower as signal_follower
from coldcheck.rules.signal import held as signal_held
from coldcheck.rules.signal import input_shunt as signal_input_shunt
from coldcheck.rules.signal import jack as signal_jack
from coldcheck.rules.signal import jack_contact as signal_jack_contact
from coldcheck.rules.signal import meter_bridge as signal_meter_bridge
from coldcheck.rules.signal import meter_return as signal_meter_return
from coldcheck.rules.signal import multiples as signal_multiples
from coldcheck.rules.signal import oscillator as signal_oscillator
from coldcheck.rules.signal import parallel as signal_parallel
from coldcheck.rules.signal import paths as signal_paths
from coldcheck.rules.signal import photocell as signal_photocell
from coldcheck.rules.signal import polarity as signal_polarity
from coldcheck.rules.signal import record_curve as signal_record_curve
from coldcheck.rules.signal import returned as signal_returned
from coldcheck.rules.signal import screen as signal_screen
from coldcheck.rules.signal import second_grid as signal_second_grid
from coldcheck.rules.signal import selector as signal_selector
from coldcheck.rules.signal import source as signal_source
from coldcheck.rules.signal import splitter as signal_splitter
from coldcheck.rules.signal import springs as signal_springs
from coldcheck.rules.signal import squelch as signal_squelch
from coldcheck.rules.signal import supply as signal_supply
from coldcheck.rules.signal import sustained as signal_sustained
from coldcheck.rules.signal import transmitter as signal_transmitter
from coldcheck.rules.signal import tuned as signal_tuned
from coldcheck.rules.signal import upper_grid as signal_upper_grid
from coldcheck.rules.supply import arresters as supply_arresters
from coldcheck.rules.supply import battery as supply_battery
from coldcheck.rules.supply import bleeder as supply_bleeder
from coldcheck.rules.supply import charge as supply_charge
from coldcheck.rules.supply import clamps as supply_clamps
from coldcheck.rules.supply import coils as supply_coils
from coldcheck.rules.supply import current as supply_current
from coldcheck.rules.supply import cut_off as supply_cut_off
from coldcheck.rules.supply import diode_current as supply_diode_current
from coldcheck.rules.supply import divider as supply_divider
from coldcheck.rules.supply import fighting as supply_fighting
from coldcheck.rules.supply import filter_cap as supply_filter_cap
from coldcheck.rules.supply import fuses as supply_fuses
from coldcheck.rules.supply import gas as supply_gas
from coldcheck.rules.supply import half as supply_half
from coldcheck.rules.supply import insulation as supply_insulation
from coldcheck.rules.supply import interrupted as supply_interrupted
from coldcheck.rules.supply import inverse as supply_inverse
from coldcheck.rules.supply import jacks as supply_jacks
from coldcheck.rules.supply import lamps as supply_lamps
from coldcheck.rules.supply import meters as supply_meters
from coldcheck.rules.supply import misplaced as supply_misplaced
from coldcheck.rules.supply import negative as supply_negative
from coldcheck.rules.supply import pass_tubes as supply_pass_tubes
from coldcheck.rules.supply import plate_supply as supply_plate_supply
from coldcheck.rules.supply import primary as supply_primary
from coldcheck.rules.supply import protection as supply_protection
from coldcheck.rules.supply import rectifier_ratings as supply_rectifier_ratings
from coldcheck.rules.supply import regulator as supply_regulator
from coldcheck.rules.supply import regulator_start as supply_regulator_start
from coldcheck.rules.supply import relays as supply_relays
from coldcheck.rules.supply import reservoir as supply_reservoir
from coldcheck.rules.supply import reservoir_side as supply_reservoir_side
from coldcheck.rules.supply import return_path as supply_return_path
from coldcheck.rules.supply import shorts as supply_shorts
from coldcheck.rules.supply import source_current as supply_source_current
from coldcheck.rules.supply import starved as supply_starved
from coldcheck.rules.supply import switch as supply_switch
from coldcheck.rules.supply import unfed as supply_unfed
from coldcheck.rules.supply import vibrators as supply_vibrators
from coldcheck.rules.supply import winding_ends as supply_winding_ends
from coldcheck.rules.supply import windings as supply_windings
from coldcheck.rules.touch import terminal as touch_terminal
from coldcheck.rules.transistor import backwards as transistor_backwards
from coldcheck.rules.transistor import cut_off as transistor_cut_off
from coldcheck.rules.transistor import gates as transistor_gates
from coldcheck.rules.transistor import leads as transistor_leads
from coldcheck.rules.transistor import ratings as transistor_ratings
from coldcheck.rules.transistor import regulators as transistor_regulators
from coldcheck.rules.transistor import thyristors as transistor_thyristors
from coldcheck.rules.tube import cut_off as tube_cut_off
from coldcheck.rules.tube import exchanged as tube_exchanged
from coldcheck.rules.tube import eye as tube_eye
from coldcheck.rules.tube import guard as tube_guard
from coldcheck.rules.tube import idle as tube_idle
from coldcheck.rules.tube import idle_point as tube_idle_point
from coldcheck.rules.tube import paths as tube_paths
from coldcheck.rules.tube import pins as tube_pins
from coldcheck.rules.tube import ratings as tube_ratings
from coldcheck.rules.tube import screen as tube_screen
from coldcheck.rules.tube import shared as tube_shared
from coldcheck.rules.tube import stack as tube_stack
from coldcheck.rules.tube import starved as tube_starved
from coldcheck.rules.tube import suppressor as tube_suppressor
from coldcheck.rules.tube import thyratron as tube_thyratron
from coldcheck.rules.tube import unused as tube_unused

if TYPE_CHECKING:
    from coldcheck.judge.rule import Rule

MODULES = (
    heater_anchors,
    heater_rectifier,
    heater_stress,
    heater_common_lift,
    heater_lift_rail,
    heater_reference,
    heater_supply,
    heater_string,
    heater_barretter,
    heater_filament,
    heater_halves,
    heater_lamp,
    heater_left_lit,
    supply_rectifier_ratings,
    supply_inverse,
    supply_plate_supply,
    supply_charge,
    supply_clamps,
    supply_return_path,
    supply_current,
    supply_cut_off,
    supply_coils,
    supply_diode_current,
    supply_divider,
    supply_regulator,
    supply_regulator_start,
    supply_shorts,
    supply_interrupted,
    supply_negative,
    supply_pass_tubes,
    supply_gas,
    supply_protection,
    supply_vibrators,
    supply_windings,
    supply_winding_ends,
    supply_primary,
    supply_half,
    supply_misplaced,
    supply_insulation,
    supply_lamps,
    supply_meters,
    supply_arresters,
    supply_relays,
    supply_unfed,
    supply_filter_cap,
    supply_jacks,
    supply_source_current,
    supply_starved,
    supply_switch,
    supply_fighting,
    supply_battery,
    supply_bleeder,
    supply_fuses,
    supply_reservoir,
    supply_reservoir_side,
    capacitor_polarity,
    capacitor_detector,
    capacitor_over_voltage,
    capacitor_margin,
    capacitor_ripple,
    capacitor_series,
    capacitor_output,
    capacitor_back_bias,
    capacitor_cathode,
    capacitor_slips,
    resistor_ratings,
    resistor_controls,
    resistor_ranges,
    resistor_value,
    resistor_effect,
    grid_returns,
    grid_positive,
    grid_cold,
    grid_bias,
    grid_leakage,
    grid_unbiased,
    grid_bias_unused,
    grid_wiring,
    grid_control,
    grid_heater_line,
    transistor_leads,
    transistor_cut_off,
    transistor_backwards,
    transistor_gates,
    transistor_ratings,
    transistor_regulators,
    transistor_thyristors,
    tube_paths,
    tube_ratings,
    tube_screen,
    tube_shared,
    tube_idle,
    tube_cut_off,
    tube_idle_point,
    tube_stack,
    tube_guard,
    tube_unused,
    tube_pins,
    tube_exchanged,
    tube_starved,
    tube_suppressor,
    tube_eye,
    tube_thyratron,
    output_secondary,
    output_load,
    output_mute,
    output_mute_point,
    output_screen,
    output_taps,
    output_phase,
    output_windings,
    output_core,
    output_hum,
    output_jack,
    output_drive,
    output_speaker,
    signal_channels,
    signal_control_foot,
    signal_control_line,
    signal_control_source,
    signal_converter,
    signal_coupling,
    signal_equaliser,
    signal_record_curve,
    signal_feedback,
    signal_feedback_corner,
    signal_feedback_lost,
    signal_feedback_strong,
    signal_fm,
    signal_follower,
    signal_jack,
    signal_jack_contact,
    signal_meter_return,
    signal_meter_bridge,
    signal_parallel,
    signal_paths,
    signal_returned,
    signal_screen,
    signal_second_grid,
    signal_selector,
    signal_upper_grid,
    signal_source,
    signal_detector,
    signal_direct,
    signal_discriminator,
    signal_tuned,
    signal_splitter,
    signal_held,
    signal_input_shunt,
    signal_divider,
    signal_multiples,
    signal_oscillator,
    signal_cross_coupling,
    signal_decks,
    signal_photocell,
    signal_polarity,
    signal_squelch,
    signal_supply,
    signal_sustained,
    signal_springs,
    signal_transmitter,
    mains_fuse_and_earth,
    mains_idle_switch,
    mains_lift,
    mains_fuse,
    mains_touch,
    mains_capacitors,
    mains_switch,
    mains_return_path,
    mains_shorted,
    mains_across,
    mains_switched_lead,
    touch_terminal,
    drawing_reading,
    drawing_incomplete,
    drawing_shorts,
    drawing_values,
    drawing_wiper,
    drawing_open_end,
    drawing_twins,
    intent_expectations,
)

RULES: tuple[Rule, ...] = tuple(r for module in MODULES for r in module.RULES)


def rule_by_id(identifier: str) -> Rule:
    """Return the rule; raises KeyError for an unknown identifier."""
    return {r.id: r for r in RULES}[identifier]
