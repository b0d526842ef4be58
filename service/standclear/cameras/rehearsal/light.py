"""Light and rig, exposure by exposure: which faults were ordered, and what they amount to.

All is a pure function of the orders and the exposure's number, so that a run repeats exactly.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standclear.cameras.rehearsal.geometry import RigShift
from standclear.cameras.rehearsal.orders import Orders

#: Seconds from the first row's readout to the last one's (a rolling shutter).
READOUT_S = 0.020


@dataclass(frozen=True, slots=True)
class Light:
    """Gains against the set's own light: at the left and the right edge, and along the rows.

    ``band`` is the beat's amplitude (fraction), ``band_phase`` in radians at the first row,
    ``band_cycles`` over the picture's height.
    """

    left: float = 1.0
    right: float = 1.0
    band: float = 0.0
    band_phase: float = 0.0
    band_cycles: float = 0.0

    @property
    def even(self) -> bool:
        """Whether one gain says it all."""
        return self.left == self.right and self.band == 0.0

    def times(self, gain: float) -> "Light":
        """The same, brighter or darker as a whole."""
        return Light(
            self.left * gain, self.right * gain, self.band, self.band_phase, self.band_cycles
        )

    def field(self, width: int, height: int) -> NDArray[np.float32]:
        """The gain at each pixel, H×W. From left to right it follows a smooth step."""
        t = (np.arange(width, dtype=np.float32) + 0.5) / width
        across = self.left + (self.right - self.left) * t * t * (3.0 - 2.0 * t)
        rows = (np.arange(height, dtype=np.float32) + 0.5) / height
        down = 1.0 + self.band * np.sin(self.band_phase + 2.0 * np.pi * self.band_cycles * rows)
        return np.asarray(across[None, :] * down[:, None], np.float32)


def dice(orders: Orders, what: int, number: int) -> np.random.Generator:
    """A generator of its own for each kind of chance and each exposure."""
    return np.random.default_rng([orders.seed, what, number])


def light_for(orders: Orders, number: int, shutter_s: float) -> Light:
    """The light at that exposure (from 1)."""
    gain = float((1.0 + orders.drift) ** (number - 1))
    if orders.flicker:
        gain *= max(0.05, 1.0 + orders.flicker * float(dice(orders, 1, number).standard_normal()))
    right = gain * (1.0 - orders.side_drop) if 0 < orders.side <= number else gain
    if not orders.band:
        return Light(gain, right)
    beat = 2.0 * orders.mains
    amplitude = orders.band * abs(math.sin(math.pi * beat * shutter_s))
    phase = float(dice(orders, 2, number).uniform(0.0, 2.0 * math.pi))
    return Light(gain, right, amplitude, phase, beat * READOUT_S)


def rig_for(orders: Orders, number: int) -> RigShift:
    """Where the camera stands at that exposure (from 1)."""
    x = y = turn = 0.0
    if orders.creep:
        x += 0.8 * orders.creep * (number - 1)
        y += 0.6 * orders.creep * (number - 1)
    if 0 < orders.nudge <= number:
        a = float(dice(orders, 3, 0).uniform(0.0, 2.0 * math.pi))
        x += orders.nudge_px * math.cos(a)
        y += orders.nudge_px * math.sin(a)
        turn += orders.nudge_deg
    return RigShift(x, y, turn)
