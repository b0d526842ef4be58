"""Live pictures of a set on which nothing happens, drawn a few times and shown again in any order.

A resting set differs from one live picture to the next in its noise alone. Some draws of it are as
good as endless ones to whoever looks or measures, and spare the service a third of its work.
"""

from collections.abc import Callable

import numpy as np

from standclear.cameras.rehearsal.sensor import Picture
from standclear.cameras.rehearsal.stage import View

DRAWS = 8


class Resting:
    """The draws of the view that was last asked for."""

    def __init__(self) -> None:
        self._view: View | None = None
        self._draws: list[Picture] = []
        self._last = 0

    def picture(
        self, view: View, chance: np.random.Generator, draw: Callable[[View], Picture]
    ) -> Picture:
        """A picture of the view, never the one that was given right before."""
        if view != self._view:
            self._view, self._draws = view, []
        if len(self._draws) < DRAWS:
            self._draws.append(draw(view))
            self._last = len(self._draws) - 1
        else:
            self._last = (self._last + int(chance.integers(1, DRAWS))) % DRAWS
        return self._draws[self._last]
