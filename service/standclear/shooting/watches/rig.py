"""The rig watch: whether the camera still stands where it stood, and how it left.

A bump is a jump between two exposures; a creep is the same way gone in many small steps.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, inf

import numpy as np

from standclear.imaging.registration import Registration
from standclear.shooting.watches.thresholds import Thresholds
from standclear.shooting.watches.trend import DRIFT, biggest_jump, trend
from standclear.shooting.watches.verdict import (
    CANNOT_TELL,
    CLEAR,
    FLAGGED,
    Finding,
    cannot_tell,
)

SURE = 4.5
MISSED = 3.0
LEAST_AGREEING = 0.25
WINDOW = 50


@dataclass(frozen=True)
class RigPlace:
    """Where the camera looks against the reference, in pixels of the original and degrees.

    The standard deviations are infinite when the background's texture ties nothing down.
    """

    shift_x: float
    shift_y: float
    turn_deg: float
    scale: float
    shift_sd: float
    turn_sd_deg: float
    scale_sd: float
    agreeing: float

    @property
    def shift(self) -> float:
        """Length of the shift."""
        return hypot(self.shift_x, self.shift_y)


def place_of(found: Registration, original_per_pixel: float) -> RigPlace:
    """A registration in pixels of the original."""
    sd = [inf] * 4
    if found.covariance is not None:
        sd = [float(v) for v in np.sqrt(np.maximum(np.diag(found.covariance), 0.0))]
    return RigPlace(
        found.motion.shift_x * original_per_pixel,
        found.motion.shift_y * original_per_pixel,
        found.motion.turn_deg,
        found.motion.scale,
        found.shift_sd * original_per_pixel,
        float(np.degrees(sd[2])),
        sd[3],
        found.agreeing,
    )


def judge_rig(place: RigPlace, history: Sequence[RigPlace], limits: Thresholds) -> Finding:
    """The finding on one place; ``history`` are those since the reference, oldest first."""
    limit = max(limits.shift_px, SURE * place.shift_sd)
    tellable = limit + MISSED * place.shift_sd
    if place.shift_sd == inf:
        return cannot_tell(
            "The background has too little texture to tell whether the camera moved. Put something "
            "with a fine pattern at the picture's rim."
        )
    if place.agreeing < LEAST_AGREEING:
        return cannot_tell(
            "Too little of the picture agrees with the reference to tell where the camera stands."
        )
    figures = _figures(place, tellable)
    thresholds = {"shift_px": limit, "turn_deg": limits.turn_deg, "creep_px": limits.creep_px}
    if not _moved(place, limit, limits):
        if tellable > limits.tellable_px:
            says = (
                f"A bump under {tellable:.1f} px cannot be told here: the background is too plain."
            )
            return Finding(CANNOT_TELL, says, figures, (), thresholds)
        return Finding(CLEAR, f"The camera stands: {place.shift:.2f} px.", figures, (), thresholds)
    cause = _cause(place, history)
    return Finding(FLAGGED, _says(place, cause), figures, (cause,), thresholds)


def _moved(place: RigPlace, limit: float, limits: Thresholds) -> bool:
    return (
        place.shift > limit
        or abs(place.turn_deg) > max(limits.turn_deg, SURE * place.turn_sd_deg)
        or 100 * abs(place.scale - 1) > max(limits.scale_percent, 100 * SURE * place.scale_sd)
    )


def _cause(place: RigPlace, history: Sequence[RigPlace]) -> str:
    """By the part of the way that the biggest single jump went."""
    known = [entry for entry in history[-WINDOW:] if entry.shift_sd < inf]
    across = np.array([[0.0, 0.0], *([e.shift_x, e.shift_y] for e in known)])
    across = np.vstack([across, [place.shift_x, place.shift_y]])
    length = max(place.shift, 1e-9)
    along = across @ np.array([place.shift_x, place.shift_y]) / length
    if len(along) < 4:
        return "bump"
    if biggest_jump(along) >= 0.5 * abs(along[-1]):
        found = trend(along)
        sure_creep = found.kind == DRIFT and found.is_sure and abs(found.total) > 0.6 * length
        return "creep" if sure_creep else "bump"
    return "creep"


def _figures(place: RigPlace, tellable: float) -> dict[str, float]:
    return {
        "shift_x_px": place.shift_x,
        "shift_y_px": place.shift_y,
        "shift_px": place.shift,
        "turn_deg": place.turn_deg,
        "scale": place.scale,
        "shift_sd_px": place.shift_sd,
        "turn_sd_deg": place.turn_sd_deg,
        "tellable_px": tellable,
        "agreeing_percent": 100 * place.agreeing,
    }


def _says(place: RigPlace, cause: str) -> str:
    sideways = f"{abs(place.shift_x):.2f} px to the {'right' if place.shift_x > 0 else 'left'}"
    upright = f"{abs(place.shift_y):.2f} px {'down' if place.shift_y > 0 else 'up'}"
    way = f"the picture lies {sideways} and {upright}, turned by {place.turn_deg:+.3f}°"
    if cause == "creep":
        return f"The camera creeps: {way}. Tighten the tripod head and support the lens."
    return f"The camera was bumped: {way}. Put it back, or go on from here with a new reference."
