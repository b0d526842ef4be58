"""The work on one picture as a pure function over (exposure, parameters).

Nothing here knows of other pictures but the neighbours that fill its edges, so that the same work
gives the same bytes in this process, in a pool or on another machine. Between decoding and the
last line all is floating point; then the codes are rounded once, with a dither of one step, since
rounding alone would bring back a flicker of its own.
"""

from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from standclear.finishing.coverage import filled
from standclear.finishing.develop import Pixels, RawRecipe, as_eight_bits, as_sixteen_bits, develop
from standclear.finishing.even import LightChange, relit
from standclear.finishing.framing import View, fit, show
from standclear.finishing.painting import Paint, painted
from standclear.finishing.shot import FilmExposure
from standclear.finishing.steady import Move, placed
from standclear.imaging.similarity import Similarity

Floats = npt.NDArray[np.float32]
_TILE = 256


@dataclass(frozen=True)
class Neighbour:
    """Another exposure, with its own light change and place, that fills what a move uncovers."""

    exposure: FilmExposure
    light: LightChange | None = None
    motion: Similarity | None = None
    paint: Paint | None = None


@dataclass(frozen=True)
class PictureWork:
    """What is done to one picture.

    ``source`` is the shot's width and height in pixels: a picture of another size is made to cover
    it. ``deep`` asks for 16 bits.
    """

    source: tuple[int, int]
    view: View
    deep: bool = False
    raw: RawRecipe = field(default_factory=RawRecipe)
    light: LightChange | None = None
    motion: Similarity | None = None
    fill: tuple[Neighbour, ...] = ()
    paint: Paint | None = None


@dataclass(frozen=True)
class WorkPlan:
    """The work on each picture of a shot: what all share, and what each needs by index."""

    exposures: tuple[FilmExposure, ...]
    common: PictureWork
    lights: dict[int, LightChange] = field(default_factory=dict)
    moves: dict[int, Move] = field(default_factory=dict)
    paints: dict[int, Paint] = field(default_factory=dict)

    def of(self, index: int) -> PictureWork:
        """The work on exposure ``index``."""
        move = self.moves.get(index)
        helpers = () if move is None else move.fill
        fill_from = tuple(
            Neighbour(
                self.exposures[h.index],
                self.lights.get(h.index),
                h.motion,
                self.paints.get(h.index),
            )
            for h in helpers
        )
        return replace(
            self.common,
            light=self.lights.get(index),
            motion=None if move is None else move.motion,
            fill=fill_from,
            paint=self.paints.get(index),
        )


def finished(exposure: FilmExposure, work: PictureWork) -> Pixels:
    """The picture as the film shows it, (height, width, 3), blue first, in 8 bits or 16.

    Raises PictureUnreadable.
    """
    picture = fit(develop(exposure, work.raw), *work.source)
    if work.light is None and work.motion is None:
        shown = show(_touched_up(picture, work.paint), work.view)
        return as_sixteen_bits(shown) if work.deep else as_eight_bits(shown)
    codes = _cleaned(_lit(picture, work.light), work.paint)
    if work.motion is None:
        return _rounded(show(codes, work.view), deep=work.deep)
    shown_codes, covered = placed(codes, work.motion, work.view)
    for neighbour in work.fill:
        if covered.min() >= 1.0:
            break
        other, other_covered = _seen(neighbour, work.source, work.view, work.raw)
        shown_codes = filled(shown_codes, covered, other, other_covered)
    return _rounded(shown_codes, deep=work.deep)


@lru_cache(maxsize=1)
def _seen(
    neighbour: Neighbour, source: tuple[int, int], view: View, raw: RawRecipe
) -> tuple[Floats, Floats]:
    """The view of a neighbour and its coverage. Remembered: bumps in a row share one neighbour."""
    picture = fit(develop(neighbour.exposure, raw), *source)
    codes = _cleaned(_lit(picture, neighbour.light), neighbour.paint)
    if neighbour.motion is not None:
        return placed(codes, neighbour.motion, view)
    return show(codes, view), np.ones((view.out_height, view.out_width), np.float32)


def same(one: Pixels, other: Pixels) -> bool:
    """Whether two pictures are equal, byte for byte."""
    return (
        one.shape == other.shape and one.dtype == other.dtype and bool(np.array_equal(one, other))
    )


def _lit(picture: Pixels, light: LightChange | None) -> Floats:
    """Codes from 0 to 255 as floats, under the changed light."""
    if light is not None:
        return relit(picture, light)
    scale = 1.0 if picture.dtype == np.uint8 else 255.0 / 65535.0
    return np.asarray(picture * np.float32(scale), np.float32)


def _cleaned(codes: Floats, paint: Paint | None) -> Floats:
    if paint is not None:
        part, box, _ = painted(codes, paint)
        codes[box.top : box.bottom, box.left : box.right] = part
    return codes


def _touched_up(picture: Pixels, paint: Paint | None) -> Pixels:
    """The picture with nothing but what is painted changed: elsewhere each byte stays."""
    if paint is None:
        return picture
    part, box, strength = painted(_lit(picture, None), paint)
    area = np.s_[box.top : box.bottom, box.left : box.right]
    fresh = _rounded(part, deep=picture.dtype == np.uint16)
    result = picture.copy()
    result[area] = np.where(strength[:, :, None] > 0, fresh, picture[area])
    return result


def _rounded(codes: Floats, *, deep: bool) -> Pixels:
    """Codes 0 to 255 in 8 or 16 bits, dithered by one step of the result."""
    height, width = codes.shape[:2]
    noise = _dither(height, width)
    if deep:
        sixteen: Pixels = np.clip(codes * np.float32(257.0) + noise, 0, 65535).astype(np.uint16)
        return sixteen
    dithered = codes + noise
    np.clip(dithered, 0, 255, out=dithered)
    return dithered.astype(np.uint8)


@lru_cache(maxsize=2)
def _dither(height: int, width: int) -> Floats:
    """Uniform from 0 to 1, the same for each frame: added before cutting off the fraction."""
    tile = np.random.default_rng(12).random((_TILE, _TILE, 3), np.float32)
    times = (-(-height // _TILE), -(-width // _TILE), 1)
    noise = np.ascontiguousarray(np.tile(tile, times)[:height, :width])
    noise.flags.writeable = False
    return noise
