"""Looks at single frames before and after, one after the other; the last few are kept in memory.

Measuring a shot is the costly part, so what was measured is kept for as long as shot and choices
stay the same. The pictures are handed out by a name of their own, as JPEG.
"""

import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Any

from standclear.errors import NotFound
from standclear.finishing.look import Look, look, plan_for
from standclear.finishing.options import ExportOptions
from standclear.finishing.planning import Planned
from standclear.finishing.shot import FilmShot

KEPT_PLANS = 2
KEPT_LOOKS = 8


class Looks:
    """Thread safe. One look is made at a time, so that it cannot crowd out the shooting."""

    def __init__(self) -> None:
        self._making = threading.Lock()
        self._plans: OrderedDict[tuple[str, int, str], Planned] = OrderedDict()
        self._looks: OrderedDict[str, Look] = OrderedDict()

    def make(
        self,
        shot_id: str,
        revision: int,
        film: Callable[[], FilmShot],
        options: ExportOptions,
        number: int,
    ) -> str:
        """Exposure ``number`` (from 1) before and after; the name under which both are found.

        Raises CannotExport, PictureUnreadable.
        """
        choices = options.model_dump_json(
            include={"framing", "light", "position", "time", "clean_up"}
        )
        key = (shot_id, revision, choices)
        with self._making:
            if key not in self._plans:
                self._plans[key] = plan_for(film(), options)
            self._plans.move_to_end(key)
            _shorten(self._plans, KEPT_PLANS)
            made = look(self._plans[key], number)
            name = secrets.token_hex(8)
            self._looks[name] = made
            _shorten(self._looks, KEPT_LOOKS)
        return name

    def find(self, name: str) -> Look:
        """A look that was made lately; raises NotFound."""
        with self._making:
            if name not in self._looks:
                raise NotFound("That look is gone; make it again.")
            return self._looks[name]


def _shorten(kept: OrderedDict[Any, Any], most: int) -> None:
    while len(kept) > most:
        kept.popitem(last=False)
