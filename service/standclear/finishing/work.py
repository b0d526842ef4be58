"""The work on one picture as a pure function over (exposure, parameters).

Nothing here knows of other pictures, so that the same work gives the same bytes in this process,
in a pool or on another machine.
"""

from dataclasses import dataclass, field

import numpy as np

from standclear.finishing.develop import Pixels, RawRecipe, as_eight_bits, as_sixteen_bits, develop
from standclear.finishing.framing import View, fit, show
from standclear.finishing.shot import FilmExposure


@dataclass(frozen=True)
class PictureWork:
    """What is done to one picture.

    ``source`` is the shot's width and height in pixels: a picture of another size is made to cover
    it. ``deep`` asks for 16 bits.
    """

    source: tuple[int, int]
    view: View
    deep: bool = False
    raw: RawRecipe = field(default_factory=RawRecipe)


def finished(exposure: FilmExposure, work: PictureWork) -> Pixels:
    """The picture as the film shows it, (height, width, 3), blue first, in 8 bits or 16.

    Raises PictureUnreadable.
    """
    picture = fit(develop(exposure, work.raw), *work.source)
    shown = show(picture, work.view)
    return as_sixteen_bits(shown) if work.deep else as_eight_bits(shown)


def same(one: Pixels, other: Pixels) -> bool:
    """Whether two pictures are equal, byte for byte."""
    return (
        one.shape == other.shape and one.dtype == other.dtype and bool(np.array_equal(one, other))
    )
