"""The rehearsal camera's settings and what they do to the picture."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from standclear.cameras.base import NotOffered, Setting
from standclear.cameras.rehearsal.light import dice
from standclear.cameras.rehearsal.orders import Orders

CHOICES: Mapping[str, tuple[str, ...]] = {
    "shutter": (
        *("2", "1", "1/2", "1/4", "1/8", "1/10", "1/15", "1/25", "1/30", "1/40", "1/50"),
        *("1/60", "1/80", "1/100", "1/120", "1/125", "1/160", "1/200", "1/250", "1/500"),
    ),
    "aperture": ("f/2.8", "f/4", "f/5.6", "f/8", "f/11", "f/16"),
    "iso": ("auto", "100", "125", "160", "200", "250", "320", "400", "800", "1600", "3200"),
    "white_balance": (
        "auto",
        *(f"{k} K" for k in (2500, 2800, 3000, 3200, 3500, 4000, 4500, 5000, 5600, 6500)),
    ),
    "focus": (
        "auto",
        *(f"{d} mm" for d in (250, 300, 350, 400, 425, 450, 475, 500, 550, 600, 800, 1000, 2000)),
    ),
    "exposure_mode": ("manual", "auto"),
}
LABELS: Mapping[str, str] = {
    "shutter": "Shutter (s)",
    "aperture": "Aperture",
    "iso": "ISO",
    "white_balance": "White balance",
    "focus": "Focus distance",
    "exposure_mode": "Exposure mode",
}
DEFAULTS: Mapping[str, str] = {
    "shutter": "1/50",
    "aperture": "f/8",
    "iso": "200",
    "white_balance": "3200 K",
    "focus": "475 mm",
    "exposure_mode": "manual",
}
#: Where the actor stands, in mm from the lens: focus there is sharp.
SHARP_MM = 475.0


@dataclass(frozen=True, slots=True)
class Recipe:
    """What the settings amount to at one exposure: gains (B, G, R), blur (sd, px of a still),
    the noise's factor, and what the camera writes into the file."""

    gains: tuple[float, float, float]
    blur_px: float
    noise: float
    written: Mapping[str, str]


def offered(values: Mapping[str, str]) -> list[Setting]:
    """The settings as a list, with the present values."""
    return [
        Setting(
            name,
            LABELS[name],
            values[name],
            CHOICES[name],
            automatic=values[name] == "auto" or _taken_over(name, values),
            writable=not _taken_over(name, values),
        )
        for name in CHOICES
    ]


def _taken_over(name: str, values: Mapping[str, str]) -> bool:
    """Whether the exposure mode rules over this setting."""
    return name == "shutter" and values["exposure_mode"] == "auto"


def check(name: str, value: str) -> None:
    """Raises :class:`NotOffered` for a setting or choice that is not there."""
    if name not in CHOICES:
        raise NotOffered(f"The rehearsal camera has no setting “{name}”.")
    if value not in CHOICES[name]:
        raise NotOffered(
            f"The rehearsal camera's {name} takes {', '.join(CHOICES[name])}, not “{value}”."
        )


def seconds(shutter: str) -> float:
    """A shutter time as it is written ("1/50", "2") in seconds."""
    above, _, below = shutter.partition("/")
    return float(above) / float(below or 1)


def recipe(values: Mapping[str, str], orders: Orders, number: int) -> Recipe:
    """What the settings do at that exposure; what is on automatic wanders a little."""
    chance = dice(orders, 4, number).standard_normal(4)
    written = dict(values)
    stops = math.log2(seconds(values["shutter"]) / seconds(DEFAULTS["shutter"]))
    stops -= 2.0 * math.log2(float(values["aperture"][2:]) / 8.0)
    iso = 200.0 if values["iso"] == "auto" else float(values["iso"])
    if values["iso"] == "auto":
        iso *= 2.0 ** (0.06 * float(chance[0]))
        written["iso"] = f"{iso:.0f}"
    stops += math.log2(iso / 200.0)
    if values["exposure_mode"] == "auto":
        stops = 0.05 * float(chance[1])
        written["shutter"] = f"1/{50.0 / 2.0**stops:.1f}"
    kelvin = _kelvin(values["white_balance"], float(chance[2]))
    written["white_balance"] = f"{kelvin:.0f} K"
    focus_mm = SHARP_MM + 8.0 * abs(float(chance[3]))
    if values["focus"] != "auto":
        focus_mm = float(values["focus"].split()[0])
    written["focus"] = f"{focus_mm:.0f} mm"
    gain = 2.0**stops
    warm = (kelvin / 3200.0) ** 0.75
    gains = (gain / warm, gain, gain * warm)
    return Recipe(gains, _blur(focus_mm, values["aperture"]), math.sqrt(iso / 200.0), written)


def _kelvin(text: str, chance: float) -> float:
    return 3200.0 * (1.0 + 0.02 * chance) if text == "auto" else float(text.split(maxsplit=1)[0])


def _blur(focus_mm: float, aperture: str) -> float:
    """The blur's sd in pixels: the circle of confusion grows with the error in dioptres and the
    opening (thin lens, common optics)."""
    dioptres = abs(1000.0 / focus_mm - 1000.0 / SHARP_MM)
    return 9.0 * dioptres * 8.0 / float(aperture[2:]) * 0.6
