"""Two cameras on one press: a second angle, or the other eye of a stereo pair.

Each camera keeps its own owner and thread. Both come to the point right before their shutter, wait
there for each other, and go at once; so they are as near together as two cameras can be that take
no common signal. How near that was is told with the exposure.

A press takes both pictures or none: where one is missing afterwards, the other is handed to
``stray`` and the press has failed, while the pose still stands.
"""

import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor

from standclear.cameras.base import CaptureFailed, Pair, Taken
from standclear.errors import CameraError, StandclearError
from standclear.shooting.owner import PATIENCE_S, CameraOwner

#: A camera asked for a live picture, or for whether it is there, is not long about it.
TOGETHER_WITHIN_S = PATIENCE_S - 0.5


class SecondAway(CameraError):
    """The second camera is not there, so nothing was exposed."""

    code = "second_camera_away"
    title = "The second camera is away"
    hint = "Check its cable, or go on with one camera: Rig, Second camera, none."


class _Start:
    """The point right before the shutters, where the two wait for each other."""

    def __init__(self) -> None:
        self._there = threading.Event()
        self._go = threading.Event()
        self._broken = False

    def second_is_ready(self) -> None:
        """Called in the second owner's thread: returns when the first goes."""
        self._there.set()
        if not self._go.wait(2 * TOGETHER_WITHIN_S) or self._broken:
            raise CaptureFailed("The first camera did not go.", picture_taken=False)

    def first_is_ready(self) -> None:
        """Called in the first owner's thread. Both return from here within a moment."""
        if not self._there.wait(TOGETHER_WITHIN_S):
            self.call_off()
            raise CaptureFailed(
                "The second camera was not ready in time; nothing was exposed.",
                picture_taken=False,
            )
        self._go.set()

    def call_off(self) -> None:
        """Nobody goes, unless both have gone already."""
        if not self._go.is_set():
            self._broken = True
            self._go.set()


def take_both(
    first: CameraOwner,
    second: CameraOwner,
    before: Callable[[float], None],
    stray: Callable[[CameraOwner, Taken], None],
) -> Taken:
    """Take one picture with each. ``before`` as in :meth:`CameraOwner.capture`; ``stray`` gets a
    picture that came without the other, and the owner of its camera.

    Raises :class:`SecondAway`, and what either camera raises.
    """
    _refuse_unless_ready(second)
    start = _Start()

    def first_before(expected_s: float) -> None:
        before(expected_s)
        start.first_is_ready()

    with ThreadPoolExecutor(1, thread_name_prefix="second-camera") as pool:
        other: Future[Taken] = pool.submit(
            second.capture,
            lambda _expected: start.second_is_ready(),
            lambda taken: stray(second, taken),
        )
        try:
            one = first.capture(first_before, lambda taken: stray(first, taken))
        except BaseException:
            start.call_off()
            _set_aside(other, lambda taken: stray(second, taken))
            raise
        try:
            two = other.result()
        except StandclearError as error:
            stray(first, one)
            raise _without_the_second(error) from error
    return joined(one, two, second.state().identity.label)


def joined(one: Taken, two: Taken, label: str) -> Taken:
    """Both pictures as one exposure; the first camera's are the ones to look at."""
    spread = abs((two.taken_at - one.taken_at).total_seconds()) * 1000
    pair = Pair(label, len(one.originals), round(spread, 2), dict(two.settings))
    return Taken((*one.originals, *two.originals), one.taken_at, one.settings, pair)


def _refuse_unless_ready(second: CameraOwner) -> None:
    state = second.state()
    if state.state not in ("ready", "exposing", "opening"):
        raise SecondAway(f"{state.identity.label}: {state.says}", retry_after=2)


def _set_aside(other: "Future[Taken]", stray: Callable[[Taken], None]) -> None:
    """The first camera failed: what the second has taken all the same is not thrown away."""
    try:
        stray(other.result())
    except StandclearError:
        return  # it has taken nothing, which is what is said already


def _without_the_second(error: StandclearError) -> CaptureFailed:
    return CaptureFailed(
        f"The second camera gave no picture: {error.detail} The first one's lies in the bin.",
        picture_taken=True,
    )
