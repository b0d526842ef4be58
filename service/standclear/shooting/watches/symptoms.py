"""What a steady test's series gives away, each by a plain name, with figures and what to do.

First the camera's own account (did a setting change by itself?), then what was measured.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from standclear.imaging.linear import Doubles
from standclear.shooting.watches.mains import as_setting, beats, shutter_seconds, steady_shutters
from standclear.shooting.watches.thresholds import Thresholds
from standclear.shooting.watches.trend import (
    DRIFT,
    FITS,
    LAMP_SD,
    LEAST_ENTRIES,
    NO_TREND,
    STEP,
    Trend,
    evidence,
    straight,
    trend,
)

SURE = 4.5
FLICKER_SD_PERCENT = 0.1
LAMP_SD_PERCENT = 100 * LAMP_SD
COLOUR_SHARE = 0.7
"""A channel that changes takes the whole light along by less than this part of it."""

LEAST_SHIFT_SD = 0.01
"""Pixels by which a camera at rest may scatter."""


@dataclass(frozen=True)
class Symptom:
    """One thing that is not steady: a plain name, its figures, and what to do about it."""

    cause: str
    says: str
    figures: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Series:
    """By picture, the first being zero: light and colour in %, banding in % for all but the first,
    places in px of the original and degrees, blur variance in px² of a picture 1920 wide.

    ``blur_sd`` is infinite where the background's texture does not tell how sharp it is; less than
    ``least_blur`` (px at 1920 wide) may come from resampling pictures that shake.
    """

    level: Doubles
    colour: Doubles
    banding: Doubles
    shift_x: Doubles
    shift_y: Doubles
    turn: Doubles
    blur: Doubles
    rig_known: bool
    shift_sd: float
    blur_sd: float
    least_blur: float


def settings_symptoms(settings: Sequence[Mapping[str, str]]) -> list[Symptom]:
    """What the camera itself says that it changed."""
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


def light_symptoms(
    series: Series, settings: Mapping[str, str], limits: Thresholds, explained: bool
) -> list[Symptom]:
    """``explained``: the camera changed a setting, so uneven light needs no other cause."""
    slow = _slow_light(series, limits, explained)
    colour = float(np.ptp(series.colour, axis=0).max())
    coloured = colour > limits.colour_percent
    told = bool(slow) or explained
    told = told or (coloured and float(np.ptp(series.level)) < COLOUR_SHARE * colour)
    spread = float(np.std(series.level))
    banded = float(np.median(series.banding)) if series.banding.size else 0.0
    found = list(slow)
    if banded > limits.banding_percent or (spread > FLICKER_SD_PERCENT and not told):
        figures = {"light_sd_percent": spread, "banding_percent": banded}
        found.append(Symptom(*_beat_or_flicker(settings, spread, banded), figures))
    if coloured:
        says = (
            f"The colour changes by {colour:.2f} % from picture to picture. Set white balance by "
            "hand; some LED lamps change colour while they dim."
        )
        found.append(Symptom("colour_shift", says, {"colour_percent": colour}))
    return found


def _slow_light(series: Series, limits: Thresholds, explained: bool) -> list[Symptom]:
    """One jump that stays, or a drift."""
    jump = jump_in(series.level, LAMP_SD_PERCENT, limits.step_percent)
    if jump is not None:
        return [] if explained else [_light_jump(*jump)]
    along = _trend(series.level)
    if not (along.is_sure and abs(along.total) > limits.step_percent):
        return []
    says = (
        f"The light drifts by {along.per_exposure:+.3f} % a picture. Let the lamps warm up for "
        "a quarter of an hour, and keep daylight out."
    )
    return [Symptom("drift", says, {"drift_percent_per_picture": along.per_exposure})]


def _trend(levels: Doubles) -> Trend:
    """A drift, whatever the number of pictures; `NO_TREND` when it is none."""
    found = trend(levels)
    if len(levels) < LEAST_ENTRIES and evidence(levels, LAMP_SD_PERCENT) == DRIFT:
        return straight(levels, LAMP_SD_PERCENT)
    return found if found.kind == DRIFT else NO_TREND


def jump_in(values: Doubles, sd: float, least: float) -> tuple[int, float] | None:
    """The picture (from 1) after which a series jumped once and stayed, and by how much."""
    if len(values) < 3:
        return None
    left = [
        float(values[:i].var() * i + values[i:].var() * (len(values) - i)) for i in _cuts(values)
    ]
    cut = 1 + int(np.argmin(left))
    jump = float(values[cut:].mean() - values[:cut].mean())
    stays = min(left) <= FITS * sd**2 * max(len(values) - 2, 1)
    sure = stays and abs(jump) > least and evidence(values, sd) == STEP
    return (cut, jump) if sure else None


def _cuts(values: Doubles) -> range:
    return range(1, len(values))


def _light_jump(after: int, percent: float) -> Symptom:
    says = (
        f"The light jumped by {percent:+.2f} % after picture {after} and stayed, though the camera "
        "tells of no change. Set shutter, aperture and ISO by hand, and look at the lamps."
    )
    return Symptom("exposure_jump", says, {"jump_percent": percent, "after_picture": float(after)})


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


def rig_symptoms(series: Series, limits: Thresholds) -> list[Symptom]:
    """Bumped once, creeping, or shaking; or a background that cannot tell."""
    if not series.rig_known:
        says = (
            "The background has too little texture to tell whether the camera moves. Put a fine "
            "pattern at the picture's rim, or trust the tripod."
        )
        return [Symptom("plain_background", says)]
    way = np.hypot(series.shift_x, series.shift_y)
    sure = SURE * series.shift_sd
    ends = float(np.hypot(_ends(series.shift_x), _ends(series.shift_y)))
    jump = jump_in(_along(series), max(series.shift_sd, LEAST_SHIFT_SD), limits.shift_px)
    if jump is not None and abs(jump[1]) > sure:
        return [_bumped(*jump)]
    if ends > max(limits.creep_px, sure):
        says = (
            f"The camera creeps: {ends:.2f} px over {len(way)} pictures. Tighten the head, "
            "support a heavy lens, and wait until the tripod has settled."
        )
        return [Symptom("creep", says, {"creep_px": ends})]
    if float(way.max()) > max(limits.shift_px, sure):
        says = (
            f"The camera shakes by {float(way.max()):.2f} px. Trigger from afar, lock the mirror "
            "up, and let the floor come to rest."
        )
        return [Symptom("shake", says, {"shift_px": float(way.max())})]
    return []


def _bumped(after: int, way: float) -> Symptom:
    says = (
        f"The camera was bumped by {abs(way):.2f} px after picture {after}. Keep away from the "
        "rig during the test, and test again."
    )
    return Symptom("bump", says, {"shift_px": abs(way), "after_picture": float(after)})


def _along(series: Series) -> Doubles:
    """The way from the first picture, seen in the direction of the last."""
    last = np.array([series.shift_x[-1], series.shift_y[-1]])
    both = np.stack([series.shift_x, series.shift_y], axis=1)
    return np.asarray(both @ last / max(float(np.linalg.norm(last)), 1e-9))


def focus_symptoms(series: Series, limits: Thresholds) -> list[Symptom]:
    """Whether sharpness holds: no camera tells where its focus stands."""
    spread = float(np.ptp(series.blur))
    limit = max(limits.blur_px_at_1920, series.least_blur)
    if spread <= limit**2 + 2 * SURE * series.blur_sd:
        return []
    blur = spread**0.5
    says = (
        f"The sharpness changes from picture to picture, by a blur of {blur:.2f} px at 1920 wide. "
        "Set focus to manual, and see that the ring does not slip."
    )
    return [Symptom("focus_moves", says, {"blur_px_at_1920": blur})]


def _ends(values: Doubles) -> float:
    """How far the end lies from the beginning, each the median of up to three."""
    part = max(1, min(3, len(values) // 2))
    return float(np.median(values[-part:]) - np.median(values[:part]))
