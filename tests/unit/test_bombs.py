"""A picture whose header claims more than any camera takes is kept, said to be so, and not decoded.

A JPEG's frame header (ISO/IEC 10918-1, B.2.2), a PNG's IHDR (ISO/IEC 15948, 11.2.2) and a TIFF's
ImageWidth and ImageLength (TIFF 6.0) are made to claim 60,000 × 60,000 pixels, or 1,000,000,000:
just less than OpenCV itself refuses (2³⁰).
"""

import struct
import zlib
from io import BytesIO
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile

from standclear.clock import SystemClock
from standclear.finishing.develop import develop
from standclear.finishing.problems import PictureUnreadable
from standclear.finishing.shot import FilmExposure
from standclear.imaging.container import identify
from standclear.imaging.decode import Undecodable, decode
from standclear.library.failures import NoPreview
from standclear.library.library import Library
from tests.library_kit import taken
from tests.pictures import jpeg
from tests.resident import forget_peak, peak_mib

CLAIMS = [(60_000, 60_000), (40_000, 25_000)]
KINDS = ["jpg", "png", "tif", "bmp"]
MOST_MIB = 300


def jpeg_bomb(width: int, height: int) -> bytes:
    data = jpeg(64, 64)
    at = data.index(b"\xff\xc0") + 5
    return data[:at] + struct.pack(">HH", height, width) + data[at + 4 :]


def png_bomb(width: int, height: int) -> bytes:
    def chunk(kind: bytes, body: bytes) -> bytes:
        checked = kind + body
        return struct.pack(">I", len(body)) + checked + struct.pack(">I", zlib.crc32(checked))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    rows = zlib.compress(bytes(width * 3 + 1) * 20)
    parts = [chunk(b"IHDR", head), chunk(b"IDAT", rows), chunk(b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def tiff_bomb(width: int, height: int) -> bytes:
    file = BytesIO()
    tifffile.imwrite(file, np.zeros((64, 64, 3), np.uint8), photometric="rgb")
    data = bytearray(file.getvalue())
    entries = struct.unpack_from("<H", data, struct.unpack_from("<I", data, 4)[0])[0]
    start = struct.unpack_from("<I", data, 4)[0] + 2
    for at in range(start, start + 12 * entries, 12):
        tag = struct.unpack_from("<H", data, at)[0]
        if tag in (256, 257, 278):  # ImageWidth, ImageLength, RowsPerStrip
            value = width if tag == 256 else height
            struct.pack_into("<HII", data, at + 2, 4, 1, value)
    return bytes(data)


def bmp_bomb(width: int, height: int) -> bytes:
    done, data = cv2.imencode(".bmp", np.zeros((64, 64, 3), np.uint8))
    assert done
    made = bytearray(data.tobytes())
    struct.pack_into("<ii", made, 18, width, height)
    return bytes(made)


def bomb(kind: str, claim: tuple[int, int]) -> bytes:
    makers = {"jpg": jpeg_bomb, "png": png_bomb, "tif": tiff_bomb, "bmp": bmp_bomb}
    return makers[kind](*claim)


@pytest.fixture(autouse=True)
def _little_memory() -> object:
    """None of these may take the memory that the header asks for."""
    before = forget_peak()
    yield
    grown = peak_mib() - before
    assert grown < MOST_MIB, f"{grown:.0f} MiB"


@pytest.mark.parametrize("claim", CLAIMS)
@pytest.mark.parametrize("kind", KINDS)
def test_the_watches_do_not_decode_it(kind: str, claim: tuple[int, int]) -> None:
    data = bomb(kind, claim)
    if kind != "bmp":
        assert (identify(data).width, identify(data).height) == claim
    found = decode(data)
    assert isinstance(found, Undecodable)
    assert found.says.endswith(".")


@pytest.mark.parametrize("claim", CLAIMS)
@pytest.mark.parametrize("kind", KINDS)
def test_the_film_does_not_decode_it(kind: str, claim: tuple[int, int], tmp_path: Path) -> None:
    path = tmp_path / f"0001.{kind}"
    path.write_bytes(bomb(kind, claim))
    with pytest.raises(PictureUnreadable, match=path.name):
        develop(FilmExposure(path))


@pytest.mark.parametrize("claim", CLAIMS)
@pytest.mark.parametrize("kind", KINDS)
def test_it_is_kept_as_it_came_and_shows_no_preview(
    kind: str, claim: tuple[int, int], tmp_path: Path
) -> None:
    data = bomb(kind, claim)
    with Library.open(tmp_path / "library", SystemClock()) as library:
        shot = library.create_shot("cork wakes").id
        # The journal or the camera may say another size than the file itself.
        kept = library.keep(shot, taken(data, kinds=(kind,)), camera="test")
        assert library.original_path(shot, kept.id).read_bytes() == data
        with pytest.raises(NoPreview):
            library.preview(shot, kept.id, 640)
