"""Supply rules: rectifiers, their first capacitor, and the charge left after switch-off."""

from __future__ import annotations

from coldcheck.rules.model import Rule

RULES: tuple[Rule, ...] = ()
