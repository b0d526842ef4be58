"""Picture files told apart and checked; sizes against Pillow and tifffile, which wrote them."""

import io
import struct
import time

import cv2
import numpy as np
import pytest
import tifffile
from PIL import Image

from standclear.imaging.container import UNKNOWN, check_whole, identify
from tests.pictures import jpeg, large_jpeg, texture


def pillow(form: str, size: tuple[int, int] = (321, 123), **options: object) -> bytes:
    out = io.BytesIO()
    Image.fromarray(texture(*size)).save(out, form, **options)
    return out.getvalue()


def raw_tiff(make: str, byteorder: str = "<", **first: object) -> bytes:
    """A RAW as TIFF/EP lays it out: a small preview, the sensor's data in a directory below."""
    out = io.BytesIO()
    with tifffile.TiffWriter(out, byteorder=byteorder) as file:
        options = {"subifds": 1, "extratags": [(271, "s", 0, make, True), *first.get("tags", [])]}
        file.write(np.zeros((40, 60, 3), np.uint8), photometric="rgb", **options)
        file.write(np.ones((400, 600), np.uint16), photometric="cfa")
    return out.getvalue()


def box(name: bytes, *parts: bytes) -> bytes:
    body = b"".join(parts)
    return struct.pack(">I4s", len(body) + 8, name) + body


def cr3(width: int, height: int) -> bytes:
    entry = box(b"CRAW", bytes(24), struct.pack(">HH", width, height), bytes(50))
    tables = box(b"stbl", box(b"stsd", bytes(8), entry))
    track = box(b"trak", box(b"mdia", box(b"minf", tables)))
    return (
        box(b"ftyp", b"crx ", bytes(4))
        + box(b"moov", track)
        + box(b"mdat", np.random.default_rng(0).bytes(999))
    )


def raf(width: int, height: int) -> bytes:
    preview = jpeg(64, 48)
    sizes = struct.pack(">IHHHH", 1, 0x111, 4, height, width)
    at = 108 + len(preview)
    told = (108, len(preview), at, len(sizes), at + len(sizes), 500)
    head = b"FUJIFILMCCD-RAW ".ljust(84, b"\0") + struct.pack(">6I", *told)
    return head + preview + sizes + bytes(500)


WHOLE = {
    "jpg": pillow("JPEG"),
    "png": pillow("PNG"),
    "tif": pillow("TIFF"),
    "avif": pillow("AVIF"),
    "nef": raw_tiff("NIKON CORPORATION"),
    "arw": raw_tiff("SONY"),
    "pef": raw_tiff("PENTAX", ">"),
    "dng": raw_tiff("Someone", tags=[(0xC612, "B", 4, (1, 4, 0, 0), True)]),
    "cr3": cr3(6000, 4000),
    "raf": raf(6240, 4160),
}
SIZES = dict.fromkeys(("jpg", "png", "tif", "avif"), (321, 123))
SIZES |= dict.fromkeys(("nef", "arw", "pef", "dng"), (600, 400))
SIZES |= {"cr3": (6000, 4000), "raf": (6240, 4160)}


@pytest.mark.parametrize("extension", WHOLE)
def test_kind_and_size_are_told_from_the_bytes(extension: str) -> None:
    facts = identify(WHOLE[extension])
    assert facts.extension == extension
    assert facts.media_type.startswith("image/")
    assert (facts.width, facts.height) == SIZES[extension]


@pytest.mark.parametrize("extension", WHOLE)
def test_a_whole_file_passes(extension: str) -> None:
    assert check_whole(WHOLE[extension]) is None


@pytest.mark.parametrize("extension", WHOLE)
@pytest.mark.parametrize("part", [0.3, 0.6, 0.95])
def test_a_file_cut_short_is_noticed(extension: str, part: float) -> None:
    data = WHOLE[extension]
    assert check_whole(data[: int(len(data) * part)])


@pytest.mark.parametrize("options", [{"progressive": True}, {"optimize": True}, {"quality": 3}])
def test_every_cut_of_a_jpeg_is_noticed(options: dict[str, object]) -> None:
    data = pillow("JPEG", (64, 40), **options)
    assert check_whole(data) is None
    assert [n for n in range(3, len(data) - 1) if check_whole(data[:n]) is None] == []
    assert all(check_whole(data[:n] + bytes(512)) for n in range(3, len(data) - 1, 7))


def test_a_jpeg_with_a_second_picture_or_padding_behind_it_is_whole() -> None:
    data = jpeg(64, 48)
    for behind in (bytes(300), b"\0\0maker's notes", jpeg(32, 24), jpeg(32, 24)[:-40]):
        assert check_whole(data + behind) is None


@pytest.mark.parametrize("progressive", [True, False])
def test_frame_headers_of_all_codings_are_read(progressive: bool) -> None:
    facts = identify(pillow("JPEG", (4001, 37), progressive=progressive))
    assert (facts.width, facts.height) == (4001, 37)


def test_an_exif_orientation_is_not_applied() -> None:
    exif = Image.Exif()
    exif[0x112] = 6
    facts = identify(pillow("JPEG", (90, 50), exif=exif))
    assert (facts.width, facts.height) == (90, 50)


def test_a_thumbnail_does_not_stand_in_for_the_picture() -> None:
    thumb = jpeg(16, 12)
    data = jpeg(640, 480)
    exif = b"\xff\xe1" + struct.pack(">H", len(thumb) + 2) + thumb
    held = data[:2] + exif + data[2:]
    assert identify(held).width == 640
    assert check_whole(held[: len(exif) + 40])


def test_an_altered_png_is_noticed() -> None:
    data = bytearray(WHOLE["png"])
    data[len(data) // 2] ^= 1
    assert "altered" in (check_whole(bytes(data)) or "")


@pytest.mark.parametrize(
    ("start", "extension"), [(b"IIRO", "orf"), (b"MMOR", "orf"), (b"IIU\0", "rw2")]
)
def test_raws_with_a_start_of_their_own_are_told(start: bytes, extension: str) -> None:
    plain = raw_tiff("x", ">" if start.startswith(b"MM") else "<")
    assert identify(start + plain[4:]).extension == extension


def test_a_cr2_is_told_by_its_own_mark() -> None:
    plain = pillow("TIFF")  # directory placed behind byte 16, as a CR2 has it
    shifted = b"II*\0" + struct.pack("<I", 16) + b"CR\2\0" + bytes(4)
    entries = struct.pack("<H", 2) + struct.pack("<HHII", 0x100, 4, 1, 5472)
    entries += struct.pack("<HHII", 0x101, 4, 1, 3648) + bytes(4)
    facts = identify(shifted + entries + plain)
    assert (facts.extension, facts.width, facts.height) == ("cr2", 5472, 3648)


def test_a_plain_tiff_of_a_camera_maker_is_not_taken_for_a_raw() -> None:
    out = io.BytesIO()
    extra = [(271, "s", 0, "NIKON CORPORATION", True)]
    tifffile.imwrite(out, texture(60, 40), photometric="rgb", extratags=extra)
    assert identify(out.getvalue()).extension == "tif"


@pytest.mark.parametrize("data", [b"", b"hello", b"\xff\xd8\xff", b"II*\0", bytes(3000)])
def test_what_is_not_known_never_raises(data: bytes) -> None:
    assert identify(data).media_type in (UNKNOWN.media_type, "image/jpeg", "image/tiff")
    assert data.startswith((b"hel", b"\0")) == (check_whole(data) is None)


def test_random_bytes_behind_a_known_start_never_raise() -> None:
    rng = np.random.default_rng(1)
    for data in WHOLE.values():
        for _ in range(200):
            noise = data[:16] + rng.bytes(int(rng.integers(0, 400)))
            identify(noise)
            check_whole(noise)


def test_eight_megabytes_are_checked_within_two_milliseconds() -> None:
    data = large_jpeg()
    assert (identify(data).width, identify(data).height) == (6000, 4000)
    taken = []
    for _ in range(9):
        started = time.perf_counter()
        assert check_whole(data) is None
        identify(data)
        taken.append(time.perf_counter() - started)
    assert min(taken) < 0.002


def test_what_opencv_writes_passes() -> None:
    for extension in (".png", ".jpg", ".tif"):
        _, data = cv2.imencode(extension, texture(200, 100))
        facts = identify(data.tobytes())
        assert (facts.width, facts.height, check_whole(data.tobytes())) == (200, 100, None)
