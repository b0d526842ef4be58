"""What the watches need of one exposure, made once: texture levels, and a small linear picture."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from math import ceil

import cv2
import numpy as np

from standclear.imaging.linear import Floats, Pixels, bits_of, linearise
from standclear.imaging.texture import log_light, pyramid

SMALL_WIDTH_PX = 480
HALVED_FROM_PX = 320
"""From this width on the small picture has at most half the size: a block of 4 x 4 of its pixels
then holds at least one whole 8 x 8 block of a JPEG file, whose rounding is not taken for change."""

LARGEST_WIDTH_PX = 3200
"""Wider pictures are averaged down before anything is measured."""

DARK_CODE = 10 / 255
"""Below this sRGB code the camera's black level and rounding make light a guess."""

BRIGHT_CODE = 250 / 255
"""From this sRGB code on a channel may have met its ceiling."""


@dataclass(frozen=True)
class Prepared:
    """One exposure, ready to be measured.

    ``texture`` are the band-passed log levels, finest first; ``small`` is linear light averaged
    down to about 480 pixels' width, (h, w, 3) blue, green, red; ``trusted`` is by pixel and channel
    the part (0..1) that lies between the darks and the ceiling.
    ``original_per_texture`` and ``original_per_small`` are pixels of the original per pixel.
    """

    width: int
    height: int
    monochrome: bool
    original_per_texture: float
    original_per_small: float
    texture: tuple[Floats, ...] = field(repr=False)
    small: Floats = field(repr=False)
    trusted: Floats = field(repr=False)

    @property
    def too_dark(self) -> bool:
        """Nearly nothing lies above the darks."""
        return bool(self.trusted.mean() < 0.02 and self.small.mean() < 0.1)

    @property
    def too_bright(self) -> bool:
        """Nearly everything has met the ceiling."""
        return bool(self.trusted.mean() < 0.02 and self.small.mean() >= 0.1)


def prepare(
    pixels: Pixels, width: int | None = None, height: int | None = None, monochrome: bool = False
) -> Prepared:
    """Prepare codes of 8 or 16 bits, (h, w) or (h, w, 3) blue, green, red.

    ``width`` and ``height`` are those of the original where ``pixels`` were decoded at a part of
    it. ``ValueError`` for a picture smaller than 64 pixels, ``TypeError`` for other codes.
    """
    if pixels.ndim == 2:
        return prepare(_three_channels(pixels), width, height, True)
    if min(pixels.shape[:2]) < 64:
        raise ValueError("a picture to be measured has at least 64 pixels on each side")
    full_width, full_height = width or pixels.shape[1], height or pixels.shape[0]
    fine = texture_factor(pixels.shape[1])
    least = 2 if pixels.shape[1] >= HALVED_FROM_PX else 1
    coarse = max(least, pixels.shape[1] // SMALL_WIDTH_PX)
    with ThreadPoolExecutor(1) as beside:
        texture = beside.submit(_texture, pixels, fine)
        small, trusted = _small(pixels, coarse)
    return Prepared(
        full_width,
        full_height,
        monochrome,
        full_width / pixels.shape[1] * fine,
        full_width / pixels.shape[1] * coarse,
        texture.result(),
        small,
        trusted,
    )


def texture_factor(width: int) -> int:
    """Pixels of a picture of that width in one of its finest texture level."""
    return ceil(width / LARGEST_WIDTH_PX)


def _three_channels(grey: Pixels) -> Pixels:
    colour = np.repeat(grey[:, :, None], 3, axis=2)
    return colour.astype(np.uint8) if bits_of(grey) == 8 else colour.astype(np.uint16)


def _texture(pixels: Pixels, factor: int) -> tuple[Floats, ...]:
    logs = log_light(pixels)
    return pyramid(_averaged(logs, factor) if factor > 1 else logs)


def _small(pixels: Pixels, factor: int) -> tuple[Floats, Floats]:
    """Linear light averaged down, and the trusted part, in strips to keep memory low."""
    strip = factor * max(1, 512 // factor)
    smalls, trusts = [], []
    for top in range(0, pixels.shape[0] - factor + 1, strip):
        part = pixels[top : top + strip]
        smalls.append(_averaged(linearise(part), factor))
        trusts.append(_averaged(_trusted(part), factor))
    return np.concatenate(smalls), np.concatenate(trusts)


def _trusted(pixels: Pixels) -> Floats:
    top = 2 ** bits_of(pixels) - 1
    inside = (pixels >= DARK_CODE * top) & (pixels < BRIGHT_CODE * top)
    return np.asarray(inside, dtype=np.float32)


def _averaged(picture: Floats, factor: int) -> Floats:
    rows, columns = picture.shape[0] // factor, picture.shape[1] // factor
    cut = np.ascontiguousarray(picture[: rows * factor, : columns * factor])
    small = cv2.resize(cut, (columns, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(small, dtype=np.float32)
