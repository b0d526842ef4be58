"""From linear light to the numbers in the file: exposure, colour, tone, noise, JPEG.

The tone curve is sRGB's (IEC 61966-2-1). Exposure follows the additive system of photographic
exposure (APEX, Exif 2.32 annex C): a stop is a factor of two in shutter, ISO, or aperture squared.
After the tone curve photon noise is nearly the same at every brightness (variance ∝ light, slope
∝ light^(1/2.4 - 1)), so it is added there with one spread.
"""

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from standclear.cameras.rehearsal.scene import UNIT, Linear

Code16 = NDArray[np.int16]
Picture = NDArray[np.uint8]

_INDEX = np.arange(65536, dtype=np.float32) / UNIT
#: Code values are kept in 1/128 steps between tone curve and noise, to fit 16 bits with a sign.
STEPS = 128.0


def srgb(light: NDArray[np.float32]) -> NDArray[np.float32]:
    """Linear light 0..1 to code values 0..1 (IEC 61966-2-1)."""
    lit = np.clip(light, 0.0, 1.0)
    bent = 1.055 * np.power(np.maximum(lit, 0.0031308), 1.0 / 2.4) - 0.055
    return np.asarray(np.where(lit <= 0.0031308, 12.92 * lit, bent), np.float32)


def tone_table(gains: tuple[float, float, float]) -> NDArray[np.int16]:
    """The table from 16-bit linear light to code steps, gains (B, G, R) included:
    1×65536×3, or ×1 where the three gains are the same (faster)."""
    alike = gains[0] == gains[1] == gains[2]
    channels = [_bent(gain) for gain in (gains[:1] if alike else gains)]
    return np.stack(channels, axis=-1)[None]


def _bent(gain: float) -> NDArray[np.int16]:
    return np.asarray(np.round(srgb(_INDEX * gain) * (255.0 * STEPS)), np.int16)


def develop(linear: Linear, table: NDArray[np.int16]) -> Code16:
    """Apply the table: H×W×3 code values in 1/128 steps."""
    return np.asarray(cv2.LUT(linear, table), np.int16)


def to_bytes(code: Code16) -> Picture:
    """Round code steps to 8 bits (noise below black is mirrored, not cut)."""
    return np.asarray(cv2.convertScaleAbs(code, alpha=1.0 / STEPS), np.uint8)


@lru_cache(maxsize=4)
def _normal(seed: int, rows: int, columns: int, sd: float) -> Code16:
    """Normal noise in whole numbers, rows×columns×3, the same for the same seed."""
    field = np.empty((rows, columns, 3), np.int16)
    cv2.setRNGSeed(seed)
    cv2.randn(field, (0, 0, 0), (sd,) * 3)
    field.setflags(write=False)
    return field


class StillNoise:
    """Sensor noise for stills: fresh lightness noise each time, colour noise from a ready field.

    OpenCV's generator is used as it is twice as fast as NumPy's; its seed is set before each use.
    """

    def __init__(self, seed: int, size: tuple[int, int]) -> None:
        self._size = size
        self._colour = _normal(seed % 2**30 + 90, size[1] + 64, size[0] + 64, 0.75 * STEPS)
        self._light = np.empty((size[1], size[0]), np.int16)
        self._grey = np.empty((size[1], size[0], 3), np.int16)

    def add(self, code: Code16, sd: float, rng: np.random.Generator) -> None:
        """Noise of that spread (in 8-bit code values) on top of ``code``, in place."""
        cv2.setRNGSeed(int(rng.integers(1, 2**30)))
        cv2.randn(self._light, 0, 0.66 * STEPS * sd)
        x, y = (int(v) for v in rng.integers(0, 64, 2))
        crop = self._colour[y : y + self._size[1], x : x + self._size[0]]
        cv2.merge([self._light] * 3, dst=self._grey)
        cv2.scaleAdd(crop, sd, self._grey, dst=self._grey)
        cv2.add(code, self._grey, dst=code)


class LiveNoise:
    """Sensor noise for live pictures: crops of a ready-made field, two cheap additions."""

    def __init__(self, seed: int, size: tuple[int, int], sd: float) -> None:
        self._size = size
        noise = _normal(seed % 2**30 + 91, size[1] + 180, size[0] + 320, sd)
        self._more = np.maximum(noise, 0).astype(np.uint8)
        self._less = np.maximum(-noise, 0).astype(np.uint8)

    def add(self, picture: Picture, rng: np.random.Generator) -> None:
        """Noise on top of ``picture``, in place."""
        x, y = int(rng.integers(0, 320)), int(rng.integers(0, 180))
        crop = np.s_[y : y + self._size[1], x : x + self._size[0]]
        cv2.add(picture, self._more[crop], dst=picture)
        cv2.subtract(picture, self._less[crop], dst=picture)


def jpeg(picture: Picture, quality: int = 92) -> bytes:
    """The picture as a JPEG."""
    _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return bytes(data)
