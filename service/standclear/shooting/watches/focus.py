"""The focus watch: whether the still background is as sharp as in the reference."""

from standclear.imaging.sharpness import FocusChange, blur_px
from standclear.shooting.watches.thresholds import Thresholds
from standclear.shooting.watches.verdict import (
    CANNOT_TELL,
    CLEAR,
    FLAGGED,
    Finding,
    cannot_tell,
)

SURE = 4.0
LEAST_BLUR = 0.4
"""Less blur than this (in measured pixels) may come from resampling a picture that moved."""

TEXTURED_PX = 0.03
"""Where a shift cannot be read to this (in measured pixels), texture does not stand above noise."""


def judge_focus(
    change: FocusChange | None,
    shift_sd: float,
    original_per_pixel: float,
    width: int,
    limits: Thresholds,
) -> Finding:
    """The finding on a change of focus.

    ``shift_sd`` is the registration's, in measured pixels; ``original_per_pixel`` converts them;
    ``width`` is the original's, in pixels: what blur can be seen grows with it.
    """
    if change is None or shift_sd > TEXTURED_PX:
        return cannot_tell("The background has too little fine texture to tell how sharp it is.")
    limit_px = limits.blur_px_at_1920 * width / 1920
    limit_px = max(limit_px, LEAST_BLUR * original_per_pixel)
    limit = (limit_px / original_per_pixel) ** 2
    blur = blur_px(change.blur_variance) * original_per_pixel
    figures = {
        "blur_px": blur,
        "contrast_percent": 100 * change.contrast,
        "blur_variance_sd_px2": change.sd * original_per_pixel**2,
    }
    thresholds = {"blur_px": limit_px}
    if SURE * change.sd > limit:
        says = "The background's texture is too faint to tell a slip of focus."
        return Finding(CANNOT_TELL, says, figures, (), thresholds)
    if abs(change.blur_variance) <= limit + SURE * change.sd:
        return Finding(CLEAR, "The background is as sharp as before.", figures, (), thresholds)
    way = "softer" if blur > 0 else "sharper"
    says = (
        f"The background is {way} than in the reference, by a blur of {abs(blur):.2f} px. "
        "Look at the focus ring, and set focus to manual."
    )
    return Finding(FLAGGED, says, figures, ("focus_slip",), thresholds)
