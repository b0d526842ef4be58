"""A start for the direct fit: tiles that are phase-correlated one by one, then vote by area.

Source of phase correlation: C. D. Kuglin, D. C. Hines, "The phase correlation image alignment
method" (1975); of the vote: M. A. Fischler, R. C. Bolles, "Random sample consensus" (1981), here
over all pairs of tiles, so that nothing is random.

Points of the plane are complex numbers: a small turn t and log scale s move z by (s + it) z.
"""

import cv2
import numpy as np
import numpy.typing as npt

from standclear.imaging.linear import Floats
from standclear.imaging.similarity import Similarity

TILE_PX = 64
AGREE_PX = 1.2
LEAST_AGREEING = 4
MOST_BEND = 0.1
"""Largest turn (radians) and log scale that a pair of tiles may stand for."""

Complexes = npt.NDArray[np.complex128]


def start_from_tiles(reference: Floats, picture: Floats) -> Similarity | None:
    """The similarity that most tiles agree on, in pixels of these pictures; None without one."""
    centres, shifts = _tile_shifts(reference, picture)
    if len(centres) < LEAST_AGREEING:
        return None
    points = centres - complex(reference.shape[1] / 2, reference.shape[0] / 2)
    one, other = np.triu_indices(len(points), 1)
    slopes = (shifts[other] - shifts[one]) / (points[other] - points[one])
    levels = shifts[one] - slopes * points[one]
    misfits = np.abs(levels[:, None] + slopes[:, None] * points - shifts)
    agree = misfits < AGREE_PX
    votes = np.where(np.maximum(abs(slopes.real), abs(slopes.imag)) > MOST_BEND, 0, agree.sum(1))
    best = int(votes.argmax())
    if votes[best] < LEAST_AGREEING:
        return None
    return _fit(points[agree[best]], shifts[agree[best]])


def _tile_shifts(reference: Floats, picture: Floats) -> tuple[Complexes, Complexes]:
    """Centres of the tiles and their shifts, x + iy in pixels."""
    window = cv2.createHanningWindow((TILE_PX, TILE_PX), cv2.CV_32F)
    height, width = reference.shape
    step = TILE_PX * 3 // 4
    centres, shifts = [], []
    for top in range(0, height - TILE_PX + 1, step):
        for left in range(0, width - TILE_PX + 1, step):
            cut = np.s_[top : top + TILE_PX, left : left + TILE_PX]
            before, after = np.ascontiguousarray(reference[cut]), np.ascontiguousarray(picture[cut])
            if before.std() == 0.0 or after.std() == 0.0:
                continue
            shift, _ = cv2.phaseCorrelate(before, after, window)
            centres.append(complex(left + TILE_PX / 2, top + TILE_PX / 2))
            shifts.append(complex(*shift))
    return np.array(centres), np.array(shifts)


def _fit(points: Complexes, shifts: Complexes) -> Similarity:
    """Least squares over several points, small turns."""
    middle, level = points.mean(), shifts.mean()
    spread = points - middle
    slope = np.vdot(spread, shifts - level) / np.vdot(spread, spread)
    level -= slope * middle
    return Similarity(float(level.real), float(level.imag), float(slope.imag), float(slope.real))
