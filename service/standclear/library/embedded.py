"""The JPEG that a raw file carries inside: found by its markers, whatever the container.

JPEG markers after ITU-T T.81: SOI FF D8, frame headers SOF0..SOF2 hold height and width; SOF3
(lossless) is raw data itself and is passed over.
"""

import re
from dataclasses import dataclass

_START = re.compile(rb"\xff\xd8\xff")
_SHOWABLE = {0xC0, 0xC1, 0xC2}
_FRAMES = {0xC0, 0xC1, 0xC2, 0xC3, *range(0xC5, 0xC8), *range(0xC9, 0xCC), *range(0xCD, 0xD0)}
_CANDIDATES_MAX = 2000


@dataclass(frozen=True, slots=True)
class Embedded:
    """Where a JPEG begins in the file, and its size in pixels."""

    offset: int
    width: int
    height: int


def largest_jpeg(data: bytes) -> Embedded | None:
    """The embedded JPEG with the most pixels; ``None`` where there is none."""
    best: Embedded | None = None
    for count, match in enumerate(_START.finditer(data)):
        if count == _CANDIDATES_MAX:
            break
        found = _header(data, match.start())
        if found and (best is None or found.width * found.height > best.width * best.height):
            best = found
    return best


def _header(data: bytes, start: int) -> Embedded | None:
    """Walk the segments from SOI to the frame header."""
    at = start + 2
    while at + 9 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xFF:
            at += 1
            continue
        if marker in _FRAMES:
            height, width = (
                int.from_bytes(data[at + 5 : at + 7], "big"),
                int.from_bytes(data[at + 7 : at + 9], "big"),
            )
            return Embedded(start, width, height) if marker in _SHOWABLE and width else None
        length = int.from_bytes(data[at + 2 : at + 4], "big")
        if length < 2 or marker in {0xD8, 0xD9, 0xDA}:
            return None
        at += 2 + length
    return None
