"""What a picture file is, and whether it came whole: JPEG, PNG, TIFF and its RAWs, ISO BMFF, RAF.

Pure: bytes in, facts out. Only the structure is read (headers, lengths, end markers), never the
coded picture, so that an 8 MB JPEG costs well under 2 ms. What is altered inside the coded picture
without touching the structure is therefore not noticed, except in PNG, which carries checksums.

Sources: JPEG, ITU-T T.81 annex B; PNG, ISO/IEC 15948; TIFF 6.0 and TIFF/EP (ISO 12234-2); ISO base
media files, ISO/IEC 14496-12. Media types: freedesktop.org shared-mime-info.
"""

import struct
import zlib
from dataclasses import dataclass

from standclear.imaging import container_bmff, container_jpeg, container_tiff

#: A start that must be there, for each kind whose first bytes alone tell it.
JPEG_START = b"\xff\xd8\xff"
PNG_START = b"\x89PNG\r\n\x1a\n"
RAF_START = b"FUJIFILMCCD-RAW "


@dataclass(frozen=True, slots=True)
class FileFacts:
    """Kind of a picture file. ``extension`` is lower case, without the dot.

    ``width`` and ``height`` are in pixels as stored: an Exif orientation is not applied.
    ``None`` where the file does not tell.
    """

    media_type: str
    extension: str
    width: int | None
    height: int | None


UNKNOWN = FileFacts("application/octet-stream", "bin", None, None)


def identify(data: bytes) -> FileFacts:
    """The kind and size of a picture, from its first bytes and headers. Never raises."""
    try:
        return _identify(data)
    except (struct.error, IndexError):
        return UNKNOWN


def check_whole(data: bytes) -> str | None:
    """``None`` when the file's structure is complete, else a sentence that says what is wrong.

    A kind that is not known cannot be judged, and passes unless it is empty.
    """
    if not data:
        return "The file is empty."
    try:
        return _check(data)
    except (struct.error, IndexError):
        return "The file is cut short inside its headers."


def _identify(data: bytes) -> FileFacts:
    if data.startswith(JPEG_START):
        return FileFacts("image/jpeg", "jpg", *container_jpeg.dimensions(data))
    if data.startswith(PNG_START):
        return FileFacts("image/png", "png", *struct.unpack_from(">II", data, 16))
    if data.startswith(RAF_START):
        return FileFacts("image/x-fuji-raf", "raf", *_raf_dimensions(data))
    if container_tiff.is_tiff(data):
        return FileFacts(*container_tiff.facts(data))
    if container_bmff.is_bmff(data):
        return FileFacts(*container_bmff.facts(data))
    return UNKNOWN


def _check(data: bytes) -> str | None:
    if data.startswith(JPEG_START):
        return container_jpeg.check(data)
    if data.startswith(PNG_START):
        return _check_png(data)
    if data.startswith(RAF_START):
        return _check_raf(data)
    if container_tiff.is_tiff(data):
        return container_tiff.check(data)
    if container_bmff.is_bmff(data):
        return container_bmff.check(data)
    return None


def _check_png(data: bytes) -> str | None:
    at = len(PNG_START)
    view = memoryview(data)
    while at + 12 <= len(data):
        length, name = struct.unpack_from(">I4s", data, at)
        end = at + 8 + length
        if end + 4 > len(data):
            break
        (told,) = struct.unpack_from(">I", data, end)
        if zlib.crc32(view[at + 4 : end]) != told:
            return f"The PNG was altered on its way: the checksum of a part at byte {at} is wrong."
        if name == b"IEND":
            return None
        at = end + 4
    return "The PNG is cut short: its end chunk is missing."


def _raf_parts(data: bytes) -> list[tuple[int, int]]:
    """(offset, length) of the preview, the header of the sensor's data, and the sensor's data."""
    told = struct.unpack_from(">6I", data, 84)
    return list(zip(told[::2], told[1::2], strict=True))


def _raf_dimensions(data: bytes) -> tuple[int | None, int | None]:
    """Width and height of the sensor's picture: two 16-bit numbers, height first (tags 0x111,
    0x100 of the sensor's header), as its public descriptions have it."""
    at, length = _raf_parts(data)[1]
    (count,) = struct.unpack_from(">I", data, at)
    found: dict[int, tuple[int, int]] = {}
    place = at + 4
    for _ in range(count):
        if place + 4 > at + length:
            break
        tag, size = struct.unpack_from(">HH", data, place)
        if size == 4:
            height, width = struct.unpack_from(">HH", data, place + 4)
            found[tag] = (width, height)
        place += 4 + size
    return found.get(0x111) or found.get(0x100) or (None, None)


def _check_raf(data: bytes) -> str | None:
    end = max(at + length for at, length in _raf_parts(data))
    if end > len(data):
        return f"The RAW file is cut short: {len(data)} of {end} bytes."
    return None
