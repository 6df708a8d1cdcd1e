"""Heater and filament rules: reference, stress, windings, strings."""

from __future__ import annotations

from coldcheck.rules.model import Rule

RULES: tuple[Rule, ...] = ()
