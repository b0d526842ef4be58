"""Known shifts of real photographs, and the same against scikit-image and OpenCV.

Photographs: those bundled in scikit-image's wheel (`tests/generator/photographs.py` names them),
shifted exactly by `scipy.ndimage.fourier_shift`.
"""

import os

import cv2
import numpy as np
import pytest

from standclear.imaging.registration import reference_from, register
from standclear.imaging.texture import log_light, pyramid
from tests.generator.photographs import NAMES, moved, photograph

SHIFTS = [(0.1, 0.0), (-0.37, 0.81), (2.6, -1.3)]
LONG = os.environ.get("STANDCLEAR_LONG") == "1"


def _register(first, second):
    reference = reference_from(pyramid(log_light(first)))
    return register(reference, pyramid(log_light(second)))


@pytest.mark.parametrize("name", NAMES if LONG else NAMES[::4])
def test_a_real_photograph_s_shift_is_measured_to_a_fiftieth_of_a_pixel(name):
    rng = np.random.default_rng(1)
    linear = photograph(name)
    first = moved(linear, 0, 0, rng)
    errors = []
    for x, y in SHIFTS:
        motion = _register(first, moved(linear, x, y, rng, gain=1.02)).motion
        errors.append(np.hypot(motion.shift_x - x, motion.shift_y - y))
    assert np.median(errors) < 0.02
    assert max(errors) < 0.08


def test_the_error_is_smaller_than_phase_correlation_s_and_ecc_s():
    """scikit-image's phase_cross_correlation (1/100 px) and OpenCV's findTransformECC.

    A patch that moves on its own covers a fifth of the picture, as an object on the set does.
    """
    from skimage.registration import phase_cross_correlation

    rng = np.random.default_rng(3)
    linear = photograph("gravel")
    x, y = 0.43, -0.77
    first, second = moved(linear, 0, 0, rng), moved(linear, x, y, rng)
    patch = moved(photograph("brick"), 0, 0, rng)
    first[150:380, 150:380] = patch[150:380, 150:380]
    second[150:380, 150:380] = patch[144:374, 158:388]
    ours = _register(first, second).motion
    grey = [cv2.cvtColor(p, cv2.COLOR_BGR2GRAY).astype(np.float32) for p in (first, second)]
    phase = phase_cross_correlation(*grey, upsample_factor=100)[0]
    warp = np.eye(2, 3, dtype=np.float32)
    how = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 60, 1e-6)
    _, warp = cv2.findTransformECC(*grey, warp, cv2.MOTION_TRANSLATION, how, None, 5)
    error = np.hypot(ours.shift_x - x, ours.shift_y - y)
    assert error < 0.03
    assert error < np.hypot(-phase[1] - x, -phase[0] - y)
    assert error < np.hypot(warp[0, 2] - x, warp[1, 2] - y)
