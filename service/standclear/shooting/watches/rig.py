"""The rig watch: whether the camera still stands where it stood, and how it left.

A bump is a jump between two exposures; a creep is the same way gone in many small steps. While too
few exposures are known to tell the two apart, that is what it says.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, inf

import numpy as np

from standclear.imaging.linear import Doubles
from standclear.imaging.registration import Registration
from standclear.shooting.watches.thresholds import Thresholds
from standclear.shooting.watches.trend import (
    DRIFT,
    LEAST_ENTRIES,
    OPEN,
    STEP,
    biggest_jump,
    evidence,
    trend,
)
from standclear.shooting.watches.verdict import (
    CANNOT_TELL,
    CLEAR,
    FLAGGED,
    Finding,
    cannot_tell,
)

SURE = 4.5
DOUBTED = 9.0
WELL_KNOWN_PX = 0.025
"""Where texture does not tie the camera down to this (standard deviation, px at 1920 wide), what
little holds it may be an edge beside the object: errors up to five deviations were measured there
(tests/bench, plain wall), so that twice as many are asked for."""

MISSED = 3.0
LEAST_AGREEING = 0.25
WINDOW = 50

SCATTER = 1.5
"""Scatter of places that a camera at rest takes, in standard deviations of one fit (measured)."""

CLEAR_WAY = 20.0
"""A way of so many deviations has steps that noise cannot make up or hide."""

WORDS = {DRIFT: "creep", STEP: "bump", OPEN: "bump_or_creep"}


@dataclass(frozen=True)
class RigPlace:
    """Where the camera looks against the reference, in pixels of the original, which is ``width``
    pixels wide, and degrees.

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
    width: int

    @property
    def shift(self) -> float:
        """Length of the shift."""
        return hypot(self.shift_x, self.shift_y)


def place_of(found: Registration, original_per_pixel: float, width: int) -> RigPlace:
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
        width,
    )


def judge_rig(place: RigPlace, history: Sequence[RigPlace], limits: Thresholds) -> Finding:
    """The finding on one place; ``history`` are those since the reference, oldest first."""
    sure = _sure(place)
    limit = max(limits.shift_px, sure * place.shift_sd)
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
    if not _moved(place, limit, limits, sure):
        if (sure + MISSED) * place.shift_sd > max(limits.tellable_px, limits.shift_px):
            says = (
                f"A bump under {tellable:.1f} px cannot be told here: the background is too plain."
            )
            return Finding(CANNOT_TELL, says, figures, (), thresholds)
        return Finding(CLEAR, f"The camera stands: {place.shift:.2f} px.", figures, (), thresholds)
    cause = _cause(place, history)
    return Finding(FLAGGED, _says(place, cause), figures, (cause,), thresholds)


def _sure(place: RigPlace) -> float:
    """How many standard deviations make a motion sure."""
    return SURE if place.shift_sd <= WELL_KNOWN_PX * place.width / 1920 else DOUBTED


def _moved(place: RigPlace, limit: float, limits: Thresholds, sure: float) -> bool:
    return (
        place.shift > limit
        or abs(place.turn_deg) > max(limits.turn_deg, sure * place.turn_sd_deg)
        or 100 * abs(place.scale - 1) > max(limits.scale_percent, 100 * sure * place.scale_sd)
    )


def _cause(place: RigPlace, history: Sequence[RigPlace]) -> str:
    """A few places by the evidence for either; many by the part that the biggest jump went."""
    along = _along(place, [entry for entry in history[-WINDOW:] if entry.shift_sd < inf])
    if len(along) < LEAST_ENTRIES:
        return WORDS[_few(along)]
    if biggest_jump(along) >= 0.5 * abs(along[-1]):
        found = trend(along)
        sure_creep = found.kind == DRIFT and found.is_sure and found.total > 0.6 * along[-1]
        return "creep" if sure_creep else "bump"
    return "creep"


def _few(along: Doubles) -> str:
    """A creep need not be even: no single step of it is half the way."""
    kind = evidence(along, SCATTER)
    if kind == STEP and len(along) > 3 and abs(along[-1]) > CLEAR_WAY:
        return DRIFT if np.abs(np.diff(along)).max() < 0.5 * abs(along[-1]) else STEP
    return kind


def _along(place: RigPlace, known: Sequence[RigPlace]) -> Doubles:
    """The way to ``place`` from the reference, at each exposure, in standard deviations.

    Shift, turn and scale count by how well each is known, so that a turn alone has a way too.
    """
    sd = np.array([place.shift_sd, place.shift_sd, place.turn_sd_deg, place.scale_sd])
    seen = [_coordinates(entry) / sd for entry in [*known, place]]
    ways = np.vstack([np.zeros(4), *seen])
    return np.asarray(ways @ ways[-1] / max(float(np.linalg.norm(ways[-1])), 1e-9))


def _coordinates(place: RigPlace) -> Doubles:
    return np.array([place.shift_x, place.shift_y, place.turn_deg, place.scale - 1.0])


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
    if cause == "bump_or_creep":
        return (
            f"The camera moved: {way}. Whether it was bumped or creeps, the next exposure shows: "
            "look at the tripod head."
        )
    return f"The camera was bumped: {way}. Put it back, or go on from here with a new reference."
