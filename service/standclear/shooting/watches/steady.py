"""The steady test: pictures of a set on which nothing moves, measured and judged."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import ceil, inf
from typing import Any

import numpy as np

from standclear.imaging.light import SRGB, blocks_of
from standclear.imaging.linear import Doubles, Floats, Pixels
from standclear.imaging.prepared import Prepared, prepare, texture_factor
from standclear.imaging.robust import robust_sd
from standclear.shooting.watches.focus import LEAST_BLUR, TEXTURED_PX
from standclear.shooting.watches.measure import Measured, base_from, measure
from standclear.shooting.watches.symptoms import (
    Series,
    Symptom,
    focus_symptoms,
    light_symptoms,
    rig_symptoms,
    settings_symptoms,
)
from standclear.shooting.watches.thresholds import Noise, Thresholds

LEAST_PICTURES = 3
AVERAGED_NOISE_PERCENT = 0.1
BLUR_WIDTH = 1920

CANNOT_SEE = (
    "Slow changes that take longer than the test: lamps still warming up, the sun moving.",
    "A setting that the camera changes only when the scene changes: leave nothing on automatic.",
    "Movement of the object itself, and vibration shorter than an exposure.",
    "Mains beat that happened to fall on the same phase in all pictures.",
)


@dataclass(frozen=True)
class SteadyPicture:
    """One picture of the test: codes (h, w[, 3]) of 8 or 16 bits, and the camera's settings."""

    pixels: Pixels = field(repr=False)
    settings: Mapping[str, str]
    size: tuple[int, int] | None = None


@dataclass(frozen=True)
class SteadyReport:
    """The diagnosis.

    ``noise`` sets the shot's thresholds when the test was passed. Averaging ``frames_to_average``
    pictures brings the noise of light at one place (1/120 of the picture's width) to 0.1 %.
    """

    passed: bool
    symptoms: tuple[Symptom, ...]
    noise: Noise
    frames_to_average: int
    thresholds: Thresholds
    cannot_see: tuple[str, ...] = CANNOT_SEE

    def as_dict(self) -> dict[str, Any]:
        """As JSON."""
        return {
            "passed": self.passed,
            "symptoms": [
                {
                    "cause": s.cause,
                    "says": s.says,
                    "figures": {k: round(float(v), 5) for k, v in s.figures.items()},
                }
                for s in self.symptoms
            ],
            "noise": {k: round(float(v), 6) for k, v in vars(self.noise).items()},
            "frames_to_average": self.frames_to_average,
            "thresholds": self.thresholds.as_dict(),
            "cannot_see": list(self.cannot_see),
        }


def diagnose(pictures: Sequence[SteadyPicture], limits: Thresholds | None = None) -> SteadyReport:
    """Judge at least three pictures of one size; ``ValueError`` for fewer.

    The first picture is the reference of the others.
    """
    if len(pictures) < LEAST_PICTURES:
        raise ValueError(f"a steady test needs at least {LEAST_PICTURES} pictures")
    limits = limits or Thresholds()
    measured, grain = _measured(pictures)
    series = _series(measured, _blur_unit(pictures[0]))
    changed = settings_symptoms([picture.settings for picture in pictures])
    symptoms = [
        *changed,
        *light_symptoms(series, pictures[0].settings, limits, explained=bool(changed)),
        *rig_symptoms(series, limits),
        *focus_symptoms(series, limits),
    ]
    noise = _noise(series)
    passed = not any(s.cause != "plain_background" for s in symptoms)
    return SteadyReport(
        passed,
        tuple(symptoms),
        noise,
        max(1, ceil((grain / AVERAGED_NOISE_PERCENT) ** 2)),
        limits.fitted_to(noise) if passed else limits,
    )


def _measured(pictures: Sequence[SteadyPicture]) -> tuple[list[Measured], float]:
    """Measurements against the first, one picture after the other to keep memory low, and the
    noise of one block's light in %."""
    base = base_from(_prepared(pictures[0]))
    measured, grain = [], 0.0
    for number, picture in enumerate(pictures[1:]):
        one = _prepared(picture)
        if number == 0:
            grain = _grain(base.blocks, blocks_of(one.small, one.trusted))
        measured.append(measure(base, one, None, SRGB))
    return measured, grain


def _prepared(picture: SteadyPicture) -> Prepared:
    width, height = picture.size or (picture.pixels.shape[1], picture.pixels.shape[0])
    return prepare(picture.pixels, width, height)


def _grain(first: tuple[Floats, Floats], second: tuple[Floats, Floats]) -> float:
    known = np.minimum(first[1], second[1]) > 0.99
    ratio = np.log(second[0][known] / np.maximum(first[0][known], 1e-6))
    return float(100 * robust_sd(ratio.astype(np.float64)) / np.sqrt(2))


def _blur_unit(picture: SteadyPicture) -> float:
    width = int(picture.pixels.shape[1])
    return BLUR_WIDTH * texture_factor(width) / width


def _series(measured: list[Measured], blur_unit: float) -> Series:
    """``blur_unit``: pixels of a picture 1920 wide in one of the finest texture."""
    lights = [m.light for m in measured if m.light is not None]
    known = [m for m in measured if np.isfinite(m.place.shift_sd)]
    sharp = [m.focus for m in measured if m.focus is not None and m.shift_sd <= TEXTURED_PX]
    return Series(
        100 * np.array([0.0, *(one.level for one in lights)]),
        100 * np.array([[0.0, 0.0], *([one.red, one.blue] for one in lights)]),
        200 * np.array([one.wave.amplitude if one.wave else 0.0 for one in lights]),
        np.array([0.0, *(m.place.shift_x for m in known)]),
        np.array([0.0, *(m.place.shift_y for m in known)]),
        np.array([0.0, *(m.place.turn_deg for m in known)]),
        blur_unit**2 * np.array([0.0, *(one.blur_variance for one in sharp)]),
        len(known) == len(measured),
        float(np.median([m.place.shift_sd for m in known])) if known else 0.0,
        blur_unit**2 * float(np.median([one.sd for one in sharp])) if sharp else inf,
        LEAST_BLUR * blur_unit,
    )


def _noise(series: Series) -> Noise:
    """What is left when slow changes are taken out."""
    shift = max(_jitter(series.shift_x), _jitter(series.shift_y))
    return Noise(
        _jitter(series.level),
        max(_jitter(series.colour[:, 0]), _jitter(series.colour[:, 1])),
        shift if series.rig_known else 0.0,
        _jitter(series.turn) if series.rig_known else 0.0,
        float(np.sqrt(np.abs(_jitter(series.blur)))),
    )


def _jitter(values: Doubles) -> float:
    """Standard deviation by second differences, in which a steady drift drops out."""
    if len(values) < 3:
        return 0.0
    return float(np.sqrt(np.mean(np.square(np.diff(values, n=2))) / 6))
