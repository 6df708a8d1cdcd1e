"""Mains rules: fuse, protective earth, live chassis."""

from __future__ import annotations

from coldcheck.rules.model import Rule

RULES: tuple[Rule, ...] = ()
