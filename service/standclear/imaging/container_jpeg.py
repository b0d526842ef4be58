"""JPEG's segments (ITU-T T.81, annex B): the frame header's size, and the end of image.

The coded picture itself is stepped over: inside it every FF is followed by 00 or a restart marker
(B.1.1.5), so that the first other marker after the scan's start is a real one.
"""

import re
import struct
from collections.abc import Iterator

_SOI, _EOI, _SOS, _TEM = 0xD8, 0xD9, 0xDA, 0x01
_RESTARTS = range(0xD0, 0xD8)
#: Start of frame: C0 to CF but for DHT (C4), JPG (C8) and DAC (CC); table B.1.
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_NEXT_MARKER = re.compile(rb"\xff+[^\x00\xd0-\xd7\xff]")
_END = b"\xff\xd9"
_TAIL = 64


def segments(data: bytes, at: int = 2) -> Iterator[tuple[int, int, int]]:
    """(marker, start of the payload, end of the payload) from ``at`` to the next scan's header.

    Stops without a word where the bytes end or are not a marker.
    """
    while at + 2 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xFF:  # fill byte, B.1.1.2
            at += 1
            continue
        if marker in _RESTARTS or marker in (_SOI, _EOI, _TEM):
            yield marker, at + 2, at + 2
            if marker == _EOI:
                return
            at += 2
            continue
        if at + 4 > len(data):
            return
        (length,) = struct.unpack_from(">H", data, at + 2)
        yield marker, at + 4, at + 2 + length
        if marker == _SOS:
            return
        at += 2 + length


def dimensions(data: bytes) -> tuple[int | None, int | None]:
    """(width, height) in pixels of the frame header, ``(None, None)`` without one."""
    for marker, start, _ in segments(data):
        if marker in _FRAMES and start + 5 <= len(data):
            height, width = struct.unpack_from(">HH", data, start + 1)
            return width, height
    return None, None


def check(data: bytes) -> str | None:
    """``None`` when frame, scan and end of image are there, else a sentence."""
    framed = False
    for marker, _, end in segments(data):
        framed = framed or marker in _FRAMES
        if marker == _SOS:
            if not framed or end > len(data):
                break
            return None if _ends(data, end) else "The JPEG is cut short: its end marker is missing."
    return "The JPEG is cut short or altered: its headers lead to no picture."


def _ends(data: bytes, scan: int) -> bool:
    """Whether an end of image follows the scan whose coded data starts at ``scan``.

    Nearly every file ends with the marker, some padded with zeros; only one with something else
    behind (a second picture, a maker's notes) is searched.
    """
    if len(data) >= scan + 2 and data.endswith(_END):
        return True
    tail = data[-_TAIL:].rstrip(b"\0")
    if tail.endswith(_END) or (not tail and data.rstrip(b"\0").endswith(_END)):
        return True
    return _searched_end(data, scan)


def _searched_end(data: bytes, at: int) -> bool:
    while found := _NEXT_MARKER.search(data, at):
        at = found.end()
        for marker, _, end in segments(data, found.end() - 2):
            if marker == _EOI:
                return True
            at = max(end, at)
    return False
