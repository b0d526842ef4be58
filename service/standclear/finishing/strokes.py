"""A mask drawn by hand, as strokes of a round brush: moved along, and turned into pixels. Pure."""

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from standclear.finishing.options import Stroke

Floats = npt.NDArray[np.float32]
Doubles = npt.NDArray[np.float64]

RIM = 0.015
"""A stroke that ends so close to the picture's rim (part of its width) goes on beyond it."""

_FRACTION_BITS = 4


@dataclass(frozen=True)
class Line:
    """A stroke in pixels: points (x, y) and the brush's width."""

    points: tuple[tuple[float, float], ...]
    width: float


@dataclass(frozen=True)
class Box:
    """A rectangle of pixels; ``right`` and ``bottom`` are not in it."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def size(self) -> tuple[int, int]:
        """Width and height, 0 where nothing is in it."""
        return max(0, self.right - self.left), max(0, self.bottom - self.top)

    def joined(self, other: "Box") -> "Box":
        """The smallest box that holds both."""
        low = min(self.left, other.left), min(self.top, other.top)
        return Box(*low, max(self.right, other.right), max(self.bottom, other.bottom))

    def within(self, width: int, height: int) -> "Box":
        """The part that lies in a picture of that size."""
        left, top = min(max(0, self.left), width), min(max(0, self.top), height)
        right, bottom = min(self.right, width), min(self.bottom, height)
        return Box(left, top, max(left, right), max(top, bottom))


def in_pixels(strokes: tuple[Stroke, ...], width: int, height: int) -> tuple[Line, ...]:
    """Strokes as drawn over a picture of ``width`` by ``height``; what ends at its rim goes on.

    A support that comes in over the rim does not end there: where the mask follows the object
    into the picture, the rest of it must follow too.
    """
    size = np.array([width, height], dtype=np.float64)
    lines = []
    for stroke in strokes:
        points = np.array(stroke.points, dtype=np.float64) * size
        points = np.concatenate([_beyond(points, size), points, _beyond(points[::-1], size)[::-1]])
        lines.append(Line(_plain(points), stroke.width * width))
    return tuple(lines)


def moved(lines: tuple[Line, ...], matrix: Doubles) -> tuple[Line, ...]:
    """The same lines under a 2 x 3 map of points."""
    return tuple(
        Line(_plain(np.array(line.points) @ matrix[:, :2].T + matrix[:, 2]), line.width)
        for line in lines
    )


def box_of(lines: tuple[Line, ...], margin: float) -> Box:
    """What the brush touched, and ``margin`` pixels around it."""
    points = np.concatenate([np.array(line.points) for line in lines])
    reach = max(line.width for line in lines) / 2 + margin + 1
    low, high = np.floor(points.min(axis=0) - reach), np.ceil(points.max(axis=0) + reach) + 1
    return Box(int(low[0]), int(low[1]), int(high[0]), int(high[1]))


def drawn(lines: tuple[Line, ...], box: Box, feather: float = 0.0) -> Floats:
    """The mask in a box, (height, width) from 0 to 1; ``feather`` pixels soften it outwards."""
    width, height = box.size
    canvas = np.zeros((height, width), np.uint8)
    scale = 1 << _FRACTION_BITS
    for line in lines:
        points = np.array(line.points) - (box.left, box.top)
        fixed = np.rint(np.clip(points, -30_000, 30_000) * scale).astype(np.int32)
        thick = max(1, round(line.width + 2 * feather))
        cv2.polylines(
            canvas, [fixed.reshape(-1, 1, 2)], False, 255, thick, cv2.LINE_AA, _FRACTION_BITS
        )
        if len(fixed) == 1 or not np.ptp(fixed, axis=0).any():
            middle = (int(fixed[0, 0]), int(fixed[0, 1]))
            cv2.circle(canvas, middle, thick * scale // 2, 255, -1, cv2.LINE_AA, _FRACTION_BITS)
    mask: Floats = canvas.astype(np.float32) / np.float32(255)
    return mask if feather <= 0 else np.asarray(cv2.GaussianBlur(mask, (0, 0), feather / 2))


def _beyond(points: Doubles, size: Doubles) -> Doubles:
    """A point far outside, before the first one, when that lies at the rim; else none."""
    first, room = points[0], RIM * size[0]
    ways = {0: (-1.0, 0.0), 1: (0.0, -1.0), 2: (1.0, 0.0), 3: (0.0, 1.0)}
    gaps = np.array([first[0], first[1], size[0] - first[0], size[1] - first[1]])
    nearest = int(np.argmin(gaps))
    if gaps[nearest] > room:
        return np.zeros((0, 2))
    out = np.array(ways[nearest])
    away = [first - point for point in points[1:] if np.hypot(*(first - point)) > room]
    heading = away[0] / np.hypot(*away[0]) if away else out
    if heading @ out < 0.3:  # it runs along the rim
        heading = out
    return np.array([first + heading * size.max()])


def _plain(points: Doubles) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)
