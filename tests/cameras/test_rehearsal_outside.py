"""The rehearsal set's ground truth against references that share no code with it."""

import cv2
import numpy as np
import pytest
from scipy import ndimage
from skimage.color import rgb2gray, xyz2rgb

from standclear.cameras.rehearsal import RigShift, card_corners_mm, cork, scene, table_to_picture
from standclear.cameras.rehearsal.acting import Pose
from standclear.cameras.rehearsal.geometry import (
    CAMERA_AT,
    FOCAL_PX,
    LOOKS_AT,
    project,
)
from standclear.cameras.rehearsal.sensor import srgb
from tests.cameras.rehearsal_kit import TABLE, linear, pixels, rehearse


def _opencv_pose() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Rotation vector, translation and lens for OpenCV's own camera model."""
    eye, at = np.array(CAMERA_AT), np.array(LOOKS_AT)
    z = (at - eye) / np.linalg.norm(at - eye)
    x = np.cross(z, [0.0, 0.0, 1.0])
    x /= np.linalg.norm(x)
    turn = np.stack([x, np.cross(z, x), z])
    lens = np.array([[FOCAL_PX, 0, 959.5], [0, FOCAL_PX, 539.5], [0, 0, 1.0]])
    return cv2.Rodrigues(turn)[0], -turn @ eye, lens


def test_places_on_the_table_are_where_opencvs_camera_model_puts_them() -> None:
    rng = np.random.default_rng(1)
    points = rng.uniform((-100, -60, 0), (100, 150, 60), (200, 3))
    expected = cv2.projectPoints(points, *_opencv_pose(), None)[0][:, 0]
    assert np.abs(project(points) - expected).max() < 1e-6
    flat = np.hstack([points[:, :2], np.ones((200, 1))]) @ table_to_picture().T
    points[:, 2] = 0.0
    expected = cv2.projectPoints(points, *_opencv_pose(), None)[0][:, 0]
    assert np.abs(flat[:, :2] / flat[:, 2:] - expected).max() < 1e-6


@pytest.mark.parametrize("size", [(1920, 1080), (1280, 720)])
def test_the_card_lies_where_the_homography_says(size: tuple[int, int]) -> None:
    # ISO/IEC 7810 ID-1: 85.60 mm × 53.98 mm (nominal), corners rounded by 3.18 mm.
    plain, _ = rehearse("auto=off,noise=0")
    laid, _ = rehearse("auto=off,noise=0,card=1")
    one, two = (linear(cv2.resize(pixels(c.capture()), size)) for c in (plain, laid))
    card = ((two - one) > 0.06).astype(np.uint8)
    card = cv2.morphologyEx(card, cv2.MORPH_CLOSE, np.ones((41, 41)))
    corners = card_corners_mm()
    assert np.linalg.norm(corners[1] - corners[0]) == pytest.approx(85.60)
    assert np.linalg.norm(corners[2] - corners[1]) == pytest.approx(53.98)
    seen = np.hstack([corners, np.ones((4, 1))]) @ table_to_picture(*size).T
    seen = seen[:, :2] / seen[:, 2:]
    area = cv2.contourArea(seen.astype(np.float32))
    assert card.sum() == pytest.approx(area, rel=0.03)
    rows, columns = np.nonzero(card)
    middle = (corners.mean(axis=0) @ table_to_picture(*size)[:, :2].T) + table_to_picture(*size)[
        :, 2
    ]
    expected = cv2.moments(seen.astype(np.float32))
    expected = (expected["m10"] / expected["m00"], expected["m01"] / expected["m00"])
    assert (columns.mean(), rows.mean()) == pytest.approx(expected, abs=1.5)
    assert middle[2] > 0


def _photographed(rig: RigShift) -> np.ndarray:
    return scene.photograph(scene.empty_set(), rig).astype(float).mean(axis=2)


@pytest.mark.parametrize("shift", [(0.1, 0.0), (0.5, -0.3), (-1.23, 2.4), (6.2, -3.7)])
def test_a_camera_shift_is_sub_pixel_true(shift: tuple[float, float]) -> None:
    # Against scipy's quintic spline shift; what is left is read as a shift by least squares.
    steady, moved = _photographed(RigShift()), _photographed(RigShift(*shift))
    expected = ndimage.shift(steady, (shift[1], shift[0]), order=5, mode="mirror")
    slopes = [ndimage.gaussian_filter(expected, 0.7, order=o)[TABLE].ravel() for o in _ORDERS]
    left = (expected - moved)[TABLE].ravel()
    error = np.linalg.lstsq(np.stack(slopes, axis=1), left, rcond=None)[0]
    assert np.abs(error).max() < 0.015


_ORDERS = ((1, 0), (0, 1))


def test_sharpness_does_not_tell_the_fraction_of_a_shift() -> None:
    # Else a focus watch would take every nudge for a slip of focus.
    figures = [
        cv2.Laplacian(_photographed(rig)[TABLE], cv2.CV_64F).var()
        for rig in (RigShift(), RigShift(0.25, 0.25), RigShift(0.5, 0.4), RigShift(0.2, 0.1, 0.05))
    ]
    assert max(figures) / min(figures) < 1.05


def test_a_turn_is_where_scipys_resampling_puts_it() -> None:
    rig = RigShift(0.7, -0.4, 0.3, 1.002)
    steady, moved = _photographed(RigShift()), _photographed(rig)
    back = np.linalg.inv(rig.matrix())
    rows, columns = np.mgrid[TABLE].astype(float)
    there = back @ np.stack([columns.ravel(), rows.ravel(), np.ones(rows.size)])
    expected = ndimage.map_coordinates(steady, [there[1], there[0]], order=3).reshape(rows.shape)
    right = np.abs(moved[TABLE] - expected).mean()
    assert right < 0.12 * np.abs(steady[TABLE] - moved[TABLE]).mean()


def test_the_cork_moves_by_tenths_of_a_pixel() -> None:
    def middle(x_mm: float) -> np.ndarray:
        sprite = cork.draw(Pose(x_mm, 20.0), RigShift())
        rows, columns = np.indices(sprite.cover.shape)
        weight = sprite.cover / sprite.cover.sum()
        return np.array(
            [(columns * weight).sum() + sprite.left, (rows * weight).sum() + sprite.top]
        )

    per_mm = project(np.array([[1.0, 20.0, 22.5], [0.0, 20.0, 22.5]]))
    per_mm = per_mm[0] - per_mm[1]
    for step in (0.02, 0.05, 0.1, 0.37):
        moved = middle(step) - middle(0.0)
        assert moved[0] == pytest.approx(step * per_mm[0], abs=0.02)
        assert abs(moved[1]) < 0.02


def test_the_tone_curve_is_srgb() -> None:
    # scikit-image's xyz2rgb applies the transfer function of IEC 61966-2-1; a grey of luminance Y
    # at the D65 white point has the same code in all channels.
    levels = np.linspace(0.0, 1.0, 101)
    white = np.array([0.95047, 1.0, 1.08883])
    expected = rgb2gray(xyz2rgb((levels[:, None] * white)[None]))[0]
    assert np.abs(srgb(levels.astype(np.float32)) - expected).max() < 1e-3


@pytest.mark.parametrize(
    ("setting", "value", "stops"),
    [
        ("shutter", "1/100", -1.0),
        ("aperture", "f/11", -0.919),  # nominal f-numbers: 2·log2(8/11)
        ("iso", "400", 1.0),
        ("shutter", "1/60", -0.263),
    ],
)
def test_a_stop_is_a_factor_of_two_of_light(setting: str, value: str, stops: float) -> None:
    # Exif 2.32, annex C (APEX): Av + Tv = Bv + Sv.
    camera, _ = rehearse("auto=off,noise=0")
    before = linear(pixels(camera.capture()))[TABLE]
    camera.change({setting: value})
    after = linear(pixels(camera.capture()))[TABLE]
    assert np.log2(np.median(after) / np.median(before)) == pytest.approx(stops, abs=0.02)
