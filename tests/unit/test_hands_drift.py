"""Light that wanders is told from light that flickers, from noise, and from JPEG's roundings."""

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from standclear.imaging.hands_drift import drift
from standclear.shooting.stepback.judge import WANDERS

RNG = np.random.default_rng(9)
SET = cv2.GaussianBlur(RNG.uniform(0, 255, (360, 640, 3)).astype(np.float32), (0, 0), 3)
SET += 60 * np.sin(np.arange(360) / 60)[:, None, None].astype(np.float32)  # bright parts and dark
X = np.linspace(0, 1, 640, dtype=np.float32)[None, :, None]


def picture(shade: float, noise: float, quality: int | None) -> NDArray[np.uint8]:
    """The set with a shadow of that depth at its left rim, as a camera gives it."""
    light = 1.0 - shade * np.exp(-((X / 0.2) ** 2))
    grain = noise * RNG.standard_normal(SET.shape)
    codes = np.clip(np.round(SET * light + grain), 0, 255).astype(np.uint8)
    if quality is None:
        return codes
    _, data = cv2.imencode(".jpg", codes, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)


@pytest.mark.parametrize(("noise", "quality"), [(0.8, None), (1.5, 80), (2.5, 70)])
def test_a_shadow_that_begins_wanders_and_noise_does_not(noise: float, quality: int | None) -> None:
    rests = [picture(0.0, noise, quality) for _ in range(6)]
    begins = [picture(depth, noise, quality) for depth in (0, 0, 0.01, 0.02, 0.04, 0.06)]
    assert drift(rests) < WANDERS / 2
    assert drift(begins) > 2 * WANDERS


def flickering(depths: tuple[float, ...], rng: np.random.Generator) -> list[NDArray[np.uint8]]:
    """Pictures in a light that flickers by 2 % under a camera's own tone curve."""
    lit = []
    for depth in depths:
        codes = picture(depth, 0.8, None) / 255.0
        light = np.clip(codes**2.2 * (1 + 0.02 * rng.standard_normal()), 0, 1)
        curved = light ** (1 / 2.2) * (1 + 0.4 * light * (1 - light))
        lit.append(np.clip(np.round(255 * curved), 0, 255).astype(np.uint8))
    return lit


def test_a_shadow_that_begins_in_a_flickering_light_is_told_from_the_flicker() -> None:
    rng = np.random.default_rng(3)
    begins = (0, 0, 0, 0.003, 0.008, 0.013, 0.02, 0.03)
    for _ in range(6):
        assert drift(flickering((0.0,) * 8, rng)) < WANDERS
        assert drift(flickering(begins, rng)) > WANDERS


def test_one_picture_tells_nothing() -> None:
    assert drift([picture(0.1, 1.0, None)]) == 0.0
