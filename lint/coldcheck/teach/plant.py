"""One planted mistake."""

from __future__ import annotations

from coldcheck.records import dataclass


@dataclass(frozen=True, slots=True)
class Planted:
    """A drawing with one mistake in it.

    at
        What was spoilt: parts, leads or points, the main one first.
    text
        The drawing with the mistake.
    what
        The mistake in one sentence.
    rules
        The rules of which one has to speak.
    near
        Further places at which the finding may stand: the tube on the spoilt lead, say.
    mark
        Which plant it is, where the main place alone does not say.
    """

    at: tuple[str, ...]
    text: str
    what: str
    rules: tuple[str, ...]
    near: tuple[str, ...] = ()
    mark: str = ""

    @property
    def place(self) -> str:
        """What tells this plant from the others of its kind in its drawing."""
        return self.mark or self.at[0]

    @property
    def places(self) -> frozenset[str]:
        """All places at which a finding counts as found in the right place."""
        return frozenset((*self.at, *self.near))

    def named_by(self, rule: str) -> bool:
        """Whether a finding of this rule names the mistake; ``*`` stands for any rule."""
        return rule in self.rules or "*" in self.rules

    def found_by(self, rule: str, at: tuple[str, ...]) -> bool:
        """Whether a finding of this rule at these places is the one that was planted."""
        here = {name for place in at for name in (place, place.partition(".")[0])}
        return self.named_by(rule) and (not at or bool(here & self.places))
