"""The re-seat guide: leads a bumped camera back until the live picture lies on the reference.

The reference is a still, the live picture smaller and rendered otherwise; both are brought to the
live picture's size, and figures are given in pixels of the still. One look costs some 50 ms at
1280 x 720. Pure: pictures in, a dict out.
"""

from typing import Any

import cv2
import numpy as np

from standclear.imaging.linear import Pixels
from standclear.imaging.registration import Registration, reference_from, register
from standclear.imaging.texture import log_light, pyramid

LIES_PX = 0.3
LIES_DEG = 0.02
LEAST_AGREEING = 0.2
SAME_SHAPE = 0.02


class ReseatGuide:
    """Holds a shot's reference at the live picture's size.

    ``reference``: codes (h, w, 3) of 8 or 16 bits, blue, green, red; ``live_size``: width and
    height of the live pictures; ``original_width`` of the still that the figures speak of.
    """

    def __init__(self, reference: Pixels, live_size: tuple[int, int], original_width: int) -> None:
        width, height = live_size
        shape = reference.shape[1] / reference.shape[0]
        self._fits = abs(shape / (width / height) - 1.0) < SAME_SHAPE
        self._size = live_size
        self._scale = original_width / width
        small = cv2.resize(reference, live_size, interpolation=cv2.INTER_AREA)
        self._reference = reference_from(pyramid(log_light(np.ascontiguousarray(small))))

    def look(self, live: Pixels) -> dict[str, Any]:
        """Where the live picture lies: ``state`` (``lies``, ``off``, ``cannot_tell``), the way it
        still has to go (``go_x_px`` to the right, ``go_y_px`` down, ``go_turn_deg`` clockwise),
        and a sentence."""
        if not self._fits or (live.shape[1], live.shape[0]) != self._size:
            return _unknown("The live picture has another shape than the reference.")
        found = register(self._reference, pyramid(log_light(live)))
        if found.covariance is None or found.agreeing < LEAST_AGREEING:
            return _unknown("The live picture does not look like the reference: go nearer to it.")
        return self._answer(found)

    def _answer(self, found: Registration) -> dict[str, Any]:
        motion = found.motion
        x, y = -motion.shift_x * self._scale, -motion.shift_y * self._scale
        turn = -motion.turn_deg
        lies = bool(np.hypot(x, y) <= LIES_PX and abs(turn) <= LIES_DEG)
        return {
            "state": "lies" if lies else "off",
            "go_x_px": round(x, 3),
            "go_y_px": round(y, 3),
            "go_turn_deg": round(turn, 4),
            "go_scale": round(1.0 / motion.scale, 6),
            "sd_px": round(found.shift_sd * self._scale, 4),
            "says": _says(x, y, turn) if not lies else "The picture lies on the reference.",
        }


def _says(x: float, y: float, turn: float) -> str:
    sideways = f"{abs(x):.1f} px {'right' if x > 0 else 'left'}"
    way = f"{sideways}, {abs(y):.1f} px {'down' if y > 0 else 'up'}"
    around = "clockwise" if turn > 0 else "anticlockwise"
    return f"The picture must go {way}, and turn {abs(turn):.2f}° {around}."


def _unknown(why: str) -> dict[str, Any]:
    return {"state": "cannot_tell", "says": why}
