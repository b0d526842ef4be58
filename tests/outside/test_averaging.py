"""Averaging in linear light, against scikit-image's own sRGB conversion (IEC 61966-2-1)."""

import numpy as np
import pytest
from skimage.color import rgb2xyz, xyz2rgb

from standclear.imaging.averaging import mean_in_linear_light


def test_the_mean_of_light_is_that_of_another_implementation() -> None:
    rng = np.random.default_rng(5)
    pictures = [rng.integers(0, 256, (60, 80, 3), dtype=np.uint8) for _ in range(5)]
    mean = np.mean([rgb2xyz(picture) for picture in pictures], axis=0)  # XYZ is linear in light
    expected = np.rint(xyz2rgb(mean) * 255)
    ours = mean_in_linear_light(pictures)
    assert np.abs(ours - expected).max() <= 1
    assert np.mean(ours != expected) < 0.005


def test_noise_falls_by_the_root_of_the_count() -> None:
    rng = np.random.default_rng(6)
    clean = np.full((200, 200, 3), 128.0)
    pictures = [np.clip(clean + rng.normal(0, 8, clean.shape), 0, 255) for _ in range(16)]
    coded = [np.rint(picture).astype(np.uint8) for picture in pictures]
    assert np.std(mean_in_linear_light(coded)) == pytest.approx(8 / 4, rel=0.05)


def test_the_same_picture_comes_back_unchanged() -> None:
    ramp = np.tile(np.arange(256, dtype=np.uint8)[None, :, None], (2, 1, 3))
    for count in (1, 2, 7, 64):
        assert np.array_equal(mean_in_linear_light([ramp] * count), ramp)


def test_nothing_and_unlike_pictures_are_refused() -> None:
    with pytest.raises(ValueError, match="no picture"):
        mean_in_linear_light([])
    with pytest.raises(ValueError, match="shape"):
        mean_in_linear_light([np.zeros((2, 2, 3), np.uint8), np.zeros((3, 2, 3), np.uint8)])
