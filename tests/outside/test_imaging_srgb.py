"""Transfer function and luminance against the standards and scikit-image."""

import numpy as np
import pytest

from standclear.imaging.linear import LUMINANCE_BGR, decode_table, luminance


@pytest.mark.parametrize(
    ("code", "light"),
    [(0, 0.0), (10, 10 / 255 / 12.92), (128, 0.215861), (188, 0.502886), (255, 1.0)],
)
def test_srgb_codes_decode_as_iec_61966_2_1_has_it(code, light):
    """IEC 61966-2-1: code/12.92 below 0.04045, ((v + 0.055)/1.055)^2.4 above; worked by hand."""
    assert decode_table(8)[code] == pytest.approx(light, abs=1e-6)


def test_luminance_is_the_y_of_scikit_image():
    """scikit-image converts sRGB to CIE XYZ with the BT.709 primaries; Y is luminance."""
    from skimage.color import rgb2xyz

    codes = np.random.default_rng(2).integers(0, 256, (20, 30, 3), dtype=np.uint8)
    ours = luminance(decode_table(8)[codes[..., ::-1]])
    assert ours == pytest.approx(rgb2xyz(codes)[..., 1], abs=2e-4)


def test_the_weights_are_those_of_bt_709():
    """ITU-R BT.709-6, item 3.2: E'Y = 0.2126 E'R + 0.7152 E'G + 0.0722 E'B."""
    assert LUMINANCE_BGR == (0.0722, 0.7152, 0.2126)
