"""A start for the direct fit: tiles that are phase-correlated one by one, then vote by area.

Source of phase correlation: C. D. Kuglin, D. C. Hines, "The phase correlation image alignment
method" (1975); of the vote: M. A. Fischler, R. C. Bolles, "Random sample consensus" (1981), here
over all pairs of tiles, so that nothing is random.
"""

from itertools import combinations

import cv2
import numpy as np

from standclear.imaging.linear import Doubles, Floats, Mask
from standclear.imaging.similarity import Similarity

TILE_PX = 64
AGREE_PX = 1.2
LEAST_AGREEING = 4


def start_from_tiles(reference: Floats, picture: Floats) -> Similarity | None:
    """The similarity that most tiles agree on, in pixels of these pictures; None without one."""
    centres, shifts = _tile_shifts(reference, picture)
    if len(centres) < LEAST_AGREEING:
        return None
    points = centres - np.array([reference.shape[1] / 2, reference.shape[0] / 2])
    best: Mask | None = None
    most = LEAST_AGREEING - 1
    for i, j in combinations(range(len(points)), 2):
        guess = _fit(points[[i, j]], shifts[[i, j]])
        if guess is None or np.abs(guess[2:]).max() > 0.1:
            continue
        agree = _misfit(guess, points, shifts) < AGREE_PX
        if agree.sum() > most:
            most, best = int(agree.sum()), agree
    if best is None:
        return None
    refined = _fit(points[best], shifts[best])
    return None if refined is None else Similarity(*(float(v) for v in refined))


def _tile_shifts(reference: Floats, picture: Floats) -> tuple[Doubles, Doubles]:
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
            centres.append((left + TILE_PX / 2, top + TILE_PX / 2))
            shifts.append(shift)
    return np.array(centres, dtype=np.float64), np.array(shifts, dtype=np.float64)


def _fit(points: Doubles, shifts: Doubles) -> Doubles | None:
    """Least-squares (shift_x, shift_y, turn, log scale), small turns; None when degenerate."""
    x, y = points[:, 0], points[:, 1]
    one, zero = np.ones_like(x), np.zeros_like(x)
    rows = np.concatenate(
        [np.stack([one, zero, -y, x], axis=1), np.stack([zero, one, x, y], axis=1)]
    )
    wanted = np.concatenate([shifts[:, 0], shifts[:, 1]])
    solution, _, rank, _ = np.linalg.lstsq(rows, wanted, rcond=None)
    return np.asarray(solution, dtype=np.float64) if rank == 4 else None


def _misfit(guess: Doubles, points: Doubles, shifts: Doubles) -> Doubles:
    x, y = points[:, 0], points[:, 1]
    dx = guess[0] - guess[2] * y + guess[3] * x - shifts[:, 0]
    dy = guess[1] + guess[2] * x + guess[3] * y - shifts[:, 1]
    return np.asarray(np.hypot(dx, dy), dtype=np.float64)
