"""From picture to table: a homography from four tapped corners of a known rectangle.

Pixels (x right, y down) go to millimetres on the table, seen from above with the first tapped
corner at (0, 0). The error of a distance comes from the taps' own uncertainty, carried through the
geometry to first order (JCGM 100:2008, 5.1.2).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from standclear.timing.errors import TableError

Floats = NDArray[np.float64]

# Long and short edge in mm: ISO 216 (A4), ANSI/ASME Y14.1 (Letter), ISO/IEC 7810 (ID-1).
KNOWN_RECTANGLES = {"A4": (297.0, 210.0), "Letter": (279.4, 215.9), "ID-1": (85.60, 53.98)}
TAP_SD_PX = 1.0
_FLATTEST = 0.02  # a triangle of corners lower than this share of its longest side is a line


@dataclass(frozen=True, slots=True)
class Measure:
    """A length on the table in mm and the standard deviation that the taps leave it with."""

    mm: float
    sd_mm: float


@dataclass(frozen=True, slots=True)
class Table:
    """A calibrated table. Make one with ``calibrate``.

    ``picture`` is the width and height of the picture in which the corners were tapped.
    """

    corners: tuple[tuple[float, float], ...]
    first_edge_mm: float
    second_edge_mm: float
    tap_sd_px: float
    picture: tuple[int, int] | None
    to_mm: Floats = field(repr=False, compare=False)

    def mm(self, pixels: ArrayLike) -> Floats:
        """Table positions (n, 2) in mm of picture points (n, 2). TableError beyond the horizon."""
        return _project(self.to_mm, _points(pixels))

    def pixels(self, mm: ArrayLike) -> Floats:
        """Picture points (n, 2) of table positions (n, 2) in mm."""
        return _project(_inverse(self.to_mm), _points(mm))

    def distance(self, start: Sequence[float], end: Sequence[float]) -> Measure:
        """The distance on the table between two picture points, with its error."""
        ends = _points([start, end])
        value = _span(self.to_mm, ends)
        changes = [_span(h, ends) - value for h in self._nudged()]
        for axis in np.eye(4).reshape(4, 2, 2):  # the two ends are tapped as well
            changes.append(_span(self.to_mm, ends + axis) - value)
        return Measure(value, self.tap_sd_px * float(np.linalg.norm(changes)))

    def error_percent(self) -> float:
        """The worst standard error, in percent, of a length as long as the rectangle's diagonal."""
        a, b, c, d = self.corners
        measures = [self.distance(a, c), self.distance(b, d)]
        return max(100 * m.sd_mm / m.mm for m in measures)

    def _nudged(self) -> list[Floats]:
        """The eight homographies with one tapped coordinate one pixel off."""
        size = (self.first_edge_mm, self.second_edge_mm)
        corners = np.array(self.corners)
        return [_homography(corners + n.reshape(4, 2), *size) for n in np.eye(8)]


def calibrate(
    corners: Sequence[Sequence[float]],
    first_edge_mm: float,
    second_edge_mm: float,
    tap_sd_px: float = TAP_SD_PX,
    picture: tuple[int, int] | None = None,
) -> Table:
    """A Table from four corners tapped in order round the rectangle, either way round.

    ``first_edge_mm`` is the edge from the first corner to the second. Raises TableError, with a
    sentence, for corners that are crossed, in a line, dented or missing.
    """
    tapped = _points(corners)
    if len(tapped) != 4:
        raise TableError("Tap all four corners of the rectangle.")
    for edge in (first_edge_mm, second_edge_mm):
        if not (np.isfinite(edge) and 5 <= edge <= 10_000):
            raise TableError("The rectangle's edges measure 5 mm to 10 m; type them in mm.")
    if not (np.isfinite(tap_sd_px) and 0 < tap_sd_px <= 100):
        raise TableError("The tap's error lies between 0 and 100 pixels.")
    _refuse_impossible(tapped)
    to_mm = _homography(tapped, first_edge_mm, second_edge_mm)
    kept = tuple((float(x), float(y)) for x, y in tapped)
    edges = float(first_edge_mm), float(second_edge_mm)
    return Table(kept, *edges, float(tap_sd_px), picture, to_mm)


def known_rectangle(name: str, long_edge_first: bool = True) -> tuple[float, float]:
    """First and second edge in mm of A4, Letter or ID-1."""
    if name not in KNOWN_RECTANGLES:
        raise TableError("Known rectangles are A4, Letter and ID-1; type the edges of any other.")
    long, short = KNOWN_RECTANGLES[name]
    return (long, short) if long_edge_first else (short, long)


def _refuse_impossible(corners: Floats) -> None:
    turns = []
    for n in range(4):
        a, b, c = corners[n], corners[(n + 1) % 4], corners[(n + 2) % 4]
        longest = max(np.linalg.norm(b - a), np.linalg.norm(c - b), np.linalg.norm(a - c))
        if longest < 20:
            raise TableError("The corners are too close together; move the camera or the sheet.")
        turn = float(_cross(b - a, c - b))
        if abs(turn) < _FLATTEST * longest**2:
            raise TableError("Three of the corners lie in one line; tap the four corners again.")
        turns.append(turn > 0)
    if sum(turns) == 2:
        raise TableError("The edges cross; tap the corners in order round the rectangle.")
    if len(set(turns)) != 1:
        raise TableError(
            "One corner lies inside the other three, and no rectangle looks like that; tap again."
        )


def _homography(corners: Floats, first: float, second: float) -> Floats:
    """The 3x3 matrix from picture to table, exact through the four corners.

    It is solved from table to picture and turned round: that way the first corner's depth is 1, so
    the horizon cannot pass through the origin, and what is in front of the camera has depth > 0.
    """
    a, b, c = corners[0], corners[1], corners[2]
    sheet = np.array([[0, 0], [first, 0], [first, second], [0, second]], dtype=np.float64)
    if _cross(b - a, c - b) < 0:  # tapped anticlockwise: keep the view from above, not mirrored
        sheet = sheet[:, ::-1]
    rows = []
    for (x, y), (u, v) in zip(sheet, corners, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
    solved = np.linalg.solve(np.array(rows), corners.reshape(-1))
    return _inverse(np.append(solved, 1.0).reshape(3, 3))


def _inverse(matrix: Floats) -> Floats:
    return np.asarray(np.linalg.inv(matrix), dtype=np.float64)


def _project(matrix: Floats, points: Floats) -> Floats:
    homogeneous = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    depth = homogeneous[:, 2]
    if (depth < 1e-6).any():
        raise TableError("That point lies beyond the table's horizon; choose one on the table.")
    return np.asarray(homogeneous[:, :2] / depth[:, None])


def _span(matrix: Floats, ends: Floats) -> float:
    start, end = _project(matrix, ends)
    return float(np.linalg.norm(end - start))


def _cross(a: Floats, b: Floats) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _points(values: ArrayLike) -> Floats:
    try:
        array = np.array(values, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise TableError("Points are pairs of numbers, x and y.") from error
    if array.ndim != 2 or array.shape[1] != 2:
        raise TableError("Points are pairs of numbers, x and y.")
    if not (np.isfinite(array).all() and np.abs(array).max(initial=0) <= 1e6):
        raise TableError("Points must be plain numbers within the picture.")
    return array
