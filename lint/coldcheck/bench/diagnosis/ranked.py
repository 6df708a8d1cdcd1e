"""What a diagnosis says: a suspect's standing, a reading under it, a point to measure next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from coldcheck.records import dataclass

if TYPE_CHECKING:
    from coldcheck.bench.diagnosis.channels import Channel
    from coldcheck.bench.diagnosis.suspects import Suspect

RARE, SELDOM = 3.090, 1.645
"""Deviations of a normal distribution beyond which lie one in a thousand, and one in twenty."""

FITS, AGAINST = 2.0, 2.5
"""Standard deviations up to which a reading fits a suspect, and from which it contradicts it."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """A reading under a suspect: what was expected, and by how many deviations it is off.

    ``nearer`` is whether that is nearer to the reading than what a sound circuit gives.
    """

    point: str
    kind: str
    value: float
    expected: float
    off: float
    off_if_good: float
    nearer: bool = True

    @property
    def supports(self) -> bool:
        """It fits here and not a sound circuit; what leaves a reading open fits anything."""
        return self.nearer and abs(self.off) <= FITS and abs(self.off_if_good) > FITS

    @property
    def contradicts(self) -> bool:
        """It is too far from what the suspect would give."""
        return abs(self.off) > AGAINST


@dataclass(frozen=True, slots=True)
class Ranked:
    """A suspect after the readings.

    share
        Of the belief, among all suspects.
    likelihood
        Of the readings, over that of the suspect they speak for most: without its weight.
    size
        Its likeliest size.
    misfit
        Mean square of the independent deviations that all readings leave: about 1 where it
        explains them.
    readings
        How many that is the mean of.
    toward
        The share of the way from there to the next size at which it is likeliest.
    model
        The place of its likeliest model.
    """

    suspect: Suspect
    share: float
    likelihood: float
    size: float
    misfit: float
    model: int
    readings: int = 1
    toward: float = 0.0

    @property
    def refuted(self) -> bool:
        """Whether readings this far off come about once in a thousand if it is this one."""
        return self.misfit * self.readings > chance(self.readings, RARE)

    @property
    def loose(self) -> bool:
        """Whether they come about once in twenty."""
        return self.misfit * self.readings > chance(self.readings, SELDOM)

    @property
    def said(self) -> str:
        """In words."""
        return self.suspect.said(self.size)


@dataclass(frozen=True, slots=True)
class Next:
    """A point to measure next, and how much it is expected to tell (bits)."""

    channel: Channel
    bits: float
    telling: tuple[tuple[Suspect, float, float], ...]
    """The leading suspects, what each would show there, and give or take how much."""


def chance(count: int, deviations: float) -> float:
    """The sum of so many squared deviations that chance exceeds as seldom as ``deviations``.

    Wilson and Hilferty, "The distribution of chi-square", 1931 (from memory).
    """
    width = 2 / (9 * max(count, 1))
    return float(max(count, 1) * (1 - width + deviations * width**0.5) ** 3)
