"""What flows through somebody who touches a terminal: the network of IEC 60990 (from memory).

Figure 4 there, for perception and reaction: 1500 ohm with 0.22 uF across it and 500 ohm in series
stand for a body, 2 kohm to direct current; what is read across the 500 ohm goes through 10 kohm and
22 nF, since a body minds high frequencies less, and is divided by 500 ohm.
"""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

import numpy as np

from coldcheck.circuit.model import GROUND
from coldcheck.judge.limits import TOUCH_A
from coldcheck.judge.threshold import Threshold
from coldcheck.records import dataclass
from coldcheck.sources.register import Citation

if TYPE_CHECKING:
    from coldcheck.solve.solution import Wave

SKIN_OHM, SKIN_F, BODY_OHM = 1500.0, 0.22e-6, 500.0
WEIGHING_S = 10e3 * 22e-9
BODY_AND_SKIN_OHM = SKIN_OHM + BODY_OHM
"""What the network is to direct current, ohms."""

FELT_DC = Threshold(
    "touch current, DC", 2e-3, "A", Citation("iec-62368-1", "table 4, ES1: 2 mA DC")
)
HARMFUL_A = Threshold(
    "touch current that may harm, rms", 5e-3, "A", Citation("iec-62368-1", "table 4, ES2: 5 mA rms")
)
HARMFUL_DC = Threshold(
    "touch current that may harm, DC", 25e-3, "A", Citation("iec-62368-1", "table 4, ES2: 25 mA DC")
)


@dataclass(frozen=True, slots=True)
class Touch:
    """Amperes through somebody who touches two points: direct, and weighted rms of what alternates.

    ``to`` is what is touched besides ``name``.
    """

    name: str
    dc: float
    ac: float
    to: str = GROUND

    @property
    def harmful(self) -> bool:
        """Beyond what a healthy adult lets go of (energy class ES2)."""
        return abs(self.dc) > HARMFUL_DC.value or self.ac > HARMFUL_A.value

    @property
    def size(self) -> float:
        """Times what may be touched, by the worse of both."""
        return max(abs(self.dc) / FELT_DC.value, self.ac / TOUCH_A.value)

    @property
    def felt(self) -> bool:
        """Beyond what may be touched as it is (energy class ES1)."""
        return self.size > 1


def from_mains(name: str, volts: float, ohms: float) -> Touch:
    """At metal that so many ohms join to the mains (volts rms), to earth; the plug as it may sit.

    At 50 and 60 Hz the network is 2 kohm but for a hundredth.
    """
    return Touch(name, 0.0, volts / (ohms + BODY_AND_SKIN_OHM), "earth")


def touch_current(name: str, wave: Wave, hertz: float) -> Touch:
    """What flows with the network on a terminal that then has such a voltage on it.

    ``wave`` is one cycle of ``hertz``, solved with 2 kohm there. Each harmonic is taken over the
    network's own impedance, which is the lower one: an upper bound.
    """
    parts = np.fft.rfft(wave.samples) / len(wave.samples)
    omega = 2j * pi * hertz * np.arange(1, len(parts))
    network = BODY_OHM + SKIN_OHM / (1 + omega * SKIN_OHM * SKIN_F)
    felt = np.abs(parts[1:] / network / (1 + omega * WEIGHING_S))
    return Touch(name, wave.dc / BODY_AND_SKIN_OHM, float(np.sqrt(2 * (felt**2).sum())))
