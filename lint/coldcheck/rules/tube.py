"""Tube rules: paths to plate, screen and cathode, and the ratings of the data sheet."""

from __future__ import annotations

from coldcheck.rules.model import Rule

RULES: tuple[Rule, ...] = ()
