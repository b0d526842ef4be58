"""How much a film flickers and jumps, before and after: measured on the pictures, not planned.

Before: what the survey measured on the originals. After: on the finished pictures themselves as
they pass by, with the watches' own measure of light. Where it got no better, the figures say so.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from threading import Lock
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from standclear.finishing.develop import Pixels
from standclear.finishing.framing import View
from standclear.finishing.lightfit import LUMA_BGR, Doubles
from standclear.finishing.survey import Survey, reduced
from standclear.finishing.trend import trend
from standclear.imaging.light import blocks_of, light_change
from standclear.imaging.prepared import Prepared
from standclear.imaging.registration import Reference, reference_from, register

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


def surveyed(found: Survey, indices: Sequence[int], scale: float) -> Steadiness:
    """The originals as the survey measured them; ``scale`` pixels of the film for one of theirs."""
    levels, shifts = [], []
    for index in indices:
        one = found.measured.get(index)
        light = None if one is None else one.light
        motion = None if one is None else one.motion
        levels.append(float("nan") if light is None else float(LUMA_BGR @ light.terms[:, 0]))
        lost = (float("nan"), float("nan"))
        shifts.append(lost if motion is None else (motion.shift_x * scale, motion.shift_y * scale))
    return _summed(np.array(levels), np.array(shifts).reshape(-1, 2))


class Meter:
    """Looks at finished pictures as they pass by; thread safe.

    The first that it sees is its reference. ``background`` (rows, columns of any grid, 0..1) says
    how surely each place is background.
    """

    def __init__(self, indices: Sequence[int], background: Floats) -> None:
        self._wanted = set(indices)
        self._background = background
        self._lock = Lock()
        self._first: tuple[tuple[Floats, Floats], Reference] | None = None
        self._seen: dict[int, tuple[float, float, float]] = {}

    def see(self, index: int, picture: Pixels) -> None:
        """Measure the finished picture of an exposure, once, if it is among those wanted."""
        with self._lock:
            if index not in self._wanted:
                return
            self._wanted.discard(index)
            seen = reduced(picture, _WIDTH)
            if seen is None:
                return
            if self._first is None:
                self._first = blocks_of(seen.small, seen.trusted), reference_from(seen.texture)
            self._seen[index] = self._measured(seen, *self._first)

    def _measured(
        self, seen: Prepared, blocks: tuple[Floats, Floats], anchor: Reference
    ) -> tuple[float, float, float]:
        still = _resized(self._background, blocks[0].shape)
        change = light_change(blocks, blocks_of(seen.small, seen.trusted), still)
        level = float("nan") if change is None else change.level
        place = register(anchor, seen.texture, self._background)
        if place.covariance is None:
            return level, float("nan"), float("nan")
        scale = seen.original_per_texture
        return level, float(place.motion.shift_x) * scale, float(place.motion.shift_y) * scale

    def result(self) -> Steadiness:
        """What was seen so far, in shot order."""
        with self._lock:
            rows = np.array([self._seen[index] for index in sorted(self._seen)]).reshape(-1, 3)
        return _summed(rows[:, 0], rows[:, 1:])


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
