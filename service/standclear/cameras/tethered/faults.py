"""libgphoto2's error numbers (gphoto2-result.h, gphoto2-port-result.h) as Standclear's errors."""

from typing import Any

from standclear.cameras.base import CameraAway, CaptureFailed

NOT_SUPPORTED = -6
#: What these say is that no connection to a camera stands.
_AWAY = {
    -4: "libgphoto2 has no driver that fits this camera",
    -5: "There is no such port",
    -7: "The connection to the camera broke",
    -10: "The camera did not answer in time",
    -31: "The connection to the camera could not be set up",
    -34: "Reading from the camera failed",
    -35: "Writing to the camera failed",
    -37: "The connection to the camera could not be set up",
    -51: "The USB connection to the camera is stuck",
    -52: "The camera is no longer on its USB port",
    -60: "Another program holds the port of the camera",
    -105: "No camera was found on USB",
}
_CLAIMED = -53
_CLAIMED_SAYS = (
    "Another program holds the camera. On a desktop that is mostly the volume monitor (such as "
    "gvfs-gphoto2-volume-monitor), which takes every camera as it is plugged in: close the file "
    "manager's camera window, or stop the monitor as the README describes"
)
#: With these the camera (or the library, before asking it) refused: the shutter stayed shut.
_REFUSED = {
    -2: "The camera does not know the command to take a picture",
    -3: "The camera has no room for another picture: its card or memory is full",
    NOT_SUPPORTED: "This camera cannot be told to take a picture over USB",
    -110: "The camera is busy",
    -115: "The camera's card is full",
}


def is_away(error: Any) -> bool:
    """Whether a GPhoto2Error says that the camera is gone, asleep or taken."""
    return error.code in _AWAY or error.code == _CLAIMED


def away(error: Any, *, picture_taken: bool | None = False) -> CameraAway:
    """The error as CameraAway; ``picture_taken`` goes along unless it is plainly ``False``."""
    says = _CLAIMED_SAYS if error.code == _CLAIMED else _AWAY.get(error.code, "The camera failed")
    extra = {} if picture_taken is False else {"picture_taken": picture_taken}
    return CameraAway(f"{says} (libgphoto2 {error.code}).", **extra)


def capture_failed(error: Any) -> CaptureFailed:
    """What a failed capture command means; ``picture_taken`` is False only where certain."""
    if error.code in _REFUSED:
        says = f"{_REFUSED[error.code]} (libgphoto2 {error.code})."
        return CaptureFailed(says, picture_taken=False)
    return CaptureFailed(
        f"The camera gave up and does not say why (libgphoto2 {error.code}: {error}). It may not "
        "have found focus, or the lens, card or mode dial keeps it from taking a picture.",
        picture_taken=None,
    )
