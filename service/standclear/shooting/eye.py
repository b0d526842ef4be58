"""The step-back trigger's eye: whose live picture it watches.

As a rule the camera's own. A camera without live picture, or one whose live view is better left
alone, can have another beside it: a webcam, opened here with an owner of its own, that sees and
never takes.
"""

from collections.abc import Callable
from dataclasses import dataclass

from standclear.cameras.base import Camera, NotOffered
from standclear.clock import Clock
from standclear.errors import StandclearError
from standclear.shooting.live import LiveHub
from standclear.shooting.owner import CameraOwner, CameraState


def _nothing() -> None:
    return None


@dataclass(frozen=True, slots=True)
class Eye:
    """Where the pictures come from; ``poke`` wakes their owner, ``close`` lets it go."""

    id: str | None
    hub: LiveHub
    poke: Callable[[], None]
    close: Callable[[], None] = _nothing


class Eyes:
    """Opens an eye by camera id; ``None`` is the camera in use."""

    def __init__(
        self,
        *,
        clock: Clock,
        hub: LiveHub,
        camera: Callable[[], CameraState],
        poke: Callable[[], None],
        make_camera: Callable[[str], Camera],
    ) -> None:
        self._clock = clock
        self._hub = hub
        self._camera = camera
        self._poke = poke
        self._make_camera = make_camera

    def open(self, eye: str | None) -> Eye:
        """Raises :class:`NotOffered` when that camera gives no live picture, and what opening the
        camera raises."""
        state = self._camera()
        if eye is not None and eye != state.identity.id:
            return self._another(eye)
        can = state.capabilities
        if can is not None and not can.live_picture:
            raise NotOffered(
                f"{can.live_says or 'This camera gives no live picture.'} The step-back trigger "
                "has nothing to watch: use the self-timer, or let a webcam beside it be its eye."
            )
        return Eye(None, self._hub, self._poke)

    def _another(self, eye: str) -> Eye:
        hub = LiveHub()
        owner = CameraOwner(
            self._make_camera(eye), clock=self._clock, live=hub, on_change=lambda _: None
        )
        owner.start()

        def close() -> None:
            hub.close()
            owner.stop()

        try:
            can = owner.call(lambda camera: camera.capabilities)
        except StandclearError:
            close()
            raise
        if not can.live_picture:
            close()
            raise NotOffered(
                f"{can.live_says or 'That camera gives no live picture.'} Choose another as the "
                "eye, or use the self-timer."
            )
        return Eye(eye, hub, owner.poke, close)
