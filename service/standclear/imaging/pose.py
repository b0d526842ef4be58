"""How the object moved between two exposures: shift of its middle, turn, and where it is.

Corners tracked inside what changed give a first guess, a direct fit there refines it, and the
object is what that motion explains better than standing still. Its middle is the point whose
displacement is the spacing: with a turn of some degrees any other point moves otherwise.

Sources: B. D. Lucas, T. Kanade (IJCAI 1981) in OpenCV's pyramidal form; M. A. Fischler, R. C.
Bolles, "Random sample consensus" (1981).
"""

from dataclasses import dataclass, field
from math import hypot
from typing import Any, TypeAlias

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.imaging.difference import Difference, Scene
from standclear.imaging.foot import foot_of
from standclear.imaging.linear import Doubles, Floats, Mask
from standclear.imaging.regions import Region, filled, grown
from standclear.imaging.registration import fit_patch
from standclear.imaging.similarity import Similarity, brought_onto_reference

Codes: TypeAlias = NDArray[np.uint8]

CODE_RANGE = 0.6
"""Band-passed log values that the tracker's 8-bit picture spans to either side."""

MOST_CORNERS = 300
LEAST_CORNERS = 6
AGREE_PX = 0.8
WINDOW = 9
COARSE = 4
"""Pixels of detail averaged into one where a large move is looked for."""


@dataclass(frozen=True)
class Motion:
    """In pixels of the scenes' detail. ``x``, ``y`` is the object's middle in the later one.

    ``foot`` is where it stands in the later one (x, y), ``foot_shift`` how that moved; ``mask`` is
    by block, the object before and after.
    """

    shift_x: float
    shift_y: float
    turn_deg: float
    x: float
    y: float
    foot: tuple[float, float]
    foot_shift: tuple[float, float]
    mask: Mask = field(repr=False)

    @property
    def distance(self) -> float:
        """Length of the shift."""
        return hypot(self.shift_x, self.shift_y)


@dataclass(frozen=True)
class _Patch:
    before: Floats
    after: Floats
    changed: Floats
    left: int
    top: int


def object_motion(
    before: Scene, after: Scene, changes: Difference, region: Region
) -> Motion | None:
    """The rigid motion inside ``region``; ``None`` when its texture does not give one."""
    patch = _patch(before, after, changes, region)
    start = _tracked(patch)
    return None if start is None else _refined(patch, start, before)


def matched_motion(
    before: Scene, after: Scene, changes: Difference, region: Region
) -> Motion | None:
    """As `object_motion`, for a move so large that corners cannot be tracked.

    The coarse picture of what changed is looked for elsewhere in ``region``, which must hold the
    object before and after. Only to be asked where something is known to have moved: it finds a
    best place for anything.
    """
    patch = _patch(before, after, changes, region)
    return _refined(patch, _matched(patch), before)


def _refined(patch: _Patch, start: Similarity, before: Scene) -> Motion | None:
    prior = grown(patch.changed.astype(bool), 1).astype(np.float32)
    motion = fit_patch(patch.before, patch.after, start, prior, before.block)
    mask = _object_before(patch, motion)
    if mask.sum() < before.block**2:
        return None
    return _described(patch, motion, mask, before)


def _patch(before: Scene, after: Scene, changes: Difference, region: Region) -> _Patch:
    """The region with a margin, cut to whole blocks."""
    rows, columns = region.mask.shape
    margin = 3
    top, bottom = max(region.top - margin, 0), min(region.top + region.height + margin, rows)
    left, right = max(region.left - margin, 0), min(region.left + region.width + margin, columns)
    size = before.block
    cut = np.s_[top * size : bottom * size, left * size : right * size]
    inside = (changes.changed & grown(region.mask, 2))[top:bottom, left:right]
    return _Patch(
        np.ascontiguousarray(before.detail[cut]),
        np.ascontiguousarray(after.detail[cut]),
        inside.astype(np.float32),
        left * size,
        top * size,
    )


def _tracked(patch: _Patch) -> Similarity | None:
    """Corners of the changed blocks followed there and back, and the similarity they agree on."""
    first, second = _codes(patch.before), _codes(patch.after)
    height, width = first.shape
    mask = cv2.resize(patch.changed, (width, height), interpolation=cv2.INTER_NEAREST)
    corners = cv2.goodFeaturesToTrack(
        first, MOST_CORNERS, 0.02, 4, mask=(mask > 0).astype(np.uint8), blockSize=5
    )
    if corners is None or len(corners) < LEAST_CORNERS:
        return None
    ahead, seen, _ = _followed(first, second, corners)
    back, returned, _ = _followed(second, first, ahead)
    good = (seen.ravel() == 1) & (returned.ravel() == 1)
    good &= np.hypot(*(back - corners).reshape(-1, 2).T) < 0.5
    if good.sum() < LEAST_CORNERS:
        return None
    return _agreed(corners.reshape(-1, 2)[good], ahead.reshape(-1, 2)[good], (height, width))


def _matched(patch: _Patch) -> Similarity:
    """Where what changed is found again: least squares over shifts of a coarse picture."""
    height, width = patch.before.shape
    size = (max(1, width // COARSE), max(1, height // COARSE))
    first, second = (
        cv2.resize(cv2.GaussianBlur(one, (0, 0), COARSE / 2), size, interpolation=cv2.INTER_AREA)
        for one in (patch.before, patch.after)
    )
    weight = cv2.resize(patch.changed, size, interpolation=cv2.INTER_NEAREST)
    reach_x, reach_y = size[0] // 2, size[1] // 2
    padded = cv2.copyMakeBorder(
        second, reach_y, reach_y, reach_x, reach_x, cv2.BORDER_CONSTANT, value=0.0
    )
    apart = cv2.matchTemplate(padded, first, cv2.TM_SQDIFF, mask=weight)
    _, _, place, _ = cv2.minMaxLoc(apart)
    scale_x, scale_y = width / size[0], height / size[1]
    start = Similarity((place[0] - reach_x) * scale_x, (place[1] - reach_y) * scale_y)
    half = (width // 2, height // 2)
    small = [cv2.pyrDown(one, dstsize=half) for one in (patch.before, patch.after)]
    prior = grown(patch.changed.astype(bool), 1).astype(np.float32)
    block = max(1, round(height / patch.changed.shape[0] / 2))
    return fit_patch(small[0], small[1], start.resized(0.5), prior, block).resized(2.0)


def _followed(first: Codes, second: Codes, corners: Any) -> tuple[Any, Any, Any]:
    return cv2.calcOpticalFlowPyrLK(first, second, corners, None, winSize=(15, 15), maxLevel=3)


def _agreed(start: Floats, stop: Floats, shape: tuple[int, int]) -> Similarity | None:
    cv2.setRNGSeed(1)
    matrix, inliers = cv2.estimateAffinePartial2D(
        start, stop, method=cv2.RANSAC, ransacReprojThreshold=AGREE_PX, maxIters=500
    )
    if matrix is None or inliers.sum() < LEAST_CORNERS:
        return None
    turn = float(np.arctan2(matrix[1, 0], matrix[0, 0]))
    log_scale = float(np.log(np.hypot(matrix[0, 0], matrix[1, 0])))
    if abs(turn) > 0.35 or abs(log_scale) > 0.1:
        return None
    middle = np.array([shape[1] / 2, shape[0] / 2])
    shift = matrix[:, :2] @ middle + matrix[:, 2] - middle
    return Similarity(float(shift[0]), float(shift[1]), turn, log_scale)


def _object_before(patch: _Patch, motion: Similarity) -> Mask:
    """The object's pixels in the earlier patch.

    Seen from either exposure, a plain background just before the object is explained by the motion
    as well; only what both agree on is the object.
    """
    ahead = _explained(patch.before, patch.after, motion)
    back = _explained(patch.after, patch.before, motion.inverse())
    brought = brought_onto_reference(back.astype(np.float32), motion) > 0.5
    return filled(_largest((ahead & brought).astype(np.uint8)))


def _explained(before: Floats, after: Floats, motion: Similarity) -> Mask:
    """Pixels of ``before`` that the motion explains better than standing still."""
    moved = brought_onto_reference(after, motion) - before
    still = after - before
    window = (WINDOW, WINDOW)
    by_motion = cv2.blur(moved * moved, window)
    by_rest = cv2.blur(still * still, window)
    noise = float(np.median(by_motion))
    better = by_rest > 1.6 * by_motion + noise
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (WINDOW, WINDOW))
    closed = cv2.morphologyEx(better.astype(np.uint8), cv2.MORPH_CLOSE, kernel, iterations=2)
    opened = cv2.morphologyEx(closed, cv2.MORPH_OPEN, kernel)
    return filled(_largest(np.asarray(opened, dtype=np.uint8)))


def _largest(mask: Codes) -> Mask:
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    if count < 2:
        return np.zeros(mask.shape, dtype=bool)
    return np.asarray(labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA])), dtype=bool)


def _described(patch: _Patch, motion: Similarity, mask: Mask, scene: Scene) -> Motion:
    rows, columns = np.nonzero(mask)
    middle: Doubles = np.array([[columns.mean(), rows.mean()]])
    shift = motion.displacement(middle, patch.before.shape)[0]
    foot = foot_of(mask)
    step = motion.displacement(foot, patch.before.shape)[0]
    stands = foot[0] + step + (patch.left, patch.top)
    after = cv2.warpAffine(
        mask.astype(np.uint8), motion.matrix(patch.before.shape), mask.shape[::-1]
    )
    both = np.zeros(scene.detail.shape, dtype=np.uint8)
    both[patch.top : patch.top + mask.shape[0], patch.left : patch.left + mask.shape[1]] = (
        after | mask
    )
    blocks = cv2.resize(both, scene.tone.shape[::-1], interpolation=cv2.INTER_AREA) > 0
    return Motion(
        float(shift[0]),
        float(shift[1]),
        motion.turn_deg,
        float(middle[0, 0] + shift[0] + patch.left),
        float(middle[0, 1] + shift[1] + patch.top),
        (float(stands[0]), float(stands[1])),
        (float(step[0]), float(step[1])),
        np.asarray(blocks, dtype=bool),
    )


def _codes(picture: Floats) -> Codes:
    scaled = np.clip(picture / CODE_RANGE, -1.0, 1.0) * 127.0 + 128.0
    return np.asarray(scaled, dtype=np.uint8)
