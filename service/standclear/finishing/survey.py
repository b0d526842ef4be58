"""Each exposure measured against the shot: where it lies, how its light differs.

Two passes. The first looks at a few exposures spread over the shot and makes the plate: the still
background's light by block, the median of what they show once brought into place. The second
measures every exposure against reference and plate. What is kept for an exposure is a few dozen
numbers, so memory hardly grows with the shot.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import cv2
import numpy as np
import numpy.typing as npt

from standclear.finishing.develop import Pixels
from standclear.finishing.lightfit import (
    Blocks,
    Doubles,
    LightFit,
    Plate,
    fit,
    learn_response,
)
from standclear.finishing.lightfit import grid as field_grid
from standclear.finishing.pipeline import Attendance, in_film_order
from standclear.finishing.problems import CannotExport, PictureUnreadable
from standclear.finishing.sequence import Run
from standclear.imaging.prepared import Prepared, prepare
from standclear.imaging.registration import Reference, reference_from, register
from standclear.imaging.similarity import IDENTITY, Similarity, brought_onto_reference

T = TypeVar("T")
Floats = npt.NDArray[np.float32]

MEASURED_WIDTH = 960
"""Pictures are averaged down to about this width before they are measured."""

COLUMNS = 60
SAMPLES = 24
_LEAST_KNOWN = 0.985
_LEAST_SIDE = 64


@dataclass(frozen=True)
class Measured:
    """One exposure: its motion against the reference in pixels of the source, its light.

    ``motion`` None: nothing ties the picture down. ``light`` None: too little background seen.
    """

    motion: Similarity | None
    motion_sd: float
    light: LightFit | None


@dataclass(frozen=True)
class Survey:
    """All that was measured of a shot, by exposure index."""

    plate: Plate
    measured: dict[int, Measured]
    notes: tuple[str, ...] = ()


def survey(
    indices: Sequence[int],
    picture: Callable[[int], Pixels],
    reference: int,
    patience: Attendance,
    tell: Callable[[int], None] = lambda _: None,
) -> Survey:
    """Measure the exposures ``indices`` (in shot order) against exposure ``reference``.

    ``picture`` develops one; exposures that it cannot read are left out.
    """
    first = reduced(picture(reference))
    if first is None:
        raise CannotExport("The pictures are too small to be evened or steadied (64 pixels).")
    anchor = _Anchor(reference_from(first.texture), first.original_per_texture)

    def look(index: int) -> Prepared | None:
        try:
            return reduced(picture(index))
        except PictureUnreadable:
            return None

    plate = _plate(anchor, list(_each(_spread(indices), look, patience)), patience)
    background = plate.sure.astype(np.float32)

    def measure(index: int) -> tuple[int, Measured] | None:
        seen = look(index)
        if seen is None:
            return None
        placed = anchor.placed(seen, background)
        return index, replace(placed, light=fit(plate, _blocks(seen, placed)))

    measured: dict[int, Measured] = {}
    for index, one in _each(indices, measure, patience):
        measured[index] = one
        tell(len(measured))
    return Survey(plate, measured)


@dataclass(frozen=True)
class _Anchor:
    """The reference, and pixels of the source for one of its own."""

    reference: Reference
    scale: float

    def placed(self, seen: Prepared, background: Floats | None = None) -> Measured:
        if seen.texture[0].shape != self.reference.shape:
            return Measured(None, float("inf"), None)
        found = register(self.reference, seen.texture, background)
        if found.covariance is None:
            return Measured(None, float("inf"), None)
        motion = _plain(found.motion.resized(self.scale))
        return Measured(motion, found.shift_sd * self.scale, None)


def _plate(anchor: _Anchor, samples: Sequence[Prepared], patience: Attendance) -> Plate:
    """From a few exposures; the second turn knows what is background from the first."""

    def blocks_by(background: Floats | None) -> list[Blocks]:
        def blocks(sample: int) -> Blocks:
            seen = samples[sample]
            return _blocks(seen, anchor.placed(seen, background))

        return list(_each(range(len(samples)), blocks, patience))

    plate = plate_from(blocks_by(None))
    blocks = blocks_by(plate.sure.astype(np.float32))
    plate = plate_from(blocks)
    return Plate(plate.log, plate.sure, learn_response(plate, blocks))


def plate_from(samples: Sequence[Blocks]) -> Plate:
    """The still background of several exposures' blocks; their light is levelled first."""
    if not samples:
        raise CannotExport("None of the pictures can be measured.")
    logs = np.stack([sample.log for sample in samples])
    known = np.stack([sample.known for sample in samples])
    ratios = np.where(known > 0, logs - logs[0], np.nan)
    levelled = logs - np.nanmedian(ratios, axis=(1, 2, 3))[:, None, None, None]
    plate = _median_plate(levelled, known)
    for _ in range(2):
        fields = [fit(plate, sample) for sample in samples]
        terms = field_grid(*plate.sure.shape)
        moved = [
            np.zeros(plate.log.shape) if f is None else np.einsum("ct,trk->rkc", f.terms, terms)
            for f in fields
        ]
        plate = _median_plate(logs - np.stack(moved), known)
    return plate


def _median_plate(logs: Doubles, known: Doubles) -> Plate:
    masked = np.where(known > 0, logs, np.nan)
    seen = np.isfinite(masked).sum(axis=0) >= max(1, len(logs) // 3)
    masked = np.where(seen, masked, 0.0)
    middle = np.nanmedian(masked, axis=0)
    spread = 1.4826 * np.nanmedian(np.abs(masked - middle), axis=0).max(axis=2)
    all_seen = seen.all(axis=2)
    # The calmest quarter tells: the object may have been in most places.
    usual = float(np.quantile(spread[all_seen], 0.25)) if all_seen.any() else 1.0
    calm = np.square(np.clip(1.0 - np.square(spread / (6.0 * usual + 0.002)), 0.0, 1.0))
    return Plate(middle, np.where(all_seen, calm, 0.0))


def _plain(motion: Similarity) -> Similarity:
    return Similarity(
        float(motion.shift_x), float(motion.shift_y), float(motion.turn), float(motion.log_scale)
    )


def reduced(picture: Pixels, width_aim: int = MEASURED_WIDTH) -> Prepared | None:
    """A picture averaged down to about ``width_aim`` and prepared to be measured.

    None when it is too small for that.
    """
    height, width = picture.shape[:2]
    if min(height, width) < _LEAST_SIDE:
        return None
    factor = max(1, min(round(width / width_aim), min(height, width) // _LEAST_SIDE))
    cut = picture[: height // factor * factor, : width // factor * factor]
    size = (width // factor, height // factor)
    small = cut if factor == 1 else cv2.resize(cut, size, interpolation=cv2.INTER_AREA)
    return prepare(small, width, height)


def _blocks(seen: Prepared, placed: Measured) -> Blocks:
    motion = (placed.motion or IDENTITY).resized(1 / seen.original_per_small)
    light, trusted = seen.small, seen.trusted
    if motion != IDENTITY:
        light = brought_onto_reference(light, motion)
        trusted = brought_onto_reference(trusted, motion)
    rows = max(4, round(COLUMNS * light.shape[0] / light.shape[1]))
    size = (COLUMNS, rows)
    mean = np.asarray(cv2.resize(light, size, interpolation=cv2.INTER_AREA), np.float64)
    known = np.asarray(cv2.resize(trusted, size, interpolation=cv2.INTER_AREA), np.float64)
    return Blocks(np.log(np.maximum(mean, 1e-6)), (known > _LEAST_KNOWN).astype(np.float64))


def _spread(indices: Sequence[int]) -> list[int]:
    if len(indices) <= SAMPLES:
        return list(indices)
    places = np.linspace(0, len(indices) - 1, SAMPLES).round().astype(int)
    return [indices[place] for place in places]


def _each(
    indices: Sequence[int], look: Callable[[int], T | None], patience: Attendance
) -> Iterator[T]:
    runs = [Run(index, place, 1) for place, index in enumerate(indices)]
    for _, found in in_film_order(runs, look, patience):
        if found is not None:
            yield found
