"""The path of a move, measured along itself.

Straight between two points, straight from point to point, or a smooth curve through them: a
centripetal Catmull-Rom spline (Yuksel, Schaefer, Keyser 2011), which neither loops nor makes cusps
between close points. Units are those of the points: picture pixels or table millimetres.
"""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from standclear.timing.errors import TimingError

Floats = NDArray[np.float64]
Curve = Literal["straight", "smooth"]
MOST_POINTS = 500
_PARTS = 32  # pieces of each span in the length table
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(6)


class Path:
    """A curve that is asked by distance along it.

    ``points``: (n, 2) with n ≥ 2, each apart from the one before. Raises TimingError.
    """

    def __init__(self, points: ArrayLike, curve: Curve = "straight") -> None:
        self.points = _checked(points)
        self.curve = curve
        self._spans = _spans(self.points, curve)
        self._lengths = _piece_lengths(self._spans)
        self._cumulative = np.concatenate([[0.0], np.cumsum(self._lengths)])

    @property
    def length(self) -> float:
        """The whole length, in the points' unit."""
        return float(self._cumulative[-1])

    def at(self, distance: ArrayLike) -> Floats:
        """Positions (m, 2) at distances (m,) along the path.

        Before the start and past the end the path goes straight on, for easings that overshoot.
        """
        asked = np.atleast_1d(np.asarray(distance, dtype=np.float64))
        inside = np.clip(asked, 0.0, self.length)
        span, u = self._locate(inside)
        found = _evaluate(self._spans, span, u)
        return np.asarray(found + (asked - inside)[:, None] * self._unit(span, u))

    def direction(self, distance: ArrayLike) -> Floats:
        """Unit vectors (m, 2) along the path at distances (m,)."""
        asked = np.atleast_1d(np.asarray(distance, dtype=np.float64))
        return self._unit(*self._locate(np.clip(asked, 0.0, self.length)))

    def _unit(self, span: NDArray[np.intp], u: Floats) -> Floats:
        along = _derivative(self._spans, span, u)
        return np.asarray(along / np.linalg.norm(along, axis=1)[:, None])

    def _locate(self, distance: Floats) -> tuple[NDArray[np.intp], Floats]:
        """Span and parameter in it (0 to 1) at each distance: table, then Newton's steps."""
        piece = np.searchsorted(self._cumulative, distance, side="right") - 1
        piece = np.clip(piece, 0, len(self._lengths) - 1)
        span, part = np.divmod(piece, _PARTS)
        start = part / _PARTS
        wanted = distance - self._cumulative[piece]
        u = start + wanted / self._lengths[piece] / _PARTS
        for _ in range(4):
            speed = np.linalg.norm(_derivative(self._spans, span, u), axis=1)
            error = _length_between(self._spans, span, start, u) - wanted
            u = np.clip(u - error / np.maximum(speed, 1e-300), start, start + 1 / _PARTS)
        return span, u


def _checked(points: ArrayLike) -> Floats:
    try:
        array = np.array(points, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise TimingError("A path is a list of points, each an x and a y.") from error
    if array.ndim != 2 or array.shape[1] != 2 or not 2 <= len(array) <= MOST_POINTS:
        raise TimingError(f"A path needs 2 to {MOST_POINTS} points, each an x and a y.")
    if not (np.isfinite(array).all() and np.abs(array).max() <= 1e6):
        raise TimingError("A path's points must be plain numbers within a million.")
    steps = np.linalg.norm(np.diff(array, axis=0), axis=1)
    if steps.min() < 1e-6:
        raise TimingError("Two neighbouring points of the path are the same; move or remove one.")
    return array


def _spans(points: Floats, curve: Curve) -> Floats:
    """Polynomial coefficients (span, power 0 to 3, xy) with the parameter from 0 to 1."""
    start, end = points[:-1], points[1:]
    chord = end - start
    if curve == "straight":
        nothing = np.zeros_like(chord)
        return np.stack([start, chord, nothing, nothing], axis=1)
    leaving, arriving = _tangents(points)
    return np.stack(
        [start, leaving, 3 * chord - 2 * leaving - arriving, leaving + arriving - 2 * chord], axis=1
    )


def _tangents(points: Floats) -> tuple[Floats, Floats]:
    """Derivatives by each span's own parameter where it leaves and where it arrives."""
    before, after = 2 * points[0] - points[1], 2 * points[-1] - points[-2]
    padded = np.vstack([before, points, after])
    chords = np.diff(padded, axis=0)
    knots = np.sqrt(np.linalg.norm(chords, axis=1))[:, None]  # centripetal: |chord| to the 1/2
    slopes = chords / knots
    joint = (chords[:-1] + chords[1:]) / (knots[:-1] + knots[1:])
    tangent = slopes[:-1] - joint + slopes[1:]
    return tangent[:-1] * knots[1:-1], tangent[1:] * knots[1:-1]


def _evaluate(spans: Floats, span: NDArray[np.intp], u: Floats) -> Floats:
    c, t = spans[span], u[:, None]
    return np.asarray(((c[:, 3] * t + c[:, 2]) * t + c[:, 1]) * t + c[:, 0])


def _derivative(spans: Floats, span: NDArray[np.intp], u: Floats) -> Floats:
    c, t = spans[span], u[:, None]
    return np.asarray((3 * c[:, 3] * t + 2 * c[:, 2]) * t + c[:, 1])


def _length_between(spans: Floats, span: NDArray[np.intp], start: Floats, end: Floats) -> Floats:
    """Arc length from parameter start to end in each span, by six-point Gauss-Legendre."""
    half, middle = (end - start) / 2, (end + start) / 2
    total = np.zeros_like(half)
    for node, weight in zip(_NODES, _WEIGHTS, strict=True):
        speed = np.linalg.norm(_derivative(spans, span, middle + half * node), axis=1)
        total += weight * speed
    return np.asarray(total * half)


def _piece_lengths(spans: Floats) -> Floats:
    count = len(spans)
    span = np.repeat(np.arange(count), _PARTS)
    start = np.tile(np.arange(_PARTS) / _PARTS, count)
    return _length_between(spans, span, start, start + 1 / _PARTS)
