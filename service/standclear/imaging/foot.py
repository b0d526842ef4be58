"""Where a thing stands: the lowest part of it that is seen.

A table's scale holds on the table. What is higher up lies, through the camera, on a farther place
of it, so that a step of a thing's middle reads too long (by its height against the camera's: some
10 % of a cork), and a thing that only leans seems to have walked. Its foot does neither.
"""

import numpy as np

from standclear.imaging.linear import Doubles, Mask

LOWEST = 0.07
"""The part of a thing's area that counts as its foot: rows up from the lowest."""

STRAY = 0.02
"""The part of its area below which nothing is taken to be it."""


def foot_of(mask: Mask) -> Doubles:
    """The place (1, 2) as x, y in pixels where the thing in the mask (h, w) stands.

    ``mask`` must not be empty.
    """
    rows, columns = np.nonzero(mask)
    lowest = rows >= np.quantile(rows, 1.0 - LOWEST)
    return np.array([[np.median(columns[lowest]), np.quantile(rows, 1.0 - STRAY)]])
