"""Where two exposures of a set differ, by block, when light and camera have been taken out.

Two signs of change are looked at: texture (energy of the difference of band-passed log pictures)
and tone (what the light model leaves, in any colour channel). Both are measured against their usual
size over the picture, so that no threshold depends on the camera.
"""

from dataclasses import dataclass, field
from itertools import pairwise

import cv2
import numpy as np

from standclear.imaging.linear import Floats, Mask
from standclear.imaging.robust import MAD_TO_SD
from standclear.imaging.texture import block_sums

TEXTURE_SD = 7.0
TONE_SD = 10.0
LEAST_TONE = 4.0
"""A tone must have changed by this many times the noise of one block, however even the rest is."""

CHANNEL_NOISE = (0.012, 0.004, 0.008)
"""Noise that a block's blue, green and red have at least at middle grey (natural log): what a JPEG
file's rounded colour may hide. It grows towards the darks as sRGB's steps do."""

MIDDLE_GREY_LOG2 = -2.47

LEAST_ENERGY = 2.5e-5
"""Mean square of a difference (natural log of light) that a JPEG file's rounding may hide."""

LEAST_SPREAD = 0.12
"""Scatter that an energy averaged over 3 x 3 blocks has at least, as a part of itself."""

TONE_BINS = 8

STILL_SHARE = 0.002
RESAMPLED_SHARE = 0.04
"""Part of a block's own texture that a difference may have without being a change: what is left of
it when pictures lie not quite on each other (0.1 px), or one of them was resampled."""


@dataclass(frozen=True)
class Scene:
    """What is kept of an exposure for comparing it with others; both lie on the reference.

    ``detail`` is a band-passed log picture; ``left`` what the light model leaves by block and
    channel (natural log, NaN where light cannot be trusted); ``tone`` log2 light by block;
    ``block`` pixels of detail a block. ``seen`` is False for blocks that a moved camera has lost;
    ``resampled`` says that the picture was brought onto the reference.
    """

    detail: Floats = field(repr=False)
    left: Floats = field(repr=False)
    tone: Floats = field(repr=False)
    seen: Mask = field(repr=False)
    block: int
    resampled: bool = False


@dataclass(frozen=True)
class Difference:
    """``changed`` by block; ``score`` is the strongest sign of changed texture, in standard
    deviations of what unchanged places show."""

    score: float
    changed: Mask = field(repr=False)
    texture: Floats = field(repr=False)

    @property
    def moved_blocks(self) -> int:
        """Blocks whose texture changed: what moves shows there, a change of light does not."""
        return int((self.texture > TEXTURE_SD).sum())

    @property
    def changed_part(self) -> float:
        """Changed part of the picture, 0..1."""
        return float(self.changed.mean())


def difference(before: Scene, after: Scene) -> Difference:
    """Compare two scenes of one size."""
    seen = before.seen & after.seen
    texture = np.where(seen, _texture_signs(before, after), 0.0).astype(np.float32)
    tone = np.where(seen, _tone_signs(before, after), 0.0)
    changed = (texture > TEXTURE_SD) | (tone > TONE_SD)
    return Difference(float(texture.max()), changed, texture)


def _texture_signs(before: Scene, after: Scene) -> Floats:
    """Energy of the difference, averaged over 3 x 3 blocks, in deviations from the usual."""
    apart = after.detail - before.detail
    energy = block_sums((apart, apart), before.block)
    rows, columns = before.tone.shape
    energy = np.maximum(energy[:rows, :columns], LEAST_ENERGY * before.block**2)
    usual = usual_by_tone(energy, before.tone)
    texture = block_sums((before.detail, before.detail), before.block)[:rows, :columns]
    share = RESAMPLED_SHARE if before.resampled or after.resampled else STILL_SHARE
    ratio = energy / np.maximum(usual + share * texture, 1e-12)
    even = cv2.blur(ratio, (3, 3), borderType=cv2.BORDER_REPLICATE)
    spread = max(MAD_TO_SD * float(np.median(np.abs(even - np.median(even)))), LEAST_SPREAD)
    return np.asarray((even - 1.0) / spread, dtype=np.float32)


def _tone_signs(before: Scene, after: Scene) -> Floats:
    """Largest change of any channel, averaged over 3 x 3 blocks, in deviations from the usual."""
    grain = np.exp2((MIDDLE_GREY_LOG2 - before.tone) / 2.4)[..., None]
    apart = (after.left - before.left) / (grain * np.array(CHANNEL_NOISE, dtype=np.float32))
    apart = np.nan_to_num(apart, nan=0.0)
    worst = np.zeros(apart.shape[:2], dtype=np.float32)
    for channel in range(3):
        even = cv2.blur(np.ascontiguousarray(apart[..., channel]), (3, 3))
        worst = np.maximum(worst, np.abs(_in_deviations(even, least=LEAST_TONE / TONE_SD)))
    return worst


def usual_by_tone(values: Floats, tone: Floats) -> Floats:
    """Median of values among blocks of like tone, kept within a third and three times the whole."""
    whole = float(np.median(values))
    edges = np.quantile(tone, np.linspace(0, 1, TONE_BINS + 1))
    middles, usual = [], []
    for low, high in pairwise(edges):
        inside = (tone >= low) & (tone <= high)
        if inside.sum() >= 20:
            middles.append((low + high) / 2)
            usual.append(np.clip(np.median(values[inside]), whole / 3, whole * 3))
    if not middles:
        return np.full(values.shape, whole, dtype=np.float32)
    return np.asarray(np.interp(tone, middles, usual), dtype=np.float32)


def _in_deviations(values: Floats, least: float) -> Floats:
    middle = float(np.median(values))
    spread = max(MAD_TO_SD * float(np.median(np.abs(values - middle))), least)
    return np.asarray((values - middle) / spread, dtype=np.float32)
