"""Picture codes to linear light and back, and the luminance of linear light.

Transfer function: IEC 61966-2-1 (sRGB). Luminance weights: ITU-R BT.709-6, section 3.2. Arrays that
hold colour are in OpenCV's order: blue, green, red.
"""

from functools import cache
from typing import Any, TypeAlias

import cv2
import numpy as np
from numpy.typing import NDArray

Pixels: TypeAlias = NDArray[np.uint8] | NDArray[np.uint16]
Floats: TypeAlias = NDArray[np.float32]
Doubles: TypeAlias = NDArray[np.float64]
Mask: TypeAlias = NDArray[np.bool_]

LUMINANCE_BGR = (0.0722, 0.7152, 0.2126)
"""ITU-R BT.709-6 weights, in the order blue, green, red."""


def srgb_to_linear(encoded: Doubles) -> Doubles:
    """Linear light (0..1) of sRGB values (0..1); IEC 61966-2-1, any shape."""
    low = encoded / 12.92
    high = ((np.maximum(encoded, 0.0) + 0.055) / 1.055) ** 2.4
    return np.where(encoded <= 0.04045, low, high)


def linear_to_srgb(linear: Doubles) -> Doubles:
    """sRGB values (0..1) of linear light (0..1); IEC 61966-2-1, any shape."""
    low = linear * 12.92
    high = 1.055 * np.maximum(linear, 0.0) ** (1 / 2.4) - 0.055
    return np.where(linear <= 0.0031308, low, high)


@cache
def decode_table(bits: int) -> Floats:
    """Linear light for each code of 8 or 16 bits, float32, read only."""
    codes = np.arange(2**bits, dtype=np.float64) / (2**bits - 1)
    return _frozen(srgb_to_linear(codes))


@cache
def log_table(bits: int, offset: float) -> Floats:
    """``log(linear + offset)`` for each code of 8 or 16 bits, float32, read only."""
    codes = np.arange(2**bits, dtype=np.float64) / (2**bits - 1)
    return _frozen(np.log(srgb_to_linear(codes) + offset))


def look_up(pixels: Pixels, table: Floats) -> Floats:
    """Each code replaced by its entry in ``table`` (256 or 65536 entries), same shape."""
    if pixels.dtype == np.uint8:
        looked: Any = cv2.LUT(pixels, table)
        return np.asarray(looked, dtype=np.float32)
    return np.asarray(table[pixels], dtype=np.float32)


def linearise(pixels: Pixels) -> Floats:
    """Linear light 0..1 of 8- or 16-bit sRGB codes, any shape."""
    return look_up(pixels, decode_table(bits_of(pixels)))


def encode(linear: Floats, bits: int = 8) -> Pixels:
    """sRGB codes of 8 or 16 bits, rounded to the nearest, values outside 0..1 clipped."""
    top = 2**bits - 1
    codes = np.rint(linear_to_srgb(np.clip(linear.astype(np.float64), 0.0, 1.0)) * top)
    if bits == 8:
        return np.asarray(codes, dtype=np.uint8)
    return np.asarray(codes, dtype=np.uint16)


def luminance(linear_bgr: Floats) -> Floats:
    """ITU-R BT.709 luminance of linear light, (h, w, 3) → (h, w)."""
    weights = np.array([LUMINANCE_BGR], dtype=np.float32)
    return np.asarray(cv2.transform(linear_bgr, weights), dtype=np.float32)


def bits_of(pixels: Pixels) -> int:
    """8 or 16; ``TypeError`` for anything else."""
    if pixels.dtype == np.uint8:
        return 8
    if pixels.dtype == np.uint16:
        return 16
    raise TypeError(f"pictures have 8 or 16 bits a channel, not {pixels.dtype}")


def _frozen(values: Doubles) -> Floats:
    table = values.astype(np.float32)
    table.flags.writeable = False
    return table
