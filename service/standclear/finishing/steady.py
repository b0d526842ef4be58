"""Steady picture: each exposure brought back onto the shot's reference, in one resampling.

Registration, crop and scale are one map from the film's pixels to the original's. The kernel is
the cubic with a = -1/2 (R. Keys, "Cubic convolution interpolation", IEEE ASSP 29, 1981): unlike
the a = -3/4 of common libraries it reproduces straight lines, so it does not displace content.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from standclear.finishing.coverage import coverage, plane
from standclear.finishing.framing import View
from standclear.finishing.survey import Survey
from standclear.imaging.similarity import Similarity

Floats = npt.NDArray[np.float32]
Doubles = npt.NDArray[np.float64]

LEAST_MOVE_PX = 0.05
"""A smaller displacement of every corner is left alone, so that the bytes stay."""

_PLAIN_SHIFT_PX = 0.02
_STRIP = 64


@dataclass(frozen=True)
class Borrowed:
    """A neighbour whose own background fills what a move uncovers: exposure index and its move."""

    index: int
    motion: Similarity | None


@dataclass(frozen=True)
class Move:
    """How an exposure lies against the reference, and who fills its edges, nearest first."""

    motion: Similarity
    fill: tuple[Borrowed, ...] = ()


def move_plan(
    found: Survey, size: tuple[int, int], left_alone: set[int], *, fill: bool
) -> tuple[dict[int, Move], tuple[str, ...]]:
    """The move of each exposure that needs one, and sentences about those that cannot be told.

    ``size`` is the source's width and height. An exposure whose place cannot be told is taken to
    lie where the one before it lies.
    """
    motions, notes = known_motions(found)
    needed = {
        index: motion
        for index, motion in motions.items()
        if index not in left_alone and displacement(motion, size) >= LEAST_MOVE_PX
    }
    still = [index for index in motions if index not in needed and index not in left_alone]
    moves = {}
    for index, motion in needed.items():
        helpers = _nearest(index, still, needed, size) if fill else ()
        moves[index] = Move(motion, helpers)
    return moves, notes


def displacement(motion: Similarity, size: tuple[int, int]) -> float:
    """Largest displacement of a corner, in pixels."""
    width, height = size
    corners = np.array([[0, 0], [width, 0], [0, height], [width, height]], dtype=np.float64)
    moved = motion.displacement(corners, (height, width))
    return float(np.hypot(moved[:, 0], moved[:, 1]).max())


def common_view(view: View, moves: dict[int, Move], source: tuple[int, int]) -> View:
    """The largest part of the view, of the same shape, that every moved picture covers."""
    width, height = source
    room = np.zeros(4)  # left, top, right, bottom, in pixels
    corners = np.array([[0, 0], [width, 0], [0, height], [width, height]], dtype=np.float64)
    for move in moves.values():
        shift = move.motion.displacement(corners, (height, width))
        low, high = shift.min(axis=0), shift.max(axis=0)
        room = np.maximum(room, [-low[0], -low[1], high[0], high[1]])
    edge = np.ceil(np.maximum(room, 0)) + (2 if moves else 0)
    left, top = max(view.left, edge[0]), max(view.top, edge[1])
    right = min(view.left + view.width, width - edge[2])
    bottom = min(view.top + view.height, height - edge[3])
    part = min((right - left) / view.width, (bottom - top) / view.height)
    if part >= 1:
        return view
    wide, high_ = max(2, int(view.width * part) // 2 * 2), max(2, int(view.height * part) // 2 * 2)
    x, y = int(left + (right - left - wide) / 2), int(top + (bottom - top - high_) / 2)
    return View(x, y, wide, high_, view.out_width, view.out_height)


def placed(picture: Floats, motion: Similarity, view: View) -> tuple[Floats, Floats]:
    """The view of a picture brought onto the reference, and 1 where the picture covers it.

    ``picture`` (h, w, 3) floats; the result has the view's output size.
    """
    to_source = _map(motion, view, picture.shape)
    size = (view.out_width, view.out_height)
    source = _softened(picture, view.scale)
    straight = np.abs(to_source[:, :2] - np.eye(2)).max() * max(picture.shape[:2]) < _PLAIN_SHIFT_PX
    if straight and not view.resamples:
        shown = _shifted(source, to_source[:, 2], size)
    elif not view.resamples:
        shown = _warped(_bent(source, to_source), to_source, size)
    else:
        shown = _warped_cubic(source, to_source, size)
    return shown, coverage(to_source, size, picture.shape)


def known_motions(found: Survey) -> tuple[dict[int, Similarity], tuple[str, ...]]:
    """Each exposure's motion, the one before's where it cannot be told, and a note of those."""
    motions: dict[int, Similarity] = {}
    lost = []
    last = Similarity()
    for index in sorted(found.measured):
        motion = found.measured[index].motion
        if motion is None:
            lost.append(index + 1)
        last = motion or last
        motions[index] = last
    if not lost:
        return motions, ()
    some = ", ".join(map(str, lost[:8]))
    note = f"Where exposure {some} lies cannot be told; it moves with the one before it."
    return motions, (note,)


def _nearest(
    index: int, still: Sequence[int], moved: dict[int, Similarity], size: tuple[int, int]
) -> tuple[Borrowed, ...]:
    """The nearest still neighbour; beside it the nearest that lies elsewhere."""
    near = sorted(still, key=lambda other: (abs(other - index), other))[:1]
    helpers = tuple(Borrowed(other, None) for other in near)
    if helpers:
        return helpers
    apart = sorted(
        (other for other in moved if other != index),
        key=lambda other: (displacement(moved[other], size), abs(other - index)),
    )
    return tuple(Borrowed(other, moved[other]) for other in apart[:2])


def _map(motion: Similarity, view: View, shape: tuple[int, ...]) -> Doubles:
    """2 x 3: from a pixel of the film to the place in the source where it is seen."""
    step = view.width / view.out_width
    step_y = view.height / view.out_height
    to_reference = np.array(
        [
            [step, 0.0, view.left + (step - 1) / 2],
            [0.0, step_y, view.top + (step_y - 1) / 2],
            [0.0, 0.0, 1.0],
        ]
    )
    return np.asarray(motion.matrix(shape) @ to_reference)


def _softened(picture: Floats, scale: float) -> Floats:
    """Averaged over what will become one pixel, so that a smaller picture does not shimmer."""
    if scale > 0.8:
        return picture
    sigma = 0.45 * float(np.sqrt(1.0 / scale**2 - 1.0))
    return np.asarray(cv2.GaussianBlur(picture, (0, 0), sigma), np.float32)


def _shifted(picture: Floats, shift: Doubles, size: tuple[int, int]) -> Floats:
    """Whole and fractional shift by separable Keys kernels."""
    left, top = np.floor(shift).astype(int)
    across, down = (_keys(float(f)) for f in shift - np.floor(shift))
    pad = 2
    x0, y0 = left - pad, top - pad
    cut = _window(picture, x0, y0, size[0] + 2 * pad + 1, size[1] + 2 * pad + 1)
    mixed = cv2.sepFilter2D(cut, -1, across, down, anchor=(1, 1), borderType=cv2.BORDER_REPLICATE)
    return np.ascontiguousarray(mixed[pad : pad + size[1], pad : pad + size[0]])


def _window(picture: Floats, left: int, top: int, width: int, height: int) -> Floats:
    """A rectangle of the picture that may reach over its edges, which are repeated."""
    rows, columns = picture.shape[:2]
    x0, y0 = np.clip(left, 0, columns - 1), np.clip(top, 0, rows - 1)
    x1, y1 = np.clip(left + width, 1, columns), np.clip(top + height, 1, rows)
    before = (max(0, y0 - top), max(0, x0 - left))
    cut = picture[y0:y1, x0:x1]
    after = (height - before[0] - cut.shape[0], width - before[1] - cut.shape[1])
    if not any((*before, *after)):
        return cut
    sides = (before[0], max(0, after[0]), before[1], max(0, after[1]))
    return np.asarray(cv2.copyMakeBorder(cut, *sides, cv2.BORDER_REPLICATE), np.float32)


def _keys(t: float) -> Floats:
    """Weights of the four neighbours at fraction ``t``, a = -1/2."""
    return np.array(
        [
            0.5 * (-(t**3) + 2 * t**2 - t),
            0.5 * (3 * t**3 - 5 * t**2 + 2),
            0.5 * (-3 * t**3 + 4 * t**2 + t),
            0.5 * (t**3 - t**2),
        ],
        np.float32,
    )


def _warped_cubic(picture: Floats, to_source: Doubles, size: tuple[int, int]) -> Floats:
    """Keys' cubic through linear warps: it is linear less t(1-t)/2 of the second differences.

    CR(t) f = lin(f) - t(1-t)/2 lin(D f); in two dimensions the product of both, of which the term
    in Dx Dy is left out: it is of fourth order.
    """
    second = np.array([1.0, -2.0, 1.0], np.float32)
    one = np.array([1.0], np.float32)
    shown = _warped(picture, to_source, size)
    x = np.arange(size[0], dtype=np.float32)[None, :]
    y = np.arange(size[1], dtype=np.float32)[:, None]
    for axis, kernels in enumerate(((second, one), (one, second))):
        place = to_source[axis, 0] * x + to_source[axis, 1] * y + to_source[axis, 2]
        part = (place - np.floor(place)).astype(np.float32)
        bend = _warped(cv2.sepFilter2D(picture, -1, *kernels), to_source, size)
        shown -= (0.5 * part * (1.0 - part))[:, :, None] * bend
    return shown


def _bent(picture: Floats, to_source: Doubles) -> Floats:
    """The picture less t(1-t)/2 of its second differences, so that a linear warp gives Keys' cubic.

    Where a map hardly turns or scales, t is a slow function of place, and since t(1-t) passes
    through 0 where t wraps, it may be taken at the source's pixels: one warp instead of three.
    """
    height, width = picture.shape[:2]
    drift = np.eye(2, 3) - cv2.invertAffineTransform(to_source)
    second = np.array([1.0, -2.0, 1.0], np.float32)
    one = np.array([1.0], np.float32)
    bent = picture.copy()
    x = np.arange(width, dtype=float)
    for top in range(0, height, _STRIP):
        low, high = max(top - 1, 0), min(top + _STRIP + 1, height)
        stop = min(top + _STRIP, height)
        y = np.arange(top, stop, dtype=float)
        for axis, kernels in enumerate(((second, one), (one, second))):
            part = plane(drift[axis], x, y)
            part -= np.floor(part)
            part *= 0.5 * (1.0 - part)
            bend = cv2.sepFilter2D(
                picture[low:high], -1, *kernels, borderType=cv2.BORDER_REPLICATE
            )[top - low : top - low + stop - top]
            bend *= cv2.merge([part, part, part])
            bent[top:stop] -= bend
    return bent


def _warped(picture: npt.NDArray[np.float32], to_source: Doubles, size: tuple[int, int]) -> Floats:
    return np.asarray(
        cv2.warpAffine(
            picture,
            to_source,
            size,
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderMode=cv2.BORDER_REPLICATE,
        ),
        np.float32,
    )
