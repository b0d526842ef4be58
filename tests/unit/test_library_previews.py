"""Previews: the width ladder, every kind of original, made once, thrown away at will."""

import io
import struct
import threading
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from standclear.cameras.base import Original, Taken
from standclear.errors import Invalid, StandclearError
from standclear.library import previews
from standclear.library.library import Library
from tests.library_kit import BEGIN, opened
from tests.pictures import jpeg, texture


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    with opened(tmp_path / "library") as library:
        yield library


@pytest.fixture
def shot(library: Library) -> str:
    return library.create_shot("Cork").id


def keep(library: Library, shot: str, data: bytes, media: str, kind: str, *size: int) -> str:
    width, height = size or (None, None)
    taken = Taken((Original(data, media, kind, width, height),), BEGIN, {})
    return library.keep(shot, taken, camera="toy").id


def opened_by_pillow(path: Path) -> Image.Image:
    """Pillow is the outside reader: it decodes with a libjpeg of its own."""
    with Image.open(path) as picture:
        picture.load()
        assert picture.format == "JPEG"
        return picture


@pytest.mark.parametrize(
    ("asked", "given"),
    [(1, 160), (160, 160), (161, 320), (700, 960), (1280, 1280), (1500, 1920), (99_999, 2000)],
)
def test_a_width_snaps_up_to_the_ladder_and_never_beyond_the_original(
    library: Library, shot: str, asked: int, given: int
) -> None:
    one = keep(library, shot, jpeg(2000, 1500), "image/jpeg", "jpg", 2000, 1500)
    picture = opened_by_pillow(library.preview(shot, one, asked))
    assert picture.size == (given, round(given * 1500 / 2000))


def test_a_preview_looks_like_the_original(library: Library, shot: str) -> None:
    """Against Pillow's box filter, which averages areas as INTER_AREA does."""
    data = jpeg(1920, 1080, seed=3, quality=95)
    one = keep(library, shot, data, "image/jpeg", "jpg", 1920, 1080)
    shown = np.asarray(opened_by_pillow(library.preview(shot, one, 640)).convert("L"), np.float64)
    with Image.open(io.BytesIO(data)) as whole:
        small = whole.resize((640, 360), Image.Resampling.BOX).convert("L")
    reference = np.asarray(small, np.float64)
    assert np.abs(shown - reference).mean() < 1.5
    assert np.abs((shown - reference).mean()) < 0.5


def test_an_orientation_tag_is_not_applied(library: Library, shot: str) -> None:
    plain = Image.fromarray(np.ascontiguousarray(texture(640, 480)[:, :, ::-1]))
    exif = Image.Exif()
    exif[0x0112] = 6  # Exif orientation: turned by 90° (CIPA DC-008)
    file = io.BytesIO()
    plain.save(file, "JPEG", exif=exif)
    one = keep(library, shot, file.getvalue(), "image/jpeg", "jpg", 640, 480)
    assert opened_by_pillow(library.preview(shot, one, 320)).size == (320, 240)


def test_png_and_sixteen_bit_tiff_are_shown(library: Library, shot: str) -> None:
    pixels = texture(800, 600)
    ok, png = cv2.imencode(".png", pixels)
    assert ok
    deep = np.asarray(pixels, np.uint16) * 257
    ok, tiff = cv2.imencode(".tif", deep)
    assert ok
    for data, media, kind in ((png, "image/png", "png"), (tiff, "image/tiff", "tif")):
        one = keep(library, shot, data.tobytes(), media, kind, 800, 600)
        shown = np.asarray(opened_by_pillow(library.preview(shot, one, 2560)), np.float64)
        assert np.abs(shown[:, :, ::-1] - pixels).mean() < 2.0


def raw_with(*jpegs: bytes) -> bytes:
    """What a raw file looks like from outside: a TIFF header, noise, and JPEGs inside."""
    noise = np.random.default_rng(5).integers(0, 256, 5000, dtype=np.uint8).tobytes()
    return b"II*\0" + struct.pack("<I", 8) + noise + noise.join(jpegs) + noise


def test_a_raw_file_is_shown_by_the_largest_jpeg_inside(library: Library, shot: str) -> None:
    data = raw_with(jpeg(160, 120), jpeg(1600, 1200), jpeg(640, 480))
    one = keep(library, shot, data, "image/x-nikon-nef", "nef")
    assert opened_by_pillow(library.preview(shot, one, 960)).size == (960, 720)


@pytest.mark.parametrize(
    ("data", "media", "kind"),
    [
        (raw_with(), "image/x-nikon-nef", "nef"),
        (b"\xff\xd8\xff no picture", "image/jpeg", "jpg"),
        (b"\xff\xd8\xff\xc0\0\x11\x08" + b"\xff" * 40, "image/x-canon-cr2", "cr2"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "image/svg+xml", "svg"),
        (b"\x89PNG\r\n\x1a\n", "image/png", "png"),
    ],
)
def test_what_cannot_be_shown_is_told_as_no_preview(
    library: Library, shot: str, data: bytes, media: str, kind: str
) -> None:
    one = keep(library, shot, data, media, kind)
    with pytest.raises(StandclearError) as refused:
        library.preview(shot, one, 320)
    assert (refused.value.code, refused.value.status) == ("no_preview", 422)
    assert list((library.folder / "previews").rglob("*.*")) == []
    assert library.original_path(shot, one).read_bytes() == data


def test_a_picture_too_large_to_decode_is_not_tried(library: Library, shot: str) -> None:
    one = keep(library, shot, jpeg(64, 48), "image/jpeg", "jpg", 60_000, 60_000)
    with pytest.raises(StandclearError) as refused:
        library.preview(shot, one, 320)
    assert refused.value.code == "no_preview"


@pytest.mark.parametrize("width", [0, -1, 10**9])
def test_an_absurd_width_is_refused(library: Library, shot: str, width: int) -> None:
    one = keep(library, shot, jpeg(64, 48), "image/jpeg", "jpg", 64, 48)
    with pytest.raises(Invalid):
        library.preview(shot, one, width)


def test_many_who_ask_at_once_get_one_that_was_made_once(
    library: Library, shot: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = keep(library, shot, jpeg(1280, 960), "image/jpeg", "jpg", 1280, 960)
    decoded: list[int] = []
    real = previews._decode

    def counted(data: bytes, flags: int) -> object:
        decoded.append(1)
        return real(data, flags)

    monkeypatch.setattr(previews, "_decode", counted)
    together = threading.Barrier(8)
    paths: list[Path] = []

    def ask() -> None:
        together.wait()
        paths.append(library.preview(shot, one, 640))

    threads = [threading.Thread(target=ask) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(decoded) == 1
    assert len(paths) == 8
    assert len(set(paths)) == 1
    library.preview(shot, one, 640)
    assert len(decoded) == 1


def test_previews_can_be_thrown_away_or_cut_short_and_are_made_again(
    library: Library, shot: str
) -> None:
    one = keep(library, shot, jpeg(640, 480), "image/jpeg", "jpg", 640, 480)
    path = library.preview(shot, one, 320)
    whole = path.read_bytes()
    path.write_bytes(whole[:100])
    assert library.preview(shot, one, 320).read_bytes() == whole
    path.unlink()
    path.parent.rmdir()
    assert library.preview(shot, one, 320).read_bytes() == whole


def test_emptying_the_bin_takes_the_previews_along(library: Library, shot: str) -> None:
    one = keep(library, shot, jpeg(640, 480), "image/jpeg", "jpg", 640, 480)
    library.bin_exposure(shot, one)
    path = library.preview(shot, one, 320)
    library.empty_bin(shot)
    assert not path.parent.exists()
