"""The set at work: camera owner, shutter, trigger, live view and events, made in one place.

The web layer asks the stage and nothing beneath it. Everything it needs is passed in: the library,
the clock, and how to make a camera from its id.
"""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from standclear.cameras.base import Camera, LivePicture, Setting, Status
from standclear.clock import Clock
from standclear.errors import StandclearError
from standclear.library.library import Library
from standclear.library.records import Exposure
from standclear.shooting import describe
from standclear.shooting.action_end import action_ended
from standclear.shooting.darkroom import DarkRoom
from standclear.shooting.events import EventHub
from standclear.shooting.eye import Eyes
from standclear.shooting.live import LiveHub
from standclear.shooting.owner import CameraOwner, CameraState
from standclear.shooting.reseat import ReseatGuide
from standclear.shooting.second import SecondCamera
from standclear.shooting.shutter import Press, Shutter
from standclear.shooting.steadytest import SteadyTest
from standclear.shooting.stepback_runner import StepBack
from standclear.shooting.trigger import Trigger
from standclear.shooting.watchroom import WatchRoom

LAST_EXPOSURE_WIDTH = 1280


class Stage:
    """One camera, one library, and all who watch and press."""

    def __init__(
        self, *, library: Library, clock: Clock, make_camera: Callable[[str], Camera], camera: str
    ) -> None:
        self.library = library
        self.clock = clock
        self.events = EventHub()
        self.live = LiveHub()
        self.darkroom = DarkRoom()
        self._make_camera = make_camera
        self._switching = threading.Lock()
        self._shows = ThreadPoolExecutor(max_workers=1, thread_name_prefix="last-exposure")
        self._status = Status()
        self._owner = self._own(make_camera(camera))
        self.second = SecondCamera(clock, make_camera, self._second_changed)
        self.shutter = Shutter(
            owner=lambda: self._owner,
            second=lambda: self.second.owner,
            library=library,
            darkroom=self.darkroom,
            listener=self,
        )
        self.watches = WatchRoom(library, self.events.publish, self.shutter)
        self.steady_test = SteadyTest(
            library, clock, self.shutter, self.watches.changed, self.events.publish
        )
        self.reseat = ReseatGuide(
            library=library,
            live=self.live,
            clock=clock,
            reference=self.watches.reference,
            tell=self.events.publish,
        )
        self.step_back = self._watcher()
        self.trigger = Trigger(
            clock=clock,
            press=self.shutter.press,
            tell=self.events.publish,
            step_back=self.step_back,
        )

    # -- the camera --------------------------------------------------------------------------

    def camera(self) -> CameraState:
        """The camera in use and its state; never waits for it."""
        return self._owner.state()

    def camera_status(self) -> Status:
        """Battery and free space, as last read."""
        return self._status

    def use_camera(self, camera_id: str) -> CameraState:
        """Let the present camera go and take up another. Raises what the id deserves."""
        camera = self._make_camera(camera_id)
        with self._switching:
            self.trigger.cancel("The camera was changed.")
            self._owner.stop()
            self.live.clear()
            self._status = Status()
            self._owner = self._own(camera)
        self.second.leave_if(camera_id)
        self.step_back.learn_again()
        return self._owner.state()

    def use_second(self, camera_id: str | None) -> CameraState | None:
        """Let another camera take with the first from now on, or none. Raises what the id
        deserves."""
        if camera_id is None:
            self.second.leave()
            return None
        return self.second.use(camera_id, self.camera().identity.id)

    def settings(self) -> list[Setting]:
        """The settings as the camera offers them now."""
        return self._owner.call(lambda camera: camera.settings())

    def change_settings(self, values: dict[str, str]) -> list[Setting]:
        """Set values by name; answers all settings as they are afterwards."""

        def work(camera: Camera) -> list[Setting]:
            camera.change(values)
            return camera.settings()

        return self._owner.call(work)

    def look(self) -> None:
        """Somebody opens the live view: wake the owner."""
        self._owner.poke()

    def show_last_exposure(self, shot: str) -> None:
        """Put the shot's newest exposure where the live picture would be (no live picture)."""
        state = self.camera()
        if state.capabilities is None or state.capabilities.live_picture:
            return
        page = self.library.playback(shot, last=1)
        if page.frames:
            self._show(shot, page.frames[-1].exposure_id)

    def _show(self, shot: str, exposure: str) -> None:
        path = self.library.preview(shot, exposure, LAST_EXPOSURE_WIDTH)
        picture = LivePicture(at=self.clock.monotonic(), jpeg=path.read_bytes())
        self.live.publish(picture, source="last_exposure")

    def _show_kept(self, shot: str, exposure: str) -> None:
        """The newest exposure where there is no live picture, once the shutter rests."""
        self.shutter.wait_quiet()
        try:
            self._show(shot, exposure)
        except StandclearError:
            # A picture that cannot be shown is still kept; the page shows its own preview.
            self.live.clear()

    def _own(self, camera: Camera) -> CameraOwner:
        owner = CameraOwner(
            camera, clock=self.clock, live=self.live, on_change=self._camera_changed
        )
        owner.start()
        return owner

    def _watcher(self) -> StepBack:
        """The step-back trigger; its eye is the camera in use or another beside it."""
        eyes = Eyes(
            clock=self.clock,
            hub=self.live,
            camera=self.camera,
            poke=self.look,
            make_camera=self._make_camera,
        )
        return StepBack(
            clock=self.clock,
            press=self.shutter.press,
            tell=self.events.publish,
            eyes=eyes,
            action_ended=lambda shot: action_ended(self.library, shot),
        )

    def _camera_changed(self, state: CameraState) -> None:
        self.events.publish("camera", describe.camera(state, self._status))

    def camera_says(self, camera_id: str, status: Status) -> None:
        """The camera of that id has told of its battery or warned; heard if it is in use."""
        state = self._owner.state()
        if state.identity.id == camera_id and status != self._status:
            self._status = status
            self._camera_changed(state)

    def _second_changed(self, state: CameraState | None) -> None:
        self.events.publish("second_camera", {"camera": describe.second_camera(state)})

    # -- what the shutter tells --------------------------------------------------------------

    def exposing(self, press: Press, expected_s: float) -> None:
        """The shutter is about to open."""
        data = {"press": press.id, "shot": press.shot, "expected_s": round(expected_s, 4)}
        self.events.publish("exposing", data)

    def exposed(self, press: Press, *, ok: bool) -> None:
        """The shutter is closed."""
        self.events.publish("exposed", {"press": press.id, "shot": press.shot, "ok": ok})

    def kept(self, press: Press, exposure: Exposure) -> None:
        """The exposure is on disk."""
        self.step_back.kept(press.id)
        self.events.publish(
            "kept",
            {
                "press": press.id,
                "shot": press.shot,
                "replaces": press.replaces,
                "exposure": describe.exposure(exposure),
            },
        )
        if press.replaces:
            self.watches.forget(press.shot, press.replaces)
        if press.insert_after:
            self.watches.changed(press.shot)
        self.watches.look_at(press.shot, exposure.id)
        can = self.camera().capabilities
        if can is not None and not can.live_picture and self.live.watched:
            self._shows.submit(self._show_kept, press.shot, exposure.id)

    def failed(self, press: Press, error: StandclearError) -> None:
        """No exposure came of this press."""
        data = {"press": press.id, "shot": press.shot, "problem": describe.problem(error)}
        self.events.publish("failed", data)

    def late(self, press: Press, exposure: Exposure) -> None:
        """A picture came after its press was given up; it is in the bin."""
        data = {"press": press.id, "shot": press.shot, "exposure": describe.exposure(exposure)}
        self.events.publish("late", data)

    # -- the end -----------------------------------------------------------------------------

    def farewell(self, timeout: float) -> None:
        """Let listeners go at once; wait for a picture in progress; let the camera go."""
        self.trigger.stop()
        self.reseat.stop()
        self.shutter.wait_idle(timeout)
        self.events.close()
        self.live.close()
        self.watches.stop()
        self._shows.shutdown(wait=False, cancel_futures=True)
        self._owner.stop(timeout=min(timeout, 2.0))
        self.second.stop(timeout=min(timeout, 2.0))

    def refresh_status(self) -> Status:
        """Ask the camera for battery and free space (may wait for it)."""
        status = self._owner.call(lambda camera: camera.status())
        self._status = replace(status)
        return status
