"""The clean plate: the set without the support, on the shot's reference and in its even light.

Either one exposure without the support, or the shot's own still background: by pixel the median of
what some exposures show there that have neither support nor object in the way.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from standclear.finishing.develop import Pixels
from standclear.finishing.even import LightChange, relit
from standclear.finishing.following import Place, pixels_of
from standclear.finishing.framing import View
from standclear.finishing.lightfit import TERMS
from standclear.finishing.painting import CleanPlate, encoded, feather_of
from standclear.finishing.pipeline import Attendance
from standclear.finishing.problems import PictureUnreadable
from standclear.finishing.steady import placed
from standclear.finishing.strokes import Box, drawn
from standclear.finishing.survey import Survey
from standclear.imaging.similarity import IDENTITY, Similarity

Floats = npt.NDArray[np.float32]
Mask = npt.NDArray[np.bool_]
Codes = npt.NDArray[np.uint16]

MOST_SAMPLES = 24
LEAST_SAMPLES = 5
_ROOM_BYTES = 256_000_000
_STRIP = 64


@dataclass(frozen=True)
class Set:
    """What is known of the shot: how to get a picture, its size, its survey, where each lies."""

    picture: Callable[[int], Pixels]
    source: tuple[int, int]
    found: Survey
    motions: Mapping[int, Similarity]
    patience: Attendance

    def motion(self, index: int) -> Similarity:
        """From the reference to exposure ``index``, in pixels of the source."""
        return self.motions.get(index, IDENTITY)

    def light(self, index: int, sign: int = 1, more: LightChange | None = None) -> LightChange:
        """From the background's light to an exposure's, or back with -1; and one more change."""
        light = self.found.measured[index].light
        terms = np.zeros((3, TERMS)) if light is None else sign * light.terms
        if more is not None:
            terms = terms + np.array(more.field)
        field = tuple(tuple(map(float, row)) for row in terms)
        return LightChange(field, self.found.plate.response)


def plate_of(scene: Set, index: int, box: Box) -> CleanPlate:
    """One exposure as the plate; raises PictureUnreadable."""
    codes, covered = _on_reference(scene, index, box)
    return encoded(codes, covered, box)


def plate_among(
    scene: Set, places: Mapping[int, Place], box: Box, per_block: float
) -> tuple[CleanPlate, Mask]:
    """The plate from the shot itself, and where it is known; ``per_block`` pixels of the source
    are one block of the places' objects."""
    samples: list[Codes] = []
    free: list[Mask] = []
    width, height = box.size
    room = max(LEAST_SAMPLES, min(MOST_SAMPLES, _ROOM_BYTES // (width * height * 6)))
    for index in _spread(sorted(places), room):
        scene.patience.check()
        try:
            codes, covered = _on_reference(scene, index, box)
        except PictureUnreadable:
            continue
        samples.append(np.rint(np.clip(codes, 0, 255) * np.float32(257)).astype(np.uint16))
        free.append(covered & ~_in_the_way(scene, places[index], box, per_block))
    codes, known = _medians(np.stack(samples), np.stack(free))
    return encoded(codes, known, box), known


def _on_reference(scene: Set, index: int, box: Box) -> tuple[Floats, Mask]:
    """A part of the reference as one exposure shows it, codes 0 to 255, and where it does."""
    lit = relit(scene.picture(index), scene.light(index, -1))
    motion = scene.motion(index)
    if motion == IDENTITY:
        part = lit[box.top : box.bottom, box.left : box.right]
        return part, np.ones(part.shape[:2], dtype=np.bool_)
    view = View(box.left, box.top, *box.size, *box.size)
    codes, covered = placed(lit, motion, view)
    return codes, np.asarray(covered >= 1.0, dtype=np.bool_)


def _in_the_way(scene: Set, place: Place, box: Box, per_block: float) -> Mask:
    feather = 2 * feather_of(scene.source[0])
    drawn_over: Mask = np.asarray(drawn(place.lines, box, feather) > 0, dtype=np.bool_)
    if place.object_blocks is None:
        return drawn_over
    return drawn_over | pixels_of(place.object_blocks, box, per_block)


def _medians(samples: Codes, free: Mask) -> tuple[Floats, Mask]:
    """By pixel and channel the median of the samples that are free there; codes 0 to 255."""
    known: Mask = np.asarray(free.any(axis=0), dtype=np.bool_)
    codes: Floats = np.zeros(samples.shape[1:], np.float32)
    for top in range(0, samples.shape[1], _STRIP):
        rows = np.s_[top : top + _STRIP]
        part = samples[:, rows].astype(np.float32)
        part[~free[:, rows]] = np.inf  # sorted behind all that is seen
        part.sort(axis=0)
        count = np.maximum(free[:, rows].sum(axis=0), 1)
        middle = [(count - 1) // 2, count // 2]
        chosen = [np.take_along_axis(part, m[None, :, :, None], axis=0)[0] for m in middle]
        codes[rows] = (chosen[0] + chosen[1]) / 2
    codes[~known] = 0.0
    codes /= np.float32(257)
    return codes, known


def _spread(indices: Sequence[int], most: int) -> list[int]:
    if len(indices) <= most:
        return list(indices)
    places = np.linspace(0, len(indices) - 1, most).round().astype(int)
    return [indices[place] for place in places]


def painted_part(known: Mask, places: Mapping[int, Place], box: Box, width: int) -> float:
    """The part (0 to 1) of all that is painted over whose background is known."""
    over = np.zeros(known.shape, np.float32)
    for place in places.values():
        over = np.maximum(over, drawn(place.lines, box, feather_of(width)))
    return float((over * known).sum() / max(over.sum(), 1e-9))
