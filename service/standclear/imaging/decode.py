"""The bytes of a picture file to codes that can be measured. No I/O: the bytes are handed in."""

from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np

from standclear.imaging.container import check_whole, identify
from standclear.imaging.limits import too_large
from standclear.imaging.linear import Pixels

REDUCE_ABOVE_PX = 9_000_000
"""JPEG files with more pixels are decoded at half their width and height: that halves the time
and a quarter of the memory suffices, while the fine texture that ties the rig down stays."""

RAW_KINDS = "image/x-"
"""How the media types of sensor data begin: each maker's own, none of them registered."""


@dataclass(frozen=True)
class Decoded:
    """Codes of 8 or 16 bits, (h, w, 3) in the order blue, green, red.

    ``width`` and ``height`` are those of the original, in pixels, as shown (Exif orientation
    applied); ``pixels`` may be half as large. ``monochrome`` says that the file holds no colour.
    """

    width: int
    height: int
    monochrome: bool
    pixels: Pixels = field(repr=False)


@dataclass(frozen=True)
class Undecodable:
    """Why a file gives nothing to measure, as a sentence."""

    says: str


def decode(data: bytes) -> Decoded | Undecodable:
    """Decode a JPEG, PNG or TIFF file of 8 or 16 bits; a RAW or a damaged file answers why not."""
    broken = check_whole(data)
    if broken is not None:
        return Undecodable(f"The file is damaged: {broken}")
    large = too_large(data)
    if large is not None:
        return Undecodable(f"The picture is not measured: {large}")
    facts = identify(data)
    if facts.media_type.startswith(RAW_KINDS):
        return _unmeasurable(facts.media_type)  # not the small preview that lies in front
    area = (facts.width or 0) * (facts.height or 0)
    halved = facts.media_type == "image/jpeg" and area > REDUCE_ABOVE_PX
    how = cv2.IMREAD_REDUCED_COLOR_2 if halved else cv2.IMREAD_COLOR | cv2.IMREAD_ANYDEPTH
    try:
        pixels = cv2.imdecode(np.frombuffer(data, dtype=np.uint8), how)
    except cv2.error:
        pixels = None
    if pixels is None:
        return _unmeasurable(facts.media_type)
    return _described(pixels, facts.width, facts.height, halved)


def _unmeasurable(media_type: str) -> Undecodable:
    return Undecodable(
        f"A picture of the kind {media_type} cannot be measured; "
        "let the camera write a JPEG beside it."
    )


def _described(
    pixels: Any, width: int | None, height: int | None, halved: bool
) -> Decoded | Undecodable:
    if pixels.dtype not in (np.uint8, np.uint16):
        return Undecodable("Only pictures of 8 or 16 bits a channel can be measured.")
    if pixels.ndim == 2:
        pixels = np.repeat(pixels[:, :, None], 3, axis=2)
    factor = 2 if halved else 1
    full = (pixels.shape[1] * factor, pixels.shape[0] * factor)
    if halved and width and height:
        turned = (pixels.shape[1] > pixels.shape[0]) != (width > height)
        full = (height, width) if turned else (width, height)
    sample = pixels[::16, ::16]
    grey = bool(np.all(sample == sample[..., :1]))
    return Decoded(full[0], full[1], grey, pixels)
