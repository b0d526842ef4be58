"""Painting a support out: the clean plate laid over a picture through a mask. Pure.

The plate lies on the shot's reference, in the light of the shot's still background; it is brought
to the picture's own place and light before it is laid over it.
"""

from dataclasses import dataclass, field
from functools import lru_cache

import cv2
import numpy as np
import numpy.typing as npt

from standclear.finishing.develop import Pixels
from standclear.finishing.even import LightChange, relit
from standclear.finishing.strokes import Box, Line, box_of, drawn
from standclear.imaging.similarity import Similarity

Floats = npt.NDArray[np.float32]
Doubles = npt.NDArray[np.float64]

FEATHER = 1 / 1200
"""Part of the picture's width over which the plate's edge is softened, beyond the brush."""


@dataclass(frozen=True)
class CleanPlate:
    """Part of the shot's reference without the support: PNGs (ISO/IEC 15948) of it in 16 bits and
    of where it is known, so that it travels with the parameters. ``box`` in pixels."""

    box: Box
    picture: bytes = field(repr=False)
    known: bytes = field(repr=False)


@dataclass(frozen=True)
class Paint:
    """What is laid over one picture. ``lines`` in its own pixels; ``light`` takes the plate to the
    light that the picture has when it is painted; ``motion`` is the picture's on the reference."""

    plate: CleanPlate
    lines: tuple[Line, ...]
    light: LightChange | None = None
    motion: Similarity | None = None


def feather_of(width: int) -> float:
    """Pixels by which the plate's edge is softened in a picture of ``width``."""
    return max(1.0, width * FEATHER)


def painted(codes: Floats, paint: Paint) -> tuple[Floats, Box, Floats]:
    """The part of a picture that is painted, as codes 0 to 255, where it lies, and how strongly.

    ``codes`` (h, w, 3); the strength (rows, columns) is 0 where the picture stays as it is.
    """
    height, width = codes.shape[:2]
    feather = feather_of(width)
    box = box_of(paint.lines, 3 * feather + 1).within(width, height)
    if not all(box.size):
        return codes[:0, :0], box, np.zeros((0, 0), np.float32)
    plate, known = _plate_in(paint, box, (width, height))
    strength = drawn(paint.lines, box, feather) * known
    part = codes[box.top : box.bottom, box.left : box.right]
    return part + (plate - part) * strength[:, :, None], box, strength


def encoded(codes: Floats, known: npt.NDArray[np.bool_], box: Box) -> CleanPlate:
    """A plate from codes 0 to 255, (rows, columns, 3), and where they are known."""
    deep = np.clip(np.rint(codes * np.float32(257)), 0, 65535).astype(np.uint16)
    seen = known.astype(np.uint8) * np.uint8(255)
    return CleanPlate(box, _png(deep), _png(seen))


def _plate_in(paint: Paint, box: Box, size: tuple[int, int]) -> tuple[Floats, Floats]:
    """The plate's codes and how surely it is known, at the pixels of a box of the picture."""
    deep, known = _decoded(paint.plate)
    matrix = np.eye(2, 3)
    if paint.motion is not None:
        matrix = paint.motion.matrix((size[1], size[0]))
    needed = _seen_through(matrix, box, paint.plate.box)
    cut = np.s_[
        needed.top - paint.plate.box.top : needed.bottom - paint.plate.box.top,
        needed.left - paint.plate.box.left : needed.right - paint.plate.box.left,
    ]
    lit = _lit(deep[cut], paint.light, needed, size)
    matrix = matrix @ np.array([[1, 0, needed.left], [0, 1, needed.top], [0, 0, 1]])
    matrix[:, 2] -= box.left, box.top
    plate = cv2.warpAffine(lit, matrix, box.size, borderMode=cv2.BORDER_REPLICATE)
    seen = cv2.warpAffine(known[cut], matrix, box.size, borderMode=cv2.BORDER_CONSTANT)
    return np.asarray(plate, np.float32), np.asarray(seen, np.float32)


def _seen_through(matrix: Doubles, box: Box, whole: Box) -> Box:
    """The part of the plate that a box of the picture shows, with a rim to interpolate."""
    back = cv2.invertAffineTransform(matrix)
    corners = [(x, y) for x in (box.left, box.right) for y in (box.top, box.bottom)]
    points = np.array(corners, np.float64) @ back[:, :2].T + back[:, 2]
    low, high = np.floor(points.min(axis=0)) - 2, np.ceil(points.max(axis=0)) + 3
    left, top = (int(np.clip(v, a, b - 1)) for v, a, b in _limits(low, whole))
    right, bottom = (int(np.clip(v, a + 1, b)) for v, a, b in _limits(high, whole))
    return Box(left, top, max(right, left + 1), max(bottom, top + 1))


def _limits(point: Doubles, whole: Box) -> list[tuple[float, int, int]]:
    return [(point[0], whole.left, whole.right), (point[1], whole.top, whole.bottom)]


def _lit(deep: Pixels, light: LightChange | None, box: Box, size: tuple[int, int]) -> Floats:
    if light is None:
        return np.asarray(deep * np.float32(255 / 65535), np.float32)
    return relit(np.ascontiguousarray(deep), light, (box.left, box.top, *size))


@lru_cache(maxsize=2)
def _decoded(plate: CleanPlate) -> tuple[Pixels, Floats]:
    deep = cv2.imdecode(np.frombuffer(plate.picture, np.uint8), cv2.IMREAD_UNCHANGED)
    known = cv2.imdecode(np.frombuffer(plate.known, np.uint8), cv2.IMREAD_UNCHANGED)
    return np.asarray(deep), np.asarray(known, np.float32) / np.float32(255)


def _png(picture: Pixels) -> bytes:
    _, data = cv2.imencode(".png", picture, [cv2.IMWRITE_PNG_COMPRESSION, 1])
    return bytes(data.tobytes())
