"""Intent rules: what the designer said against what the circuit does."""

from __future__ import annotations

from coldcheck.rules.model import Rule

RULES: tuple[Rule, ...] = ()
