"""JPEGs of any size and any byte length, for tests that need a camera's pictures."""

import functools
import struct

import cv2
import numpy as np
from numpy.typing import NDArray

#: 24 megapixels at 3:2, as many still cameras give them.
LARGE = (6000, 4000)
_SEGMENT = 0xFFFF + 2  # the longest comment segment, its marker included


def texture(width: int, height: int, seed: int = 0) -> NDArray[np.uint8]:
    """A picture (H×W×3, BGR) of soft blots, different for each seed."""
    rng = np.random.default_rng(seed)
    small = rng.integers(0, 256, (max(2, height // 40), max(2, width // 40), 3), dtype=np.uint8)
    return np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR), np.uint8)


def jpeg(width: int, height: int, seed: int = 0, *, quality: int = 90, size: int = 0) -> bytes:
    """One JPEG; with ``size``, exactly that many bytes (padded with comment segments)."""
    done, data = cv2.imencode(
        ".jpg", texture(width, height, seed), [cv2.IMWRITE_JPEG_QUALITY, quality]
    )
    assert done
    return padded(data.tobytes(), size) if size else data.tobytes()


@functools.lru_cache(maxsize=2)
def _large_body(seed: int) -> bytes:
    return jpeg(*LARGE, seed, quality=90)


def large_jpeg(seed: int = 0, size: int = 8_000_000) -> bytes:
    """A 24-megapixel JPEG of ``size`` bytes; each seed gives other bytes, quickly.

    The seed stands in a comment segment over one rendered body, so that a hundred different
    files cost one encoding.
    """
    return padded(comment(_large_body(0), b"picture %06d" % seed), size)


def comment(data: bytes, text: bytes) -> bytes:
    """The JPEG with a comment segment (FF FE) right after its start marker."""
    return data[:2] + b"\xff\xfe" + struct.pack(">H", len(text) + 2) + text + data[2:]


def padded(data: bytes, size: int) -> bytes:
    """The JPEG made ``size`` bytes long by comment segments of arbitrary bytes."""
    missing = size - len(data)
    if missing == 0:
        return data
    if missing < 4:
        raise ValueError(f"{len(data)} bytes cannot be padded to {size}")
    filler = np.random.default_rng(missing).bytes(missing)
    out = [data[:2]]
    while missing:
        part = min(missing, _SEGMENT)
        if 0 < missing - part < 4:
            part -= 4  # leave room for the last segment's own four bytes
        out.append(b"\xff\xfe" + struct.pack(">H", part - 2) + filler[: part - 4])
        missing -= part
    out.append(data[2:])
    return b"".join(out)
