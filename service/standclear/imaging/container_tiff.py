"""TIFF 6.0 and the RAW files made of it (TIFF/EP, ISO 12234-2): directories, sizes, extents.

A file is taken for a RAW when one of its directories holds sensor data (photometric
interpretation 32803, colour filter array, or 34892, linear raw) or its maker marks it otherwise.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass, field

_WIDTH, _HEIGHT, _PHOTOMETRIC, _MAKE = 0x100, 0x101, 0x106, 0x10F
_STRIPS, _STRIP_BYTES, _TILES, _TILE_BYTES = 0x111, 0x117, 0x144, 0x145
_SUB_IFDS, _JPEG_AT, _JPEG_BYTES, _DNG_VERSION = 0x14A, 0x201, 0x202, 0xC612
_SENSOR = {32803, 34892}
_EXTENTS = ((_STRIPS, _STRIP_BYTES), (_TILES, _TILE_BYTES), (_JPEG_AT, _JPEG_BYTES))
_NEEDED = {_STRIPS, _TILES, _SUB_IFDS}
_TYPE_SIZE = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4}
_NUMBER = {1: "B", 3: "H", 4: "I", 13: "I"}
_MOST_DIRECTORIES = 32
_MOST_VALUES = 100_000

_BY_MAKE = {
    "NIKON": ("image/x-nikon-nef", "nef"),
    "SONY": ("image/x-sony-arw", "arw"),
    "PENTAX": ("image/x-pentax-pef", "pef"),
    "RICOH": ("image/x-pentax-pef", "pef"),
    "SAMSUNG": ("image/x-samsung-srw", "srw"),
    "CANON": ("image/x-canon-cr2", "cr2"),
}
_ORF = ("image/x-olympus-orf", "orf")
_RW2 = ("image/x-panasonic-rw2", "rw2")
_BY_START = {b"IIRO": _ORF, b"IIRS": _ORF, b"MMOR": _ORF, b"IIU\0": _RW2}
_PLAIN = {b"II*\0", b"MM\0*"}

#: Panasonic's own tags in a RW2's first directory: top, left, bottom, right border of the picture.
_RW2_BORDERS = (4, 5, 6, 7)


@dataclass(slots=True)
class Directory:
    """One image file directory: whole numbers by tag, texts by tag, and how long the file must
    be at least for what it points to."""

    numbers: dict[int, tuple[int, ...]] = field(default_factory=dict)
    texts: dict[int, str] = field(default_factory=dict)
    needs: int = 0

    def first(self, tag: int) -> int | None:
        """The first number of a tag, ``None`` without it."""
        values = self.numbers.get(tag)
        return values[0] if values else None


def is_tiff(data: bytes) -> bool:
    """Whether the first four bytes are TIFF's or those of a RAW made of it."""
    return data[:4] in _PLAIN or data[:4] in _BY_START


def facts(data: bytes) -> tuple[str, str, int | None, int | None]:
    """(media type, extension, width, height); the size is that of the largest picture inside."""
    found = list(_directories(data))
    media_type, extension = _kind(data, found)
    if extension == "rw2" and (size := _rw2_size(found)):
        return media_type, extension, *size
    sizes = [
        (width, height)
        for each in found
        if (width := each.first(_WIDTH)) and (height := each.first(_HEIGHT))
    ]
    width, height = max(sizes, key=lambda size: size[0] * size[1], default=(None, None))
    return media_type, extension, width, height


def check(data: bytes) -> str | None:
    """A sentence when a directory or a picture lies beyond the end of the file."""
    found = list(_directories(data))
    if not found:
        return "The file is cut short: its directory is missing."
    end = max(_needs(each, len(data)) for each in found)
    if end > len(data):
        return f"The file is cut short: {len(data)} of at least {end} bytes."
    return None


def _needs(directory: Directory, length: int) -> int:
    """How long the file must be for this directory's pictures and the directories below it."""
    ends = [directory.needs]
    for places, lengths in _EXTENTS:
        numbers = directory.numbers
        pairs = zip(numbers.get(places, ()), numbers.get(lengths, ()), strict=False)
        ends += [at + size for at, size in pairs if at and max(at, size) < 0xFFFFFFFF]
    ends += [at + 2 for at in directory.numbers.get(_SUB_IFDS, ()) if at + 2 > length]
    return max(ends)


def _kind(data: bytes, found: list[Directory]) -> tuple[str, str]:
    if data[:4] in _BY_START:
        return _BY_START[data[:4]]
    if data[8:10] == b"CR":
        return _BY_MAKE["CANON"]
    if any(_DNG_VERSION in each.numbers for each in found):
        return "image/x-adobe-dng", "dng"
    if any(each.first(_PHOTOMETRIC) in _SENSOR for each in found):
        make = next((each.texts[_MAKE] for each in found if _MAKE in each.texts), "").upper()
        for name, kind in _BY_MAKE.items():
            if make.startswith(name):
                return kind
    return "image/tiff", "tif"


def _rw2_size(found: list[Directory]) -> tuple[int, int] | None:
    borders = [found[0].first(tag) for tag in _RW2_BORDERS] if found else []
    known = [border for border in borders if border is not None]
    if len(known) != len(_RW2_BORDERS):
        return None
    top, left, bottom, right = known
    return right - left, bottom - top


def _directories(data: bytes) -> Iterator[Directory]:
    """The chain from the header and all directories below, each once. What lies beyond the end
    is left out: some cameras end the chain with a pointer to nowhere."""
    order = "<" if data[:2] == b"II" else ">"
    waiting = list(struct.unpack_from(order + "I", data, 4))
    seen: set[int] = set()
    while waiting and len(seen) < _MOST_DIRECTORIES:
        at = waiting.pop(0)
        if not 0 < at <= len(data) - 6 or at in seen:
            continue
        seen.add(at)
        directory, after = _directory(data, at, order)
        yield directory
        waiting += [after, *directory.numbers.get(_SUB_IFDS, ())]


def _directory(data: bytes, at: int, order: str) -> tuple[Directory, int]:
    """One directory and the place of the next (0 when it is the last)."""
    (count,) = struct.unpack_from(order + "H", data, at)
    found = Directory()
    if at + 6 + 12 * count > len(data):
        found.needs = at + 6 + 12 * count
        return found, 0
    for index in range(count):
        _read_entry(data, at + 2 + 12 * index, order, found)
    (after,) = struct.unpack_from(order + "I", data, at + 2 + 12 * count)
    return found, after


def _read_entry(data: bytes, at: int, order: str, into: Directory) -> None:
    tag, kind, count = struct.unpack_from(order + "HHI", data, at)
    size = _TYPE_SIZE.get(kind, 0) * count
    if not 0 < count <= _MOST_VALUES or size == 0:
        return
    place = at + 8 if size <= 4 else struct.unpack_from(order + "I", data, at + 8)[0]
    if kind == 2:
        into.texts[tag] = data[place : place + count].split(b"\0")[0].decode("latin-1")
    elif kind in _NUMBER and place + size <= len(data):
        into.numbers[tag] = struct.unpack_from(f"{order}{count}{_NUMBER[kind]}", data, place)
    elif tag in _NEEDED:
        into.needs = max(into.needs, place + size)
