"""The second camera: an owner of its own, chosen and let go while the first one stays."""

import threading
from collections.abc import Callable

from standclear.cameras.base import Camera
from standclear.clock import Clock
from standclear.errors import Conflict
from standclear.shooting.live import LiveHub
from standclear.shooting.owner import CameraOwner, CameraState


class SecondCamera:
    """None at first. Its live picture is never fetched: the page shows the first one's."""

    def __init__(
        self,
        clock: Clock,
        make_camera: Callable[[str], Camera],
        tell: Callable[[CameraState | None], None],
    ) -> None:
        self._clock = clock
        self._make_camera = make_camera
        self._tell = tell
        self._choosing = threading.Lock()
        self.owner: CameraOwner | None = None

    def state(self) -> CameraState | None:
        """What is known of it; ``None`` while there is none."""
        owner = self.owner
        return None if owner is None else owner.state()

    def use(self, camera_id: str, first: str) -> CameraState:
        """Take it up beside the camera ``first``. Raises :class:`Conflict` when it is the same
        one, and what the id deserves."""
        if camera_id == first:
            raise Conflict("That camera is the first one already; the second must be another.")
        camera = self._make_camera(camera_id)
        with self._choosing:
            self._let_go(5.0)
            owner = CameraOwner(camera, clock=self._clock, live=LiveHub(), on_change=self._changed)
            self.owner = owner
            owner.start()
        return owner.state()

    def leave(self) -> None:
        """Go on with one camera."""
        self.stop()
        self._tell(None)

    def leave_if(self, camera_id: str) -> None:
        """The first camera is that one now: it cannot be the second as well."""
        state = self.state()
        if state is not None and state.identity.id == camera_id:
            self.leave()

    def stop(self, timeout: float = 5.0) -> None:
        """Let it go without a word."""
        with self._choosing:
            self._let_go(timeout)

    def _let_go(self, timeout: float) -> None:
        owner, self.owner = self.owner, None
        if owner is not None:
            owner.stop(timeout)

    def _changed(self, state: CameraState) -> None:
        now = self.owner
        if now is not None and now.state().identity == state.identity:
            self._tell(state)
