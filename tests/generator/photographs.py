"""Real photographs that come with scikit-image's wheel, shifted by a known sub-pixel way.

`scipy.ndimage.fourier_shift` shifts a band-limited picture exactly; the picture is smoothed a
little and faded out towards its rim first, because the Fourier shift wraps around.
"""

import numpy as np
from scipy import ndimage

NAMES = ("astronaut", "brick", "camera", "chelsea", "coffee", "grass", "gravel", "rocket")


def photograph(name):
    """Linear light, (h, w, 3) float32, cropped to an even size."""
    from skimage import data

    picture = np.asarray(getattr(data, name)())
    if picture.ndim == 2:
        picture = np.repeat(picture[:, :, None], 3, axis=2)
    picture = picture[: picture.shape[0] // 2 * 2, : picture.shape[1] // 2 * 2, ::-1]
    linear = (picture / 255.0) ** 2.2 * 0.9 + 0.01
    return ndimage.gaussian_filter(linear, (0.8, 0.8, 0)).astype(np.float32)


def moved(linear, x, y, rng, gain=1.0):
    """The photograph with its content shifted by (x, y) pixels, with noise, as 8-bit codes."""
    pad = 16
    wide = np.pad(linear, ((pad, pad), (pad, pad), (0, 0)), mode="reflect")
    wide = np.concatenate([wide, wide[:, ::-1]], axis=1)
    wide = np.concatenate([wide, wide[::-1]], axis=0)
    out = np.empty_like(wide)
    for channel in range(3):
        spectrum = np.fft.fft2(wide[..., channel])
        out[..., channel] = np.fft.ifft2(ndimage.fourier_shift(spectrum, (y, x))).real
    cut = out[pad : pad + linear.shape[0], pad : pad + linear.shape[1]] * gain
    cut = cut + 0.004 * rng.standard_normal(cut.shape) * np.sqrt(np.maximum(cut, 0.0))
    codes = 255 * np.clip(cut, 0, 1) ** (1 / 2.2)
    return np.clip(np.rint(codes), 0, 255).astype(np.uint8)
