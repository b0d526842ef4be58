"""How a VideoCapture is opened, so that a silent address does not keep us for half a minute."""

from typing import Any

import cv2

_SILENCE_MS = 3000


def open_source(source: int | str) -> Any:
    """A VideoCapture of a number, path or address; look at ``isOpened()``."""
    if isinstance(source, str) and "://" in source:
        limits = [cv2.CAP_PROP_OPEN_TIMEOUT_MSEC, _SILENCE_MS]
        limits += [cv2.CAP_PROP_READ_TIMEOUT_MSEC, _SILENCE_MS]
        return cv2.VideoCapture(source, cv2.CAP_FFMPEG, limits)
    return cv2.VideoCapture(source)
