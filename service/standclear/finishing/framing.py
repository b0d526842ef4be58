"""What part of a picture is shown and at what size: whole numbers of pixels, never an odd one."""

from dataclasses import dataclass
from fractions import Fraction

import cv2
import numpy as np

from standclear.finishing.develop import Pixels
from standclear.finishing.options import FramingOptions
from standclear.finishing.problems import CannotExport

_SHAPES = {"16:9": Fraction(16, 9), "9:16": Fraction(9, 16), "4:5": Fraction(4, 5)} | {
    "1:1": Fraction(1)
}
_MOST_PIXELS_ACROSS = 16384


@dataclass(frozen=True)
class View:
    """A rectangle of the source (pixels) and the size (pixels) at which it is shown."""

    left: int
    top: int
    width: int
    height: int
    out_width: int
    out_height: int

    @property
    def scale(self) -> float:
        """Pixels of the film for one of the source."""
        return self.out_width / self.width

    @property
    def resamples(self) -> bool:
        """Whether showing it needs new pixels (not only a cut)."""
        return (self.width, self.height) != (self.out_width, self.out_height)


def view_of(width: int, height: int, options: FramingOptions) -> View:
    """The view of a source ``width`` by ``height`` that the options ask for.

    Widths and heights come out even, as 4:2:0 needs: an odd source loses one row or column.
    """
    if min(width, height) < 2 or max(width, height) > _MOST_PIXELS_ACROSS:
        raise CannotExport(f"A picture of {width} by {height} pixels cannot be made into a film.")
    shape = _SHAPES.get(options.shape, Fraction(width, height))
    wide = min(Fraction(width), height * shape) / Fraction(options.zoom)
    cut_width, cut_height = _even(wide), _even(wide / shape)
    left = _placed(options.centre_x * width - cut_width / 2, width - cut_width)
    top = _placed(options.centre_y * height - cut_height / 2, height - cut_height)
    if options.width is None:
        return View(left, top, cut_width, cut_height, cut_width, cut_height)
    out_width = _even(Fraction(options.width))
    out_height = _even(Fraction(out_width * cut_height, cut_width))
    return View(left, top, cut_width, cut_height, out_width, out_height)


def show(picture: Pixels, view: View) -> Pixels:
    """The view of a picture, in the picture's own depth."""
    bottom, right = view.top + view.height, view.left + view.width
    cut = picture[view.top : bottom, view.left : right]
    if not view.resamples:
        return np.ascontiguousarray(cut)
    smaller = view.out_width < view.width
    way = cv2.INTER_AREA if smaller else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(cut, (view.out_width, view.out_height), interpolation=way))


def fit(picture: Pixels, width: int, height: int) -> Pixels:
    """A picture of another size made to cover ``width`` by ``height``, cut at its middle."""
    if picture.shape[:2] == (height, width):
        return picture
    scale = max(width / picture.shape[1], height / picture.shape[0])
    size = (
        max(width, round(picture.shape[1] * scale)),
        max(height, round(picture.shape[0] * scale)),
    )
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    covered = cv2.resize(picture, size, interpolation=way)
    top, left = (size[1] - height) // 2, (size[0] - width) // 2
    return np.ascontiguousarray(covered[top : top + height, left : left + width])


def _even(length: Fraction) -> int:
    return max(2, int(length) // 2 * 2)


def _placed(start: float, room: int) -> int:
    return min(max(0, round(start)), max(0, room))
