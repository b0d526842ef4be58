"""How a live picture lies on the shot's reference, and which way the camera has to go. No threads.

The reference is brought to the live picture's size; the fit is the one that the rig watch uses, so
figures of the two agree. What is off by ``shift`` in the picture is put right by moving the camera
the same way: a picture too far right wants the camera panned to the right.
"""

from dataclasses import asdict, dataclass, replace
from math import hypot, radians
from typing import Any

import cv2
import numpy as np

from standclear.imaging.linear import Pixels
from standclear.imaging.registration import Reference, Registration, reference_from, register
from standclear.imaging.texture import log_light, pyramid

WITHIN_PX = 0.3
"""Root mean square distance, over the picture, at which the old place counts as found again."""

WIDEST = 1280
SAME_SHAPE = 0.01
LEAST_AGREEING = 0.25
SCALE_PERCENT = 0.05
UNSURE_PX = 0.15
"""A standard deviation above this (in pixels of the original) leaves 0.3 px a guess."""


@dataclass(frozen=True, slots=True)
class Seat:
    """Where the live picture lies, in pixels of the original; x to the right, y down, a positive
    turn clockwise on the screen. ``known`` is False when it cannot be told; ``says`` why."""

    shift_x_px: float = 0.0
    shift_y_px: float = 0.0
    turn_deg: float = 0.0
    scale_percent: float = 0.0
    off_px: float = 0.0
    within: bool = False
    known: bool = False
    says: str = ""

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {
            name: round(value, 4) if isinstance(value, float) else value
            for name, value in asdict(self).items()
        }


class Seating:
    """One reference, ready for live pictures of any size. Used by one thread."""

    def __init__(self, pixels: Pixels, width: int, height: int) -> None:
        self._pixels = pixels
        self._size = (width, height)
        self._reference: Reference | None = None

    def measure(self, live: Pixels) -> Seat:
        """Where ``live`` (8-bit h×w×3) lies on the reference."""
        live = _at_most(live, WIDEST)
        height, width = live.shape[:2]
        if abs((width / height) / (self._size[0] / self._size[1]) - 1) > SAME_SHAPE:
            return Seat(says="The live picture shows another part of the set than the exposures.")
        if min(height, width) < 64:
            return Seat(says="The live picture is too small to be measured.")
        reference = self._at(width, height)
        found = register(reference, pyramid(log_light(live)))
        return judged(found, self._size[0] / width, self._size)

    def _at(self, width: int, height: int) -> Reference:
        if self._reference is None or self._reference.shape != (height, width):
            small = cv2.resize(self._pixels, (width, height), interpolation=cv2.INTER_AREA)
            top = np.iinfo(self._pixels.dtype).max
            eight = np.asarray(small if top == 255 else small // 257, np.uint8)
            self._reference = reference_from(pyramid(log_light(eight)))
        return self._reference


def judged(found: Registration, scale: float, size: tuple[int, int]) -> Seat:
    """The registration in pixels of the original, which has ``scale`` of them per live pixel."""
    if found.covariance is None or found.agreeing < LEAST_AGREEING:
        return Seat(says="Too little of the live picture agrees with the reference. Is a hand in?")
    if found.shift_sd * scale > UNSURE_PX:
        return Seat(says="The background is too plain to seat the camera by.")
    motion = found.motion
    x, y = float(motion.shift_x) * scale, float(motion.shift_y) * scale
    off = hypot(x, y, hypot(motion.turn, motion.log_scale) * hypot(*size) / 12**0.5)
    percent = 100 * (motion.scale - 1)
    seat = Seat(x, y, float(motion.turn_deg), float(percent), off, off <= WITHIN_PX, True)
    return replace(seat, says=_says(seat, size[0]))


def _says(seat: Seat, width: int) -> str:
    off, x, y = seat.off_px, seat.shift_x_px, seat.shift_y_px
    turn, percent = seat.turn_deg, seat.scale_percent
    if seat.within:
        return f"The picture lies on the reference, within {off:.2f} px."
    ways = []
    if abs(x) > WITHIN_PX / 3:
        ways.append(f"pan {'right' if x > 0 else 'left'} by {abs(x):.1f} px")
    if abs(y) > WITHIN_PX / 3:
        ways.append(f"tilt {'down' if y > 0 else 'up'} by {abs(y):.1f} px")
    if abs(radians(turn)) * width / 2 > WITHIN_PX / 3:
        ways.append(f"roll {'clockwise' if turn > 0 else 'anticlockwise'} by {abs(turn):.2f}°")
    if abs(percent) > SCALE_PERCENT:
        ways.append(f"move {'back' if percent > 0 else 'closer'} ({percent:+.2f} % in size)")
    text = ", ".join(ways) or f"a little more: {off:.2f} px are left"
    return text[0].upper() + text[1:] + "."


def _at_most(live: Pixels, width: int) -> Pixels:
    if live.shape[1] <= width:
        return live
    size = (width, round(live.shape[0] * width / live.shape[1]))
    return np.asarray(cv2.resize(live, size, interpolation=cv2.INTER_AREA), np.uint8)
