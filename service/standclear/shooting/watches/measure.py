"""One exposure measured against a shot's reference: registration, light, focus, and its scene."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from standclear.imaging.difference import Scene
from standclear.imaging.light import BLOCK, LightChange, Response, blocks_of, light_change
from standclear.imaging.linear import Floats
from standclear.imaging.prepared import Prepared
from standclear.imaging.registration import (
    Reference,
    Registration,
    reference_from,
    register,
)
from standclear.imaging.sharpness import FocusChange, focus_change
from standclear.imaging.similarity import (
    IDENTITY,
    Similarity,
    brought_onto_reference,
    brought_sharply,
    covered,
)
from standclear.shooting.watches.rig import LEAST_AGREEING, RigPlace, place_of

DETAIL_WIDTH = 900
"""Poses are compared on the smallest texture level that is at least so wide."""

RIM_PX = 20.0
"""Detail pixels at the border of a moved picture that its own filters have spoilt."""

IN_PLACE_PX = 0.05
"""Pictures that lie closer than this on the reference are not resampled."""


@dataclass(frozen=True)
class Base:
    """A shot's reference, prepared for many measurements. ``size`` is the original's."""

    size: tuple[int, int]
    reference: Reference = field(repr=False)
    blocks: tuple[Floats, Floats] = field(repr=False)
    scene: Scene = field(repr=False)


@dataclass(frozen=True)
class Measured:
    """All that was measured of one exposure. ``shift_sd`` is in pixels of the finest texture."""

    light: LightChange | None
    place: RigPlace
    focus: FocusChange | None
    shift_sd: float
    original_per_detail: float
    scene: Scene | None = field(repr=False)


def base_from(picture: Prepared) -> Base:
    """Make a prepared exposure the reference."""
    blocks = blocks_of(picture.small, picture.trusted)
    left = np.zeros(blocks[0].shape, dtype=np.float32)
    level = _detail_level(picture)
    scene = _scene(picture, left, blocks[0], level, IDENTITY)
    return Base((picture.width, picture.height), reference_from(picture.texture), blocks, scene)


def measure(
    base: Base,
    picture: Prepared,
    background: Floats | None,
    response: Response,
    give_way: Callable[[], object] = lambda: None,
) -> Measured:
    """Measure an exposure of the reference's size. ``background``: see `register`; ``give_way`` is
    called half way."""
    found = register(base.reference, picture.texture, background)
    give_way()
    level = _detail_level(picture)
    with ThreadPoolExecutor(1) as beside:
        focus = beside.submit(_focus, base.reference, found)
        light, scene = _light_and_scene(base, picture, found, background, response)
    return Measured(
        light,
        place_of(found, picture.original_per_texture, picture.width),
        focus.result(),
        found.shift_sd,
        picture.original_per_texture * 2**level,
        scene,
    )


def _focus(reference: Reference, found: Registration) -> FocusChange | None:
    return focus_change(reference, found) if found.covariance is not None else None


def _light_and_scene(
    base: Base,
    picture: Prepared,
    found: Registration,
    background: Floats | None,
    response: Response,
) -> tuple[LightChange | None, Scene | None]:
    """There is no scene where the picture lies off the reference."""
    motion = _sure_motion(found)
    blocks = blocks_of(*_placed(picture, motion))
    light = light_change(base.blocks, blocks, background, response)
    if found.covariance is not None and found.agreeing < LEAST_AGREEING:
        return light, None
    left = light.left if light is not None else np.zeros(blocks[0].shape, dtype=np.float32)
    level = _detail_level(picture)
    at_detail = motion.resized(0.5**level)
    if _way(at_detail, picture.texture[level].shape) < IN_PLACE_PX:
        at_detail = IDENTITY
    return light, _scene(picture, left, blocks[0], level, at_detail)


def _sure_motion(found: Registration) -> Similarity:
    """The motion where it is known; a plain wall's unsure one would only add noise."""
    return found.motion if found.shift_sd < 0.2 else IDENTITY


def _placed(picture: Prepared, motion: Similarity) -> tuple[Floats, Floats]:
    factor = picture.original_per_texture / picture.original_per_small
    at_small = motion.resized(factor)
    return _onto(picture.small, at_small), _onto(picture.trusted, at_small)


def _onto(picture: Floats, motion: Similarity) -> Floats:
    in_place = _way(motion, picture.shape) < IN_PLACE_PX
    return picture if in_place else brought_onto_reference(picture, motion)


def _way(motion: Similarity, shape: tuple[int, ...]) -> float:
    """No point of the picture is moved further than about this, in its pixels."""
    way = abs(motion.shift_x) + abs(motion.shift_y)
    return way + (abs(motion.turn) + abs(motion.log_scale)) * shape[1] / 2


def _detail_level(picture: Prepared) -> int:
    wide = [i for i, level in enumerate(picture.texture) if level.shape[1] >= DETAIL_WIDTH]
    return max(wide, default=0)


def _scene(
    picture: Prepared, left: Floats, blocks: Floats, level: int, motion: Similarity
) -> Scene:
    """``motion`` is in pixels of the detail level; the identity leaves it as it is."""
    detail = picture.texture[level]
    if motion != IDENTITY:
        detail = brought_sharply(detail, motion)
    size = round(BLOCK * picture.original_per_small / picture.original_per_texture / 2**level)
    tone = np.log2(np.maximum(blocks.mean(axis=2), 1e-4)).astype(np.float32)
    rows = min(tone.shape[0], detail.shape[0] // size)
    columns = min(tone.shape[1], detail.shape[1] // size)
    seen = covered(detail.shape, motion, (rows, columns), RIM_PX)
    return Scene(
        detail, left[:rows, :columns], tone[:rows, :columns], seen, size, motion != IDENTITY
    )
