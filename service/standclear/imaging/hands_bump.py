"""Whether the whole picture has shifted: the camera was bumped.

A direct fit: the difference of two pictures is explained by a shift, a turn and a scale (four
parameters, linearised), each tile of 16 px having one vote by its area and losing it when it will
not follow. A tile that shows the moved object disagrees; the background carries the verdict. For a
bump beyond a pixel or two the fit starts from the phase correlation of the pictures' texture.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.imaging.hands_frame import Plane

TILE = 16
_ROUNDS = 6

Field = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Shift:
    """``x_px``, ``y_px`` in the middle of the picture, ``turn_deg``, ``scale``; ``disturbed``: the
    share of the textured tiles that differ by more than noise, ``explained``: how much of that
    difference the shift takes away (0 to 1); ``tiles``: how many tiles have texture;
    ``reach``: over what share of the picture's width the disturbed ones lie."""

    x_px: float
    y_px: float
    turn_deg: float
    scale: float
    disturbed: float
    explained: float
    tiles: int
    reach: float

    @property
    def far_px(self) -> float:
        """The farthest that a point at a third of the width from the middle moved, in px."""
        reach = 213.0 * float(np.hypot(np.deg2rad(self.turn_deg), self.scale - 1.0))
        return float(np.hypot(self.x_px, self.y_px)) + reach


def shift_between(then: Plane, now: Plane, sd: float) -> Shift:
    """How the camera shifted from ``then`` to ``now`` (grey, prepared, light made alike); ``sd`` is
    the noise of their difference in codes."""
    fits = [_fit(then, now, (0, 0), sd)]
    if fits[0].disturbed > 0.3:
        start = _coarse(then, now)
        if start != (0, 0):
            fits.append(_fit(then, now, start, sd))
    return max(fits, key=lambda fit: fit.explained)


def _coarse(then: Plane, now: Plane) -> tuple[int, int]:
    """The whole-pixel shift that aligns the textures best."""
    half = (then.shape[1] // 2, then.shape[0] // 2)
    small = [
        np.asarray(cv2.resize(one, half, interpolation=cv2.INTER_AREA), np.float32)
        for one in (then, now)
    ]
    fine = [one - cv2.GaussianBlur(one, (0, 0), 6.0) for one in small]
    window = cv2.createHanningWindow(half, cv2.CV_32F)
    (x, y), _ = cv2.phaseCorrelate(fine[0], fine[1], window)
    return (round(2 * x), round(2 * y))


def _fit(then: Plane, now: Plane, start: tuple[int, int], sd: float) -> Shift:
    """The fit, begun from a whole-pixel shift."""
    width, height = then.shape[1], then.shape[0]
    left, top = max(0, start[0]), max(0, start[1])
    right, bottom = min(width, width + start[0]), min(height, height + start[1])
    if right - left < 8 * TILE or bottom - top < 4 * TILE:
        return Shift(0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0, 0.0)
    new = now[top:bottom, left:right].astype(np.float32)
    same = then[top:bottom, left:right].astype(np.float32)
    old = then[top - start[1] : bottom - start[1], left - start[0] : right - start[0]]
    sums = _tile_sums(old.astype(np.float32), new)
    found, energies = _solve(sums, sd)
    unshifted = _tile_means((new - same) ** 2)
    noise = 4.0 * sd * sd
    textured = sums[:, 0] + sums[:, 2] > noise
    moved = textured & (unshifted > noise)
    return _describe(
        (float(start[0] + found[0]), float(start[1] + found[1]), float(found[2]), float(found[3])),
        int(np.count_nonzero(textured)),
        1.0 - energies[moved] / unshifted[moved],
        _reach(sums[moved, 6], then.shape[1]) if moved.any() else 0.0,
    )


def _tile_means(plane: NDArray[np.float32]) -> Field:
    size = (plane.shape[1] // TILE, plane.shape[0] // TILE)
    means = cv2.resize(plane, size, interpolation=cv2.INTER_AREA)
    return np.asarray(means, np.float64).ravel()


def _tile_sums(before: NDArray[np.float32], new: NDArray[np.float32]) -> Field:
    """Per tile the means of gx², gxgy, gy², gxd, gyd, d² and its middle x, y (n×8)."""
    middle = (before + new) * np.float32(0.5)
    gx = cv2.Scharr(middle, cv2.CV_32F, 1, 0, scale=1 / 32)
    gy = cv2.Scharr(middle, cv2.CV_32F, 0, 1, scale=1 / 32)
    apart = new - before
    size = (before.shape[1] // TILE, before.shape[0] // TILE)
    planes = [gx * gx, gx * gy, gy * gy, gx * apart, gy * apart, apart * apart]
    means = [_tile_means(one) for one in planes]
    x = (np.arange(size[0]) + 0.5) * before.shape[1] / size[0] - before.shape[1] / 2
    y = (np.arange(size[1]) + 0.5) * before.shape[0] / size[1] - before.shape[0] / 2
    places = [one.ravel() for one in np.meshgrid(x, y)]
    return np.asarray(np.stack([*means, *places], axis=1), np.float64)


def _solve(sums: Field, sd: float) -> tuple[Field, Field]:
    """(x, y, a, b), and the tiles' energy left. Appearance moves against gradient:
    ``d = -(gx u + gy v)`` with ``u = x + a X - b Y``, ``v = y + b X + a Y``."""
    sxx, sxy, syy, sxd, syd, energy, mid_x, mid_y = sums.T
    one, none = np.ones_like(mid_x), np.zeros_like(mid_x)
    to_u = np.stack([one, none, mid_x, -mid_y], axis=1)
    to_v = np.stack([none, one, mid_y, mid_x], axis=1)
    normal = (
        sxx[:, None, None] * to_u[:, :, None] * to_u[:, None, :]
        + sxy[:, None, None]
        * (to_u[:, :, None] * to_v[:, None, :] + to_v[:, :, None] * to_u[:, None, :])
        + syy[:, None, None] * to_v[:, :, None] * to_v[:, None, :]
    )
    right = -(sxd[:, None] * to_u + syd[:, None] * to_v)
    floor = np.diag([1e-3, 1e-3, 10.0, 10.0])
    texture = sxx + syy + sd * sd
    weights = np.minimum(1.0, sd * sd * 4 / texture)  # by area, not by features
    found, left = np.zeros(4), energy
    for _ in range(_ROUNDS):
        found = np.linalg.solve(
            np.einsum("n,nij->ij", weights, normal) + floor * 1e-3, weights @ right
        )
        fitted = np.einsum("i,nij,j->n", found, normal, found)
        left = np.maximum(0.0, energy - 2 * (right @ found) + fitted)
        level = 4 * sd * sd + 0.02 * texture
        weights = np.minimum(1.0, sd * sd * 4 / texture) / (1.0 + (left / level) ** 2)
    return found, left


def _reach(x: Field, width: int) -> float:
    """Over what share of the picture's width most of the tiles lie."""
    low, high = np.percentile(x, (5, 95))
    return float(high - low) / width


def _describe(
    found: tuple[float, float, float, float], textured: int, explained: Field, reach: float
) -> Shift:
    """``explained``: for each textured tile that differs, what share of it the shift takes away."""
    return Shift(
        x_px=found[0],
        y_px=found[1],
        turn_deg=float(np.rad2deg(found[3])),
        scale=1.0 + found[2],
        disturbed=len(explained) / textured if textured else 0.0,
        explained=max(0.0, float(np.median(explained))) if len(explained) else 0.0,
        tiles=textured,
        reach=reach,
    )
