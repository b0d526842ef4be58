"""The Camera interface: what a driver must do, and how it says that it could not.

A driver knows nothing of shots. Every method is called from one thread only, the owner's (see
``shooting/owner.py``), so a driver needs no locks. Every method may block; the owner watches the
time. A driver states what it can do as :class:`Capabilities`; nobody asks ``isinstance``.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from standclear.errors import CameraError

#: The settings that every driver maps its own to, in the order they are shown.
SETTING_NAMES = ("shutter", "aperture", "iso", "white_balance", "focus", "exposure_mode")


class CameraAway(CameraError):
    """Unplugged, asleep, or taken by another program. The owner tries again by itself."""

    code = "camera_away"
    title = "The camera is away"
    hint = "Check the cable and that the camera is awake; it is taken up again by itself."


class CameraBusy(CameraError):
    """Another exposure is in progress."""

    code = "camera_busy"
    status = 409
    title = "The camera is taking a picture"
    hint = "Wait for the exposure in progress, then press again."


class CameraHung(CameraError):
    """The camera has not answered for longer than its exposure explains."""

    code = "camera_hung"
    title = "The camera does not answer"
    hint = "Switch the camera off and on; it is taken up again by itself."


class CaptureFailed(CameraError):
    """No usable picture came; ``picture_taken`` in the Problem says whether the shutter went."""

    code = "capture_failed"
    title = "The picture was not taken"
    hint = "Press again; if it repeats, look at the camera's screen."

    def __init__(self, detail: str, *, picture_taken: bool | None = None) -> None:
        super().__init__(detail, picture_taken=picture_taken)
        self.picture_taken = picture_taken


class BrokenPicture(CaptureFailed):
    """A picture came, cut short or altered on its way. It is not kept."""

    code = "broken_picture"
    title = "The picture arrived damaged"
    hint = "Press again; if it repeats, change the cable."


class NotOffered(CameraError):
    """This camera has no such ability, setting or choice."""

    code = "not_offered"
    status = 422
    title = "This camera does not offer that"
    hint = "Read GET /camera/settings for what it offers."


@dataclass(frozen=True, slots=True)
class Identity:
    """Which camera this is: ``id`` as given to ``--camera``, ``kind`` (the driver), ``label``."""

    id: str
    kind: str
    label: str


@dataclass(frozen=True, slots=True)
class Capabilities:
    """What the driver can do; ``live_says`` explains a missing live picture in one sentence."""

    live_picture: bool
    settings: bool
    live_says: str = ""


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting as the camera offers it.

    ``choices`` is empty where the camera takes any value (``minimum``/``maximum``/``step`` then
    bound a number, where known). ``automatic`` is ``None`` where the camera does not tell.
    """

    name: str
    label: str
    value: str
    choices: tuple[str, ...] = ()
    automatic: bool | None = None
    writable: bool = True
    minimum: float | None = None
    maximum: float | None = None
    step: float | None = None


@dataclass(frozen=True, slots=True)
class Status:
    """What the camera says of itself, ``None`` where it does not. ``warnings`` are sentences: a
    low battery, heat, a camera that was turned."""

    battery_percent: int | None = None
    free_pictures: int | None = None
    free_bytes: int | None = None
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Original:
    """One file as the camera gave it, whole. ``extension`` without the dot, lower case."""

    data: bytes = field(repr=False)
    media_type: str
    extension: str
    width: int | None
    height: int | None


@dataclass(frozen=True, slots=True)
class Pair:
    """What a second camera gave with the same press: the exposure's originals from the index
    ``from_file`` on. ``spread_ms`` is the time between the two pictures."""

    camera: str
    from_file: int
    spread_ms: float
    settings: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Taken:
    """One exposure: one file, or two for RAW+JPEG (the one to look at first), and those of a
    second camera behind them.

    ``taken_at`` is UTC, ``settings`` the values in force, under their setting names.
    """

    originals: tuple[Original, ...]
    taken_at: datetime
    settings: Mapping[str, str]
    pair: Pair | None = None


@dataclass(frozen=True, slots=True)
class LivePicture:
    """One live picture, as a JPEG (``jpeg``) or as 8-bit BGR (``pixels``, H×W×3); ``at`` is the
    monotonic time, in seconds, at which the driver had it."""

    at: float
    jpeg: bytes | None = field(default=None, repr=False)
    pixels: NDArray[np.uint8] | None = field(default=None, repr=False)


class Camera(ABC):
    """One camera. See the module's first lines for who calls it, and how."""

    kind: ClassVar[str]

    #: Called by a driver between the steps of a long call (shutter closed, file announced, part
    #: downloaded): the owner then knows that the camera is slow, not hung.
    beat: Callable[[], None] = staticmethod(lambda: None)

    @property
    @abstractmethod
    def identity(self) -> Identity:
        """Known before it is opened."""

    @property
    @abstractmethod
    def capabilities(self) -> Capabilities:
        """Known once it is open."""

    @abstractmethod
    def open(self) -> None:
        """Take hold of the camera. Raises :class:`CameraAway` with a sentence on why not."""

    @abstractmethod
    def close(self) -> None:
        """Let go of it; never raises, may be called twice, and :meth:`open` works again after."""

    @abstractmethod
    def capture(self) -> Taken:
        """Take one picture *after* this call began and return it whole.

        Raises :class:`CameraAway`, :class:`CaptureFailed`, :class:`BrokenPicture`.
        """

    def capture_test(self) -> Taken:
        """As :meth:`capture`, for a picture that is no part of the film (the steady test)."""
        return self.capture()

    def live(self) -> LivePicture | None:
        """The next live picture; blocks until there is one, at most about 1/15 s. ``None`` when
        none came in that time. Raises :class:`CameraAway`; :class:`NotOffered` without live."""
        raise NotOffered("This camera gives no live picture.")

    def settings(self) -> list[Setting]:
        """The six of :data:`SETTING_NAMES` that it has, in that order, then its own."""
        return []

    def change(self, values: Mapping[str, str]) -> None:
        """Set values by setting name. Raises :class:`NotOffered`, naming the setting; then none
        of the values after the named one was set."""
        raise NotOffered("This camera offers no settings.")

    def status(self) -> Status:
        """Battery and free space."""
        return Status()

    def alive(self) -> None:
        """A cheap check that it is still there, called about once a second when nothing else is
        asked. Raises :class:`CameraAway`. Cameras that are always there need not answer."""
        return

    def exposure_seconds(self) -> float:
        """How long the shutter stays open at the present settings, as far as is known."""
        return 0.0
