"""A device's settings through VideoCapture's properties, switched to manual where it can.

Numbers are the device's own (OpenCV hands them through; their unit is up to the driver). A
property counts as offered when the device accepts its present value back.
"""

import math
from collections.abc import Mapping
from typing import Any

import cv2

from standclear.cameras.base import NotOffered, Setting

AUTO = "auto"
#: Our name → (label, property, the property that puts it on automatic).
_SIX: Mapping[str, tuple[str, int, int | None]] = {
    "shutter": ("Exposure time (device units)", cv2.CAP_PROP_EXPOSURE, cv2.CAP_PROP_AUTO_EXPOSURE),
    "iso": ("Gain (device units)", cv2.CAP_PROP_GAIN, None),
    "white_balance": (
        "White balance (kelvin)",
        cv2.CAP_PROP_WB_TEMPERATURE,
        cv2.CAP_PROP_AUTO_WB,
    ),
    "focus": ("Focus (device units)", cv2.CAP_PROP_FOCUS, cv2.CAP_PROP_AUTOFOCUS),
}
_OWN: Mapping[str, tuple[str, int, int | None]] = {
    "brightness": ("Brightness", cv2.CAP_PROP_BRIGHTNESS, None),
    "contrast": ("Contrast", cv2.CAP_PROP_CONTRAST, None),
    "saturation": ("Saturation", cv2.CAP_PROP_SATURATION, None),
    "sharpness": ("Sharpness", cv2.CAP_PROP_SHARPNESS, None),
    "gamma": ("Gamma", cv2.CAP_PROP_GAMMA, None),
    "backlight": ("Backlight compensation", cv2.CAP_PROP_BACKLIGHT, None),
}
_ALL = {**_SIX, **_OWN}
#: (manual, automatic) of the automatic exposure: V4L2's own menu; elsewhere OpenCV's two levels.
_EXPOSURE_LEVELS = {"V4L2": (1.0, 3.0)}
_OTHER_EXPOSURE_LEVELS = (0.25, 0.75)


class Controls:
    """The properties of one open VideoCapture."""

    def __init__(self, capture: Any) -> None:
        self._capture = capture
        backend = capture.getBackendName()
        self._exposure_levels = _EXPOSURE_LEVELS.get(backend, _OTHER_EXPOSURE_LEVELS)
        automatics = [auto for _, _, auto in _ALL.values() if auto is not None]
        #: Whether each automatic is on; ``None`` where the device does not tell.
        self._automatic = {auto: self._switch(auto, on=False) for auto in automatics}
        self._offered = [name for name, (_, prop, _) in _ALL.items() if self._takes(prop)]

    def settings(self) -> list[Setting]:
        """The four of the six that a device may have, its exposure mode, then its own."""
        found = [self._setting(name) for name in self._offered]
        mode = self._automatic[cv2.CAP_PROP_AUTO_EXPOSURE]
        if mode is not None:
            value = AUTO if mode else "manual"
            place = sum(name in _SIX for name in self._offered)
            choices = ("manual", AUTO)
            found.insert(
                place, Setting("exposure_mode", "Exposure mode", value, choices, automatic=mode)
            )
        return found

    def change(self, values: Mapping[str, str]) -> None:
        """Set a number, or ``auto`` where there is an automatic."""
        for name, value in values.items():
            if name == "exposure_mode":
                self._set_mode(value)
            elif name in self._offered:
                self._set(name, value)
            else:
                raise NotOffered(f"This webcam has no setting {name!r}.")

    def _set_mode(self, value: str) -> None:
        if value not in ("manual", AUTO):
            raise NotOffered(f"'exposure_mode' can be manual or auto, not {value!r}.")
        self._automate("exposure_mode", cv2.CAP_PROP_AUTO_EXPOSURE, on=value == AUTO)

    def _set(self, name: str, value: str) -> None:
        _, prop, auto = _ALL[name]
        if value == AUTO and auto is not None:
            self._automate(name, auto, on=True)
            return
        number = _number(name, value)
        if auto is not None and self._automatic[auto]:
            self._automate(name, auto, on=False)
        if not self._capture.set(prop, number):
            raise NotOffered(f"The webcam refused {name!r} = {value!r}.")

    def _automate(self, name: str, auto: int, *, on: bool) -> None:
        self._automatic[auto] = self._switch(auto, on=on)
        if self._automatic[auto] is not on:
            raise NotOffered(f"The webcam does not switch {name!r} {'to' if on else 'from'} auto.")

    def _switch(self, auto: int, *, on: bool) -> bool | None:
        """Switch an automatic; what the device then says of it, ``None`` when it does not tell."""
        is_exposure = auto == cv2.CAP_PROP_AUTO_EXPOSURE
        levels = self._exposure_levels if is_exposure else (0.0, 1.0)
        accepted = self._capture.set(auto, levels[on])
        told = self._capture.get(auto)
        if told == levels[False]:
            return False if accepted or told > 0 else None
        return True if told > 0 else None

    def _takes(self, prop: int) -> bool:
        return bool(self._capture.set(prop, self._capture.get(prop)))

    def _setting(self, name: str) -> Setting:
        label, prop, auto = _ALL[name]
        automatic = self._automatic[auto] if auto is not None else None
        value = AUTO if automatic else f"{self._capture.get(prop):g}"
        return Setting(name, label, value, automatic=automatic)


def _number(name: str, value: str) -> float:
    try:
        number = float(value)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise NotOffered(f"{name!r} takes a number, not {value!r}.")
    return number
