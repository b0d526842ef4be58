"""ISO base media files that hold one photograph (ISO/IEC 14496-12): HEIF, AVIF, CR3."""

import struct
from collections.abc import Iterator

#: Boxes to step into, with how many bytes stand before their first child.
_CONTAINERS = {b"moov": 0, b"trak": 0, b"mdia": 0, b"minf": 0, b"stbl": 0, b"stsd": 8}
_CONTAINERS |= {b"meta": 4, b"iprp": 0, b"ipco": 0}
_BY_BRAND = {
    b"crx ": ("image/x-canon-cr3", "cr3"),
    b"avif": ("image/avif", "avif"),
    b"heic": ("image/heic", "heic"),
    b"heix": ("image/heic", "heic"),
    b"mif1": ("image/heif", "heif"),
    b"msf1": ("image/heif", "heif"),
}
_OTHER = ("application/octet-stream", "bin")
_HEADER = 8


def is_bmff(data: bytes) -> bool:
    """Whether a file type box stands first."""
    return data[4:8] == b"ftyp"


def facts(data: bytes) -> tuple[str, str, int | None, int | None]:
    """(media type, extension, width, height); the size is that of the largest picture inside."""
    media_type, extension = _BY_BRAND.get(data[8:12], _OTHER)
    sizes = list(_sizes(data, 0, len(data)))
    width, height = max(sizes, key=lambda size: size[0] * size[1], default=(None, None))
    return media_type, extension, width, height


def check(data: bytes) -> str | None:
    """A sentence when the boxes of the top level do not end where the file ends."""
    end = 0
    names = set()
    for name, _, box_end in _boxes(data, 0, len(data)):
        names.add(name)
        end = box_end
    if end > len(data):
        return f"The file is cut short: {len(data)} of at least {end} bytes."
    if end < len(data):
        return f"The file is cut short or altered at byte {end}."
    if not names & {b"mdat", b"idat"} and b"meta" not in names:
        return "The file is cut short: it holds no picture."
    return None


def _boxes(data: bytes, at: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """(name, start of the content, end) of each box; the last may reach beyond ``end``."""
    while at + _HEADER <= end:
        size, name = struct.unpack_from(">I4s", data, at)
        start = at + _HEADER
        if size == 1:
            if at + 16 > end:
                return
            (size,) = struct.unpack_from(">Q", data, start)
            start += 8
        elif size == 0:
            size = end - at
        if size < start - at:
            return
        yield name, start, at + size
        at += size


def _sizes(data: bytes, at: int, end: int) -> Iterator[tuple[int, int]]:
    for name, start, box_end in _boxes(data, at, end):
        if name in _CONTAINERS:
            yield from _sizes(data, start + _CONTAINERS[name], min(box_end, end))
        elif name == b"ispe" and start + 12 <= end:  # ISO/IEC 23008-12, 6.5.3
            yield struct.unpack_from(">II", data, start + 4)
        elif name == b"CRAW" and start + 28 <= end:  # a visual sample entry, 14496-12, 12.1.3
            yield struct.unpack_from(">HH", data, start + 24)
