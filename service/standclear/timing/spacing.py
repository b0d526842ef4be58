"""Where the object stands in every exposure of a move, and how far it goes between two.

A move of m frames starts from the pose of the frame before it: frame k (1 to m) stands at
easing(k / m), and frame m at the end. On twos an exposure is shown for two frames and stands where
its last frame stands, so the move still ends where it should.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from standclear.timing.durations import holds
from standclear.timing.easing import Easing
from standclear.timing.errors import TimingError
from standclear.timing.paths import Path

MOST_FRAMES = 24 * 50_000
WHOLE = (0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Tick:
    """One exposure of a move. Distances run along the path, in the path's unit."""

    exposure: int
    first_frame: int
    hold: int
    progress: float
    distance: float
    step: float


def ticks(
    frames: int,
    easing: Easing,
    length: float,
    on: int = 1,
    part: tuple[float, float] = WHOLE,
) -> tuple[Tick, ...]:
    """The exposures of a move over ``length`` in ``frames`` film frames.

    ``part`` is the stretch of the easing's time that these frames cover (a move that was split);
    distances still run from the start of the whole move. Raises TimingError.
    """
    if not 1 <= frames <= MOST_FRAMES:
        raise TimingError(f"A move lasts 1 to {MOST_FRAMES:,} frames.")
    start, end = part
    made: list[Tick] = []
    frame, last = 1, easing(start) * length
    for number, hold in enumerate(holds(frames, on), start=1):
        done = (frame + hold - 1) / frames
        progress = easing(start + (end - start) * done)
        distance = progress * length
        made.append(Tick(number, frame, hold, progress, distance, distance - last))
        frame, last = frame + hold, distance
    return tuple(made)


def positions(path: Path, placed: Sequence[Tick]) -> list[tuple[float, float]]:
    """Where on the path each tick stands: (x, y) in the path's unit."""
    found = path.at(np.array([tick.distance for tick in placed]))
    return [(float(x), float(y)) for x, y in found]
