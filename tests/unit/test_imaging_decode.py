"""What the watches are given, they either measure or say why not."""

import cv2
import numpy as np
import pytest

from standclear.imaging.decode import Decoded, Undecodable, decode
from standclear.imaging.linear import (
    decode_table,
    encode,
    linear_to_srgb,
    linearise,
    srgb_to_linear,
)
from standclear.imaging.prepared import prepare


def _file(kind, codes):
    ok, data = cv2.imencode(kind, codes)
    assert ok
    return data.tobytes()


def _codes(dtype=np.uint8, height=90, width=120):
    top = np.iinfo(dtype).max
    return np.random.default_rng(0).integers(0, top, (height, width, 3)).astype(dtype)


def test_a_small_jpeg_is_decoded_whole():
    found = decode(_file(".jpg", _codes()))
    assert isinstance(found, Decoded)
    assert (found.width, found.height) == (120, 90)
    assert found.pixels.shape == (90, 120, 3)


def test_a_large_jpeg_is_decoded_at_half_its_size_and_knows_its_own():
    codes = np.full((3000, 4000, 3), 120, np.uint8)
    found = decode(_file(".jpg", codes))
    assert (found.width, found.height) == (4000, 3000)
    assert found.pixels.shape == (1500, 2000, 3)
    picture = prepare(found.pixels, found.width, found.height)
    assert picture.original_per_texture == pytest.approx(2.0)


def test_sixteen_bits_keep_their_sixteen_bits():
    codes = _codes(np.uint16)
    found = decode(_file(".tiff", codes))
    assert found.pixels.dtype == np.uint16
    assert np.array_equal(found.pixels, codes)


def test_a_monochrome_picture_is_known_as_one():
    found = decode(_file(".png", _codes()[..., 0]))
    assert found.monochrome
    assert found.pixels.shape == (90, 120, 3)


@pytest.mark.parametrize("data", [b"", b"no picture at all", _file(".jpg", _codes())[:-400]])
def test_what_cannot_be_read_answers_with_a_sentence(data):
    found = decode(data)
    assert isinstance(found, Undecodable)
    assert found.says.endswith(".")
    assert len(found.says) > 20


def test_codes_go_to_light_and_back_unchanged():
    for dtype in (np.uint8, np.uint16):
        codes = _codes(dtype)
        assert np.array_equal(encode(linearise(codes), np.iinfo(dtype).bits), codes)
    ramp = np.linspace(0, 1, 1001)
    assert linear_to_srgb(srgb_to_linear(ramp)) == pytest.approx(ramp, abs=1e-9)


def test_other_kinds_of_codes_are_refused():
    with pytest.raises(TypeError, match="8 or 16 bits"):
        linearise(np.zeros((4, 4, 3), np.float32))
    with pytest.raises(ValueError, match="64 pixels"):
        prepare(np.zeros((32, 32, 3), np.uint8))


def test_the_shared_tables_cannot_be_written_to():
    with pytest.raises(ValueError, match="read-only"):
        decode_table(8)[0] = 1.0
