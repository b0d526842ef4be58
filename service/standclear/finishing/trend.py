"""What in a shot's light is meant and what is flicker. Pure arithmetic.

A lamp that is switched on is a step that lasts; a fade is a slope that lasts. Both are kept: the
path of the light over the exposures is cut into few straight pieces by dynamic programming (R.
Bellman, "On the approximation of curves by line segments", CACM 4, 1961) with a price for each
piece (Schwarz's information criterion), and what is left beside the pieces is flicker. Pieces that
differ too little to be meant are joined.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Doubles = npt.NDArray[np.float64]

SHORTEST = 6
"""Exposures that a light must last to count as meant."""

LEAST_STEP = 0.05
"""Natural logarithm of light (0.07 stops): a smaller lasting step is taken for drift."""

PRICE = 4.0
"""Times the noise's variance times the log of the count: the price of a constant piece."""


@dataclass(frozen=True)
class Piece:
    """Exposures ``start`` to ``stop`` (not included); a fade when ``sloping``."""

    start: int
    stop: int
    sloping: bool


def trend(paths: Doubles, heeded: npt.NDArray[np.int_], deciding: Doubles) -> Doubles:
    """The meant part of ``paths`` (exposures, quantities), same shape.

    ``heeded`` are the indices of the exposures that count; between them the trend is drawn on.
    ``deciding`` (exposures, few quantities) says where the pieces lie.
    """
    known = paths[heeded]
    fitted = np.zeros_like(known)
    for piece in pieces(deciding[heeded]):
        fitted[piece.start : piece.stop] = _fit(known[piece.start : piece.stop], piece.sloping)
    places = np.arange(len(paths))
    drawn = [np.interp(places, heeded, column) for column in fitted.T]
    return np.stack(drawn, axis=1)


def pieces(paths: Doubles) -> list[Piece]:
    """The path (exposures, quantities) cut into lasting pieces, in order."""
    if len(paths) < 2 * SHORTEST:
        return [Piece(0, len(paths), False)]
    calm = _without_flashes(paths)
    return _joined(calm, _cut(calm))


def noise_of(paths: Doubles) -> Doubles:
    """Standard deviation of each quantity from its second differences, blind to steps and fades."""
    if len(paths) < 3:
        return np.full(paths.shape[1], 1e-4)
    second = np.abs(np.diff(paths, n=2, axis=0))
    return np.asarray(np.maximum(1.4826 * np.median(second, axis=0) / np.sqrt(6), 1e-4))


def _without_flashes(paths: Doubles) -> Doubles:
    """Single exposures far from their neighbours' median pulled in, so that they cut nothing."""
    half = SHORTEST - 1
    padded = np.pad(paths, ((half, half), (0, 0)), mode="reflect")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1, axis=0)
    middle = np.median(windows, axis=-1)
    room = 1.5 * np.maximum(noise_of(paths), 1e-4)
    return np.asarray(middle + np.clip(paths - middle, -room, room))


def _cut(paths: Doubles) -> list[Piece]:
    """Cheapest cut into constant and sloping pieces."""
    count = len(paths)
    scaled = paths / noise_of(paths)
    price = PRICE * np.log(count) * paths.shape[1]
    best = np.full(count + 1, np.inf)
    best[0] = 0.0
    came = np.zeros((count + 1, 2), dtype=int)
    sums = _Sums(scaled)
    for stop in range(SHORTEST, count + 1):
        starts = np.arange(0, stop - SHORTEST + 1)
        flat, sloped = sums.costs(starts, stop)
        for kind, cost in enumerate((flat + price, sloped + 1.5 * price)):
            total = best[starts] + cost
            cheapest = int(np.argmin(total))
            if total[cheapest] < best[stop]:
                best[stop] = total[cheapest]
                came[stop] = starts[cheapest], kind
    found: list[Piece] = []
    stop = count
    while stop > 0:
        start, kind = came[stop]
        found.append(Piece(int(start), stop, bool(kind)))
        stop = int(start)
    return found[::-1]


class _Sums:
    """Running sums that give the squared error of any piece at once."""

    def __init__(self, values: Doubles) -> None:
        place = np.arange(len(values), dtype=np.float64)[:, None]
        zero = np.zeros((1, values.shape[1]))
        self.value = np.vstack([zero, np.cumsum(values, axis=0)])
        self.square = np.vstack([zero, np.cumsum(values * values, axis=0)])
        self.moment = np.vstack([zero, np.cumsum(values * place, axis=0)])

    def costs(self, starts: npt.NDArray[np.int_], stop: int) -> tuple[Doubles, Doubles]:
        """Squared errors of the constant and the straight line over start..stop."""
        length = (stop - starts).astype(np.float64)[:, None]
        total = self.value[stop] - self.value[starts]
        flat = self.square[stop] - self.square[starts] - total * total / length
        centre = (starts[:, None] + stop - 1) / 2.0
        lean = self.moment[stop] - self.moment[starts] - centre * total
        spread = np.maximum(length * (length * length - 1) / 12.0, 1e-9)
        sloped = flat - lean * lean / spread
        return np.maximum(flat, 0).sum(axis=1), np.maximum(sloped, 0).sum(axis=1)


def _joined(paths: Doubles, found: list[Piece]) -> list[Piece]:
    """Pieces without those that change too little to be meant."""
    calmed = [_calmed(paths, piece) for piece in found]
    result = [calmed[0]]
    for piece in calmed[1:]:
        before = result[-1]
        end = _fit(paths[before.start : before.stop], before.sloping)[-1]
        begin = _fit(paths[piece.start : piece.stop], piece.sloping)[0]
        flat = not before.sloping and not piece.sloping
        if flat and np.abs(begin - end).max() < LEAST_STEP:
            result[-1] = Piece(before.start, piece.stop, False)
        else:
            result.append(piece)
    return result


def _calmed(paths: Doubles, piece: Piece) -> Piece:
    line = _fit(paths[piece.start : piece.stop], piece.sloping)
    meant = np.abs(line[-1] - line[0]).max() >= LEAST_STEP
    return Piece(piece.start, piece.stop, piece.sloping and bool(meant))


def _fit(part: Doubles, sloping: bool) -> Doubles:
    """A constant (median) or straight line (least squares) through (n, quantities)."""
    if not sloping:
        return np.repeat(np.median(part, axis=0)[None], len(part), axis=0)
    place = np.arange(len(part)) - (len(part) - 1) / 2.0
    lean = (place[:, None] * part).sum(axis=0) / (place * place).sum()
    return np.asarray(part.mean(axis=0) + place[:, None] * lean)
