"""The steady test: pictures of a set on which nothing moves, and what they give away.

First the camera's own account (did a setting change by itself?), then what was measured.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import ceil
from typing import Any

import numpy as np

from standclear.imaging.light import SRGB, blocks_of
from standclear.imaging.linear import Doubles, Pixels
from standclear.imaging.prepared import prepare
from standclear.imaging.robust import robust_sd
from standclear.shooting.watches.mains import as_setting, beats, shutter_seconds, steady_shutters
from standclear.shooting.watches.measure import Measured, base_from, measure
from standclear.shooting.watches.thresholds import Noise, Thresholds
from standclear.shooting.watches.trend import DRIFT, trend

LEAST_PICTURES = 3
AVERAGED_NOISE_PERCENT = 0.1
SURE = 4.5
FLICKER_SD_PERCENT = 0.1

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
class Symptom:
    """One thing that is not steady: a plain name, its figures, and what to do about it."""

    cause: str
    says: str
    figures: Mapping[str, float] = field(default_factory=dict)


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


@dataclass(frozen=True)
class _Series:
    """By picture after the first: light in % against the mean, places in px, blur variance."""

    level: Doubles
    colour: Doubles
    banding: Doubles
    shift_x: Doubles
    shift_y: Doubles
    turn: Doubles
    blur: Doubles
    rig_known: bool
    shift_sd: float


def diagnose(pictures: Sequence[SteadyPicture], limits: Thresholds | None = None) -> SteadyReport:
    """Judge at least three pictures of one size; ``ValueError`` for fewer.

    The first picture is the reference of the others.
    """
    if len(pictures) < LEAST_PICTURES:
        raise ValueError(f"a steady test needs at least {LEAST_PICTURES} pictures")
    limits = limits or Thresholds()
    measured, grain = _measured(pictures)
    series = _series(measured)
    changed = _settings_symptoms([picture.settings for picture in pictures])
    symptoms = [
        *changed,
        *_light_symptoms(series, pictures[0].settings, limits, explained=bool(changed)),
        *_rig_symptoms(series, limits),
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
    """Measurements against the first, and the noise of one block's light in %."""
    prepared = []
    for picture in pictures:
        width, height = picture.size or (picture.pixels.shape[1], picture.pixels.shape[0])
        prepared.append(prepare(picture.pixels, width, height))
    base = base_from(prepared[0])
    first, second = base.blocks, blocks_of(prepared[1].small, prepared[1].trusted)
    known = np.minimum(first[1], second[1]) > 0.99
    ratio = np.log(second[0][known] / np.maximum(first[0][known], 1e-6))
    grain = 100 * robust_sd(ratio.astype(np.float64)) / np.sqrt(2)
    return [measure(base, one, None, SRGB) for one in prepared[1:]], float(grain)


def _series(measured: list[Measured]) -> _Series:
    lights = [m.light for m in measured if m.light is not None]
    known = [m for m in measured if np.isfinite(m.place.shift_sd)]
    return _Series(
        100 * np.array([0.0, *(one.level for one in lights)]),
        100 * np.array([[0.0, 0.0], *([one.red, one.blue] for one in lights)]),
        200 * np.array([one.wave.amplitude if one.wave else 0.0 for one in lights]),
        np.array([0.0, *(m.place.shift_x for m in known)]),
        np.array([0.0, *(m.place.shift_y for m in known)]),
        np.array([0.0, *(m.place.turn_deg for m in known)]),
        np.array([0.0, *(m.focus.blur_variance for m in measured if m.focus is not None)]),
        len(known) == len(measured),
        float(np.median([m.place.shift_sd for m in known])) if known else 0.0,
    )


def _settings_symptoms(settings: Sequence[Mapping[str, str]]) -> list[Symptom]:
    names = sorted(set.intersection(*(set(one) for one in settings)))
    found = []
    for name in names:
        values = list(dict.fromkeys(one[name] for one in settings))
        if len(values) > 1:
            says = (
                f"The camera changed {name.replace('_', ' ')} by itself: {', '.join(values)}. "
                "Set it by hand."
            )
            found.append(Symptom("setting_changed", says, {"values": float(len(values))}))
    return found


def _light_symptoms(
    series: _Series, settings: Mapping[str, str], limits: Thresholds, explained: bool
) -> list[Symptom]:
    """``explained``: the camera changed a setting, so uneven light needs no other cause."""
    found = []
    spread = float(np.std(series.level))
    along = trend(series.level)
    drifting = along.kind == DRIFT and along.is_sure and abs(along.total) > limits.step_percent
    if drifting:
        says = (
            f"The light drifts by {along.per_exposure:+.3f} % a picture. Let the lamps warm up for "
            "a quarter of an hour, and keep daylight out."
        )
        found.append(Symptom("drift", says, {"drift_percent_per_picture": along.per_exposure}))
    banded = float(np.median(series.banding)) if series.banding.size else 0.0
    flickers = not drifting and not explained and spread > FLICKER_SD_PERCENT
    if flickers or banded > limits.banding_percent:
        figures = {"light_sd_percent": spread, "banding_percent": banded}
        found.append(Symptom(*_beat_or_flicker(settings, spread, banded), figures))
    colour = float(np.ptp(series.colour, axis=0).max())
    if colour > limits.colour_percent:
        says = (
            f"The colour changes by {colour:.2f} % from picture to picture. Set white balance by "
            "hand; some LED lamps change colour while they dim."
        )
        found.append(Symptom("colour_shift", says, {"colour_percent": colour}))
    return found


def _beat_or_flicker(settings: Mapping[str, str], spread: float, banded: float) -> tuple[str, str]:
    amount = f"The light changes by {spread:.2f} % from picture to picture"
    if banded > 0:
        amount += f", in bands of {banded:.1f} %"
    seconds = shutter_seconds(settings.get("shutter", ""))
    if seconds is None:
        return "flicker", f"{amount}. Look for a setting on automatic, or lamps that beat."
    advice = []
    for hertz in (50, 60):
        if beats(seconds, hertz):
            near = sorted(set(steady_shutters(seconds, hertz)))
            advice.append(f"{' or '.join(as_setting(s) for s in near)} on {hertz} Hz mains")
    if not advice:
        return "flicker", (
            f"{amount}. The shutter does not beat with the mains, so look for a setting on "
            "automatic, an aperture that closes unevenly, or a lamp with a loose contact."
        )
    return "mains_beat", f"{amount}. The shutter beats with the lamps; use {'; '.join(advice)}."


def _rig_symptoms(series: _Series, limits: Thresholds) -> list[Symptom]:
    if not series.rig_known:
        says = (
            "The background has too little texture to tell whether the camera moves. Put a fine "
            "pattern at the picture's rim, or trust the tripod."
        )
        return [Symptom("plain_background", says)]
    found = []
    way = np.hypot(series.shift_x, series.shift_y)
    ends = float(np.hypot(_ends(series.shift_x), _ends(series.shift_y)))
    if ends > max(limits.creep_px, SURE * series.shift_sd):
        says = (
            f"The camera creeps: {ends:.2f} px over {len(way)} pictures. Tighten the head, "
            "support a heavy lens, and wait until the tripod has settled."
        )
        found.append(Symptom("creep", says, {"creep_px": ends}))
    elif float(way.max()) > max(limits.shift_px, SURE * series.shift_sd):
        says = (
            f"The camera shakes by {float(way.max()):.2f} px. Trigger from afar, lock the mirror "
            "up, and let the floor come to rest."
        )
        found.append(Symptom("shake", says, {"shift_px": float(way.max())}))
    return found


def _ends(values: Doubles) -> float:
    """How far the end lies from the beginning, each the median of up to three."""
    part = max(1, min(3, len(values) // 2))
    return float(np.median(values[-part:]) - np.median(values[:part]))


def _noise(series: _Series) -> Noise:
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
