"""What the cork does: a smooth path of poses in which it behaves like a small shy animal.

It peeks out from behind its bottle, creeps into the light, looks around, takes fright, scurries
back and hides. One pose is one exposure; the path closes after :data:`LENGTH` poses.
"""

import math
from dataclasses import dataclass

import numpy as np

#: Poses before the path begins again.
LENGTH = 72


@dataclass(frozen=True, slots=True)
class Pose:
    """Where the cork is: the middle of its foot (mm), which way its "eyes" look (degrees, 0 toward
    the camera, positive toward the right), its lean (degrees, to the right and away), hop (mm)."""

    x_mm: float
    y_mm: float
    turn_deg: float = 0.0
    lean_right_deg: float = 0.0
    lean_away_deg: float = 0.0
    hop_mm: float = 0.0


#: (pose, x, y, turn, lean to the right, lean away, hop): the key poses of the performance.
_KEYS = np.array(
    [
        (0, -76, 118, 20, 9, 0, 0),  # half hidden, leaning out to look
        (4, -66, 112, 45, 13, -1, 0),  # farther out
        (7, -72, 114, -20, 3, 1, 0),  # a look to the other side
        (11, -52, 92, 10, 8, -5, 0),  # first step
        (15, -38, 74, 30, 4, -6, 0),
        (19, -24, 56, 0, 0, -9, 0),  # creeps toward the camera
        (24, -6, 38, -12, -3, -8, 0),
        (29, 12, 22, -38, -9, -2, 0),  # stops, looks to the left
        (34, 16, 18, 42, 10, -1, 0),  # looks to the right, toward the lamp
        (38, 18, 12, 4, 1, -12, 0),  # bows to the camera
        (41, 18, 12, 0, 0, 9, 0),  # rears up
        (43, 15, 20, -8, -3, 7, 16),  # takes fright: a hop
        (45, 10, 30, -20, -5, 4, 0),
        (48, -8, 48, -60, -15, 3, 3),  # scurries
        (52, -38, 82, -70, -16, 4, 0),
        (56, -66, 110, -40, -10, 2, 0),
        (60, -80, 122, -10, -3, 0, 0),  # all but hidden behind the bottle
        (63, -82, 122, 10, 3, 1, 0),  # ducks
        (67, -79, 120, 30, 6, 0, 0),  # and peeks again
        (72, -76, 118, 20, 9, 0, 0),
    ],
    dtype=np.float64,
)


def _slopes(values: np.ndarray) -> np.ndarray:
    """Monotone cubic slopes (Fritsch and Carlson, 1980), so that no pose overshoots its key."""
    steps = np.diff(_KEYS[:, 0])[:, None]
    rise = np.diff(values, axis=0) / steps
    before, after = np.vstack([rise[-1:], rise]), np.vstack([rise, rise[:1]])
    same = before * after > 0
    whole = np.where(same, before + after, 1.0)
    return np.where(same, 2.0 * before * after / whole, 0.0)


_VALUES = _KEYS[:, 1:]
_SLOPES = _slopes(_VALUES)


def pose_at(index: float, seed: int = 0) -> Pose:
    """The pose with that index (from 0; fractions lie between). ``seed`` sets the sway's phase.

    Two neighbours always differ by more than a pixel of a still: the cork breathes.
    """
    place = index % LENGTH
    right = int(np.clip(np.searchsorted(_KEYS[:, 0], place, side="right"), 1, len(_KEYS) - 1))
    left = right - 1
    span = _KEYS[right, 0] - _KEYS[left, 0]
    t = (place - _KEYS[left, 0]) / span
    h = _hermite(t)
    x, y, turn, lean_right, lean_away, hop = (
        h[0] * _VALUES[left]
        + h[1] * span * _SLOPES[left]
        + h[2] * _VALUES[right]
        + h[3] * span * _SLOPES[right]
    )
    sway = 2.0 * math.pi * (index / 8.0 + (seed * 0.618) % 1.0)
    return Pose(
        float(x),
        float(y),
        float(turn + 3.0 * math.sin(sway * 0.5)),
        float(lean_right + 1.7 * math.sin(sway)),
        float(lean_away + 1.7 * math.cos(sway)),
        max(0.0, float(hop)),
    )


def _hermite(t: float) -> tuple[float, float, float, float]:
    return (
        2 * t**3 - 3 * t**2 + 1,
        t**3 - 2 * t**2 + t,
        -2 * t**3 + 3 * t**2,
        t**3 - t**2,
    )
