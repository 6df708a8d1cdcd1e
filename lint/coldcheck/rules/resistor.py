"""Resistor rules: power and voltage."""

from __future__ import annotations

from coldcheck.rules.model import Rule

RULES: tuple[Rule, ...] = ()
