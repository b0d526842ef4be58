"""One tethered camera: open, live picture, capture, settings, status.

Where the picture goes: the camera is told to keep it in its own memory where it offers that, so
that no card is needed; it is brought over at once either way. A file on a card stays on the card.

A new Camera object is made at each opening: with libgphoto2 2.5.34, to init() the same one again
after exit() corrupts the heap (see also ``link``).
"""

import contextlib
import importlib
import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any, ClassVar

from standclear.cameras.base import (
    Camera,
    CameraAway,
    Capabilities,
    CaptureFailed,
    Identity,
    LivePicture,
    NotOffered,
    Setting,
    Status,
    Taken,
)
from standclear.cameras.tethered import faults, values
from standclear.cameras.tethered.link import Link
from standclear.cameras.tethered.room import read_status
from standclear.cameras.tethered.transfer import Transfer, look_at_first, makes_two
from standclear.cameras.tethered.widgets import Widgets
from standclear.clock import Clock, SystemClock
from standclear.errors import CameraError

#: How long a camera may take to write the second file of a pair, in seconds.
PAIR_WAIT_S = 8.0
#: A live picture that fails for so long is a camera that is away.
_LIVE_PATIENCE_S = 3.0
_LIVE_PAUSE_MS = 30
_IN_MEMORY = re.compile(r"\b(internal ram|sdram|ram|computer|host|pc)\b", re.I)
_NO_LIVE = "This camera gives no live picture over USB; the last exposure is shown instead."


def load_binding() -> Any:
    """The gphoto2 module, imported as late as this because it reads the environment as it loads.

    Raises CameraAway when libgphoto2 cannot be loaded on this machine.
    """
    try:
        return importlib.import_module("gphoto2")
    except ImportError as error:
        says = f"Tethered cameras need libgphoto2, which cannot be loaded here: {error}."
        raise CameraAway(f"{says} Install the package gphoto2 again, or use a webcam.") from error


def attached(gp: Any) -> list[tuple[str, str]]:
    """(port, model) of each camera on a cable; empty when the ports cannot be asked."""
    try:
        found = gp.Camera.autodetect()
    except gp.GPhoto2Error:
        return []
    return [(found.get_value(index), found.get_name(index)) for index in range(found.count())]


class TetheredCamera(Camera):
    """The first camera found (``port`` empty) or the one on ``port``, such as ``usb:001,004``.

    ``gp`` is the binding, loaded at opening when not given.
    """

    kind: ClassVar[str] = "tethered"

    def __init__(self, port: str = "", *, gp: Any = None, clock: Clock | None = None) -> None:
        self._port = port
        self._loaded = gp
        self._clock = clock or SystemClock()
        self._model = ""
        self._link: Link | None = None
        self._transfer: Transfer
        self._widgets: Widgets
        self._live = False
        self._live_failing_since: float | None = None
        self._suspect = False

    @property
    def identity(self) -> Identity:
        """The id as given; the label names the model once it was open."""
        own_id = f"{self.kind}:{self._port}" if self._port else self.kind
        return Identity(own_id, self.kind, self._model or "Tethered camera")

    @property
    def capabilities(self) -> Capabilities:
        """Whether it gives a live picture: it says so itself, and one was asked for at opening."""
        return Capabilities(self._live, settings=True, live_says="" if self._live else _NO_LIVE)

    def open(self) -> None:
        """Take hold of the camera, send its pictures to memory, learn its settings."""
        self.close()
        try:
            self._open()
        except self._gp.GPhoto2Error as error:
            self.close()
            raise faults.away(error) from error

    def close(self) -> None:
        """Let go of the camera."""
        link, self._link = self._link, None
        self._suspect = False
        self._live_failing_since = None
        if link is not None:
            link.drop()

    def capture(self) -> Taken:
        """Take one picture and bring over its file or files.

        After a failure the connection is made anew before the next picture; at once, and with a
        second try, only where it is certain that the shutter stayed shut.
        """
        if self._suspect:
            self.open()
        try:
            return self._take()
        except CaptureFailed as failed:
            if failed.picture_taken is not False:
                raise
        self.open()
        return self._take()

    def live(self) -> LivePicture | None:
        """The camera's next live picture."""
        if not self._live:
            raise NotOffered(_NO_LIVE)
        link = self._opened()
        try:
            file = link.camera.capture_preview()
            data = bytes(file.get_data_and_size())
        except self._gp.GPhoto2Error as error:
            self._live_failed(error)
            return None
        self._live_failing_since = None
        if not data.startswith(b"\xff\xd8"):
            return None
        return LivePicture(self._clock.monotonic(), jpeg=data)

    def settings(self) -> list[Setting]:
        """All that the camera offers, read anew."""
        with self._faults():
            self._opened()
            return self._widgets.all()

    def change(self, values: Mapping[str, str]) -> None:
        """Set them one after the other, in the order given."""
        with self._faults():
            self._opened()
            for name, value in values.items():
                self._widgets.change(name, value)

    def status(self) -> Status:
        """Battery, and the room on the card (``None`` for what the camera does not tell)."""
        with self._faults():
            return read_status(self._opened())

    def alive(self) -> None:
        """Ask for the camera's events, which also empties its queue, and read the shutter time."""
        link = self._opened()
        try:
            link.camera.wait_for_event(1)
            self._widgets.refresh("shutter")
        except self._gp.GPhoto2Error as error:
            if faults.is_away(error):
                raise faults.away(error) from error

    def exposure_seconds(self) -> float:
        """The shutter time as last read; 0 where it is bulb or not told."""
        if self._link is None:
            return 0.0
        return values.seconds(self._widgets.values.get("shutter", "")) or 0.0

    @property
    def _gp(self) -> Any:
        if self._loaded is None:
            self._loaded = load_binding()
        return self._loaded

    @contextlib.contextmanager
    def _faults(self) -> Iterator[None]:
        """libgphoto2's errors become ours."""
        try:
            yield
        except self._gp.GPhoto2Error as error:
            if faults.is_away(error):
                raise faults.away(error) from error
            raise CameraError(f"The camera did not do that ({error}).") from error

    def _open(self) -> None:
        link = self._link = Link(self._gp, self._gp.Camera())
        if port := self._present_port():
            link.ports = self._gp.PortInfoList()
            link.ports.load()
            link.camera.set_port_info(link.ports[link.ports.lookup_path(port)])
        link.camera.init()
        self.beat()
        abilities = link.camera.get_abilities()
        self._model = str(abilities.model)
        self._transfer = Transfer(link, self._clock.monotonic, self.beat)
        self._widgets = Widgets(link)
        self._widgets.choose("capturetarget", _IN_MEMORY)
        self._widgets.learn()
        self.beat()
        says_live = abilities.operations & self._gp.GP_OPERATION_CAPTURE_PREVIEW
        self._live = bool(says_live) and self._gives_live(link)

    def _opened(self) -> Link:
        if self._link is None:
            raise CameraAway("The camera is not open.")
        return self._link

    def _present_port(self) -> str:
        """The port to open. A USB camera gets another number when it is plugged in again: then
        the one camera of the same model is it."""
        found = attached(self._gp) if self._port and self._model else []
        same = [port for port, model in found if model == self._model]
        return same[0] if len(same) == 1 and self._port not in same else self._port

    def _gives_live(self, link: Link) -> bool:
        try:
            link.camera.capture_preview()
        except self._gp.GPhoto2Error as error:
            if faults.is_away(error):
                raise
            return bool(error.code != faults.NOT_SUPPORTED)
        return True

    def _live_failed(self, error: Any) -> None:
        """Pass over a live picture that did not come; say so when none comes for seconds."""
        if faults.is_away(error):
            raise faults.away(error) from error
        if error.code == faults.NOT_SUPPORTED:
            self._live = False
            raise NotOffered(_NO_LIVE) from error
        now = self._clock.monotonic()
        since = self._live_failing_since = self._live_failing_since or now
        if now - since > _LIVE_PATIENCE_S:
            raise faults.away(error) from error
        with contextlib.suppress(self._gp.GPhoto2Error):
            self._opened().camera.wait_for_event(_LIVE_PAUSE_MS)

    def _take(self) -> Taken:
        link = self._opened()
        taken_at = self._clock.now()
        self._suspect = True  # until all went well
        try:
            path = link.camera.capture(self._gp.GP_CAPTURE_IMAGE)
        except self._gp.GPhoto2Error as error:
            path = self._after_failure(error)
        self.beat()
        originals = [self._transfer.fetch(path)]
        if makes_two(self._format()) and (second := self._transfer.partner(path, PAIR_WAIT_S)):
            originals.append(self._transfer.fetch(second))
        self._suspect = False
        return self._taken(originals, taken_at)

    def _format(self) -> str:
        try:
            return self._widgets.picture_format()
        except self._gp.GPhoto2Error:
            return ""

    def _taken(self, originals: list[Any], taken_at: datetime) -> Taken:
        try:
            in_force = self._widgets.refresh()
        except self._gp.GPhoto2Error:  # the picture is here; nothing may cost it now
            in_force = dict(self._widgets.values)
        return Taken(look_at_first(originals), taken_at, in_force)

    def _after_failure(self, error: Any) -> Any:
        """The picture that came in spite of the error, or the error as ours."""
        if faults.is_away(error):
            raise faults.away(error, picture_taken=None) from error
        if path := self._transfer.added_by_failure():
            return path
        raise faults.capture_failed(error) from error
