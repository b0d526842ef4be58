"""How much a film flickers and jumps, before and after: measured on the pictures, not planned.

After: on the finished pictures themselves, with the watches' own measure of light and place, which
shares nothing with the correction but the pictures. Where it got no better, the figures say so.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from standclear.finishing.develop import Pixels
from standclear.finishing.framing import View
from standclear.finishing.lightfit import Doubles
from standclear.finishing.pipeline import Attendance, in_film_order
from standclear.finishing.sequence import Run
from standclear.finishing.survey import reduced
from standclear.finishing.trend import trend
from standclear.imaging.light import blocks_of, light_change
from standclear.imaging.prepared import Prepared
from standclear.imaging.registration import reference_from, register

Floats = npt.NDArray[np.float32]

MEASURED = 32
_WIDTH = 960


@dataclass(frozen=True)
class Steadiness:
    """``flicker_percent``: sd of the background's light beside its trend; ``jitter_px``: rms of
    the displacement from the mean place, in pixels of the film. None: cannot be told."""

    flicker_percent: float | None
    jitter_px: float | None
    levels: tuple[float, ...] = ()
    shifts: tuple[tuple[float, float], ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Plain JSON values; levels as natural logarithms, shifts in pixels."""
        return {
            "flicker_percent": self.flicker_percent,
            "jitter_px": self.jitter_px,
            "levels": list(self.levels),
            "shifts_px": [list(shift) for shift in self.shifts],
        }


def steadiness(
    indices: Sequence[int],
    picture: Callable[[int], Pixels],
    patience: Attendance,
    background: Floats | None = None,
) -> Steadiness:
    """Measure the pictures of some exposures (in shot order) against the first of them.

    ``background`` (rows, columns of any grid, 0..1) says how surely each place is background.
    """
    runs = [Run(index, place, 1) for place, index in enumerate(indices)]
    levels: list[float] = []
    shifts: list[tuple[float, float]] = []
    first: Prepared | None = None
    for _, seen in in_film_order(runs, lambda index: _reduced(picture(index)), patience):
        if seen is None:
            return Steadiness(None, None)
        if first is None:
            first = seen
            blocks, anchor = blocks_of(seen.small, seen.trusted), reference_from(seen.texture)
            still = None if background is None else _resized(background, blocks[0].shape)
        change = light_change(blocks, blocks_of(seen.small, seen.trusted), still)
        levels.append(float("nan") if change is None else change.level)
        place = register(anchor, seen.texture, background)
        lost = place.covariance is None
        scale = seen.original_per_texture
        shifts.append(
            (float("nan"),) * 2
            if lost
            else (float(place.motion.shift_x) * scale, float(place.motion.shift_y) * scale)
        )
    return _summed(np.array(levels), np.array(shifts).reshape(-1, 2))


def chosen(indices: Sequence[int]) -> list[int]:
    """Which exposures are measured: all of a short shot, else stretches of neighbours."""
    if len(indices) <= MEASURED:
        return list(indices)
    starts = np.linspace(0, len(indices) - MEASURED // 4, 4).round().astype(int)
    places = sorted({int(s) + k for s in starts for k in range(MEASURED // 4)})
    return [indices[place] for place in places]


def compared(before: Steadiness, after: Steadiness) -> tuple[dict[str, Any], tuple[str, ...]]:
    """The figures as JSON, and a sentence for each that got no better."""
    notes = []
    for name, word in (("flicker_percent", "flickers"), ("jitter_px", "jumps")):
        old, new = getattr(before, name), getattr(after, name)
        if old is not None and new is not None and new > max(old, 0.02):
            notes.append(f"The film {word} no less than the originals ({new:g} against {old:g}).")
    return {"before": before.as_json(), "after": after.as_json()}, tuple(notes)


def _summed(levels: Doubles, shifts: Doubles) -> Steadiness:
    flicker = jitter = None
    lit, tied = np.isfinite(levels), np.isfinite(shifts).all(axis=1)
    if lit.sum() >= 3:
        path = levels[lit][:, None]
        beside = path - trend(path, np.arange(len(path)), path)
        flicker = round(100 * float(beside.std()), 4)
    if tied.sum() >= 3:
        away = shifts[tied] - shifts[tied].mean(axis=0)
        jitter = round(float(np.sqrt(np.square(away).sum(axis=1).mean())), 4)
    return Steadiness(
        flicker, jitter,
        tuple(round(float(v), 6) for v in levels[lit]),
        tuple((round(float(x), 4), round(float(y), 4)) for x, y in shifts[tied]),
    )  # fmt: skip


def background_in(view: View, source: tuple[int, int], sure: Doubles) -> Floats:
    """The part of the source's background (rows, columns, 0..1) that the view shows."""
    rows, columns = sure.shape
    x = (view.left + (np.arange(columns) + 0.5) / columns * view.width) / source[0] * columns
    y = (view.top + (np.arange(rows) + 0.5) / rows * view.height) / source[1] * rows
    seen = sure[np.ix_(np.clip(y.astype(int), 0, rows - 1), np.clip(x.astype(int), 0, columns - 1))]
    return np.asarray(seen, np.float32)


def _resized(background: Floats, shape: tuple[int, ...]) -> Floats:
    size = (shape[1], shape[0])
    return np.asarray(cv2.resize(background, size, interpolation=cv2.INTER_NEAREST), np.float32)


def _reduced(picture: Pixels) -> Prepared | None:
    return reduced(picture, _WIDTH)
