"""The steady test: a short series with nothing moving, judged, and kept with its shot.

The pictures are no part of the film. They go through the one owner of the camera, with the screens
dark; what is kept is the diagnosis, whose noise then fits the shot's thresholds.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from standclear.cameras.base import Taken
from standclear.clock import Clock
from standclear.errors import CallerError
from standclear.imaging.decode import Decoded, decode
from standclear.library.library import Library
from standclear.shooting.describe import moment
from standclear.shooting.shutter import Press, Shutter
from standclear.shooting.watches.steady import SteadyPicture, diagnose

FEWEST, MOST, USUAL = 3, 30, 8
BLACK = 4 / 255
WHITE = 251 / 255


class CannotTest(CallerError):
    """The pictures give nothing to judge."""

    code = "steady_test_impossible"
    status = 422
    title = "The steady test could not be judged"
    hint = "Set the exposure so that the background shows, let the camera write JPEG, test again."


class SteadyTest:
    """Takes the series and tells what it gives away."""

    def __init__(
        self,
        library: Library,
        clock: Clock,
        shutter: Shutter,
        changed: Callable[[str], None],
        tell: Callable[[str, Mapping[str, Any]], object],
    ) -> None:
        self._library = library
        self._clock = clock
        self._shutter = shutter
        self._changed = changed
        self._tell = tell

    def run(self, count: int, shot: str | None = None) -> dict[str, Any]:
        """Take ``count`` pictures and answer the diagnosis; with a shot it is kept there.

        Raises :class:`NotFound`, :class:`CannotTest`, and what a press raises.
        """
        if shot is not None:
            self._library.shot(shot)
        begun = self._clock.now()
        series = self._shutter.series(Press(shot=shot or "", count=count))
        report = diagnose(pictures_of(series)).as_dict()
        result = {
            "shot": shot,
            "at": moment(begun),
            "count": len(series),
            "settings": dict(series[0].settings),
            **report,
        }
        if shot is not None:
            self._library.put_setting(name_of(shot), result)
            self._changed(shot)
        self._tell("steady_test", result)
        return result

    def last(self, shot: str) -> dict[str, Any] | None:
        """The shot's last steady test."""
        self._library.shot(shot)
        found: dict[str, Any] | None = self._library.setting(name_of(shot))
        return found


def name_of(shot: str) -> str:
    """Under which the library keeps a shot's test."""
    return f"steady:{shot}"


def pictures_of(series: Sequence[Taken]) -> list[SteadyPicture]:
    """The series decoded. Raises :class:`CannotTest`, saying why."""
    pictures = []
    for taken in series:
        found = _decoded(taken)
        pictures.append(SteadyPicture(found.pixels, taken.settings, (found.width, found.height)))
    sizes = {picture.size for picture in pictures}
    if len(sizes) > 1:
        raise CannotTest("The camera changed the size of its pictures during the test.")
    return pictures


def _decoded(taken: Taken) -> Decoded:
    """The first file of an exposure that can be read, and shows something."""
    says = "The camera gave no file."
    for original in taken.originals:
        found = decode(original.data)
        if isinstance(found, Decoded):
            _must_show(found)
            return found
        says = found.says
    raise CannotTest(says)


def _must_show(found: Decoded) -> None:
    level = float(np.median(found.pixels[::8, ::8])) / float(np.iinfo(found.pixels.dtype).max)
    if level <= BLACK:
        raise CannotTest("The picture is black. Is the lens cap on?")
    if level >= WHITE:
        raise CannotTest("The picture is white. Shorten the exposure.")
    if min(found.pixels.shape[:2]) < 64:
        raise CannotTest("The picture is too small to be measured.")
