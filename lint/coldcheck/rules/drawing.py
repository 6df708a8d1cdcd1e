"""Drawing rules: what could not be read, and wires that end nowhere."""

from __future__ import annotations

from coldcheck.rules.model import Rule

RULES: tuple[Rule, ...] = ()
