"""The light watch: what changed in the light since the last frames, and what it is called.

The measurement is against the shot's reference; the step is against the last five exposures, so
that a drift does not count as a step and a change that stays is reported when it happens.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import exp, log

import numpy as np

from standclear.imaging.banding import Wave, find_wave
from standclear.imaging.light import LightChange, field_over
from standclear.imaging.linear import Doubles
from standclear.shooting.watches.thresholds import Thresholds
from standclear.shooting.watches.trend import (
    DRIFT,
    LAMP_SD,
    LEAST_ENTRIES,
    NO_TREND,
    OPEN,
    Trend,
    evidence,
    straight,
    trend,
)
from standclear.shooting.watches.verdict import CLEAR, FLAGGED, Finding, cannot_tell

RECENT = 5
WINDOW = 50
SURE = 5.0
"""A change smaller than this many standard deviations of the fit is not named."""

COLOUR_HIDES = 1.5
"""A gradient of less than so many times a colour shift comes with it: a JPEG file's rounding takes
the shift in some places of an even surface and not in others."""

LN2 = log(2.0)
LEAST_DRIFT = 4
"""Light may scatter so that three exposures lie on a line by chance; rarely four."""

SIDES = ("left", "right", "top", "bottom")


@dataclass(frozen=True)
class LightStep:
    """One exposure's change against the frames before it; natural logs unless named otherwise."""

    step: float
    sd: float
    red: float
    blue: float
    colour_sd: float
    gradient: float
    brighter_side: str
    wave: Wave | None
    drift: Trend


def judge_light(
    change: LightChange | None, history: Sequence[LightChange], limits: Thresholds
) -> Finding:
    """The finding on ``change``; ``history`` are the exposures since the reference, oldest first.

    The reference itself needs no place in the history: it is the zero of all of them.
    """
    if change is None:
        return cannot_tell(
            "Too little of the picture lies between black and the sensor's ceiling to read the "
            "light. Change the exposure so that the background shows."
        )
    step = light_step(change, history)
    causes = _causes(step, limits)
    return Finding(
        FLAGGED if causes else CLEAR,
        _says(step, causes),
        _figures(change, step),
        tuple(causes),
        {
            "step_percent": limits.step_percent,
            "gradient_percent": limits.gradient_percent,
            "banding_percent": limits.banding_percent,
            "drift_percent": limits.drift_percent,
            "colour_percent": limits.colour_percent,
        },
    )


def light_step(change: LightChange, history: Sequence[LightChange]) -> LightStep:
    """Compare an exposure with the last five, the drift over the last fifty taken out."""
    levels = np.array([0.0, *(entry.level for entry in history[-WINDOW:])])
    drift = _drift(np.append(levels, change.level))
    usual = float(np.median(levels[-RECENT:]))
    if _is_drift(drift):
        usual += drift.per_exposure * (min(len(levels), RECENT) + 1) / 2
    recent = history[-RECENT:]
    terms = change.field_terms - _median([e.field_terms for e in recent], change.field_terms)
    gradient, side = _gradient(terms)
    red = change.red - _median_of([entry.red for entry in recent])
    blue = change.blue - _median_of([entry.blue for entry in recent])
    sd = change.level_sd
    return LightStep(
        change.level - usual, sd, red, blue, change.colour_sd, gradient, side,
        _wave(change, recent), drift,
    )  # fmt: skip


def _drift(levels: Doubles) -> Trend:
    """The trend; of few exposures it is one where nothing else explains them."""
    found = trend(levels)
    if len(levels) >= LEAST_ENTRIES:
        return found
    kind = evidence(levels, LAMP_SD)
    if kind == DRIFT and len(levels) < LEAST_DRIFT:
        kind = OPEN
    return straight(levels, LAMP_SD) if kind == DRIFT else replace(NO_TREND, kind=kind)


def _is_drift(found: Trend) -> bool:
    return found.kind == DRIFT and found.is_sure


def _median(entries: list[Doubles], like: Doubles) -> Doubles:
    """Median with the reference's zero among the entries while there are few."""
    zero = [np.zeros_like(like)] if len(entries) < RECENT else []
    return np.asarray(np.median(np.stack([*zero, *entries]), axis=0))


def _median_of(values: list[float]) -> float:
    zero = [0.0] if len(values) < RECENT else []
    return float(np.median([*zero, *values]))


def _gradient(terms: Doubles) -> tuple[float, str]:
    """Peak to peak of the field and the side on which it is brightest."""
    over = field_over(terms)
    row, column = np.unravel_index(int(np.argmax(over)), over.shape)
    x = 2.0 * float(column) / (over.shape[1] - 1) - 1.0
    y = 2.0 * float(row) / (over.shape[0] - 1) - 1.0
    if abs(x) >= abs(y):
        side = SIDES[0] if x < 0 else SIDES[1]
    else:
        side = SIDES[2] if y < 0 else SIDES[3]
    return float(np.ptp(over)), side


def _wave(change: LightChange, recent: Sequence[LightChange]) -> Wave | None:
    """The wave that this exposure has and the last ones have not; the reference's own drops out."""
    if len(recent) < 3:
        return change.wave
    usual = np.median(np.stack([entry.rows for entry in recent]), axis=0)
    return find_wave(change.rows - usual, change.row_mass)


def _causes(step: LightStep, limits: Thresholds) -> list[str]:
    causes = []
    gradient = 100 * step.gradient
    sided = gradient > max(limits.gradient_percent, 100 * SURE * 2 * step.sd)
    sided = sided and step.gradient > 0.4 * abs(step.step)
    colour = max(abs(step.red), abs(step.blue))
    shifted = 100 * colour > max(limits.colour_percent, 100 * SURE * step.colour_sd)
    shifted = shifted and colour > 0.15 * abs(step.step)
    exposed = 100 * abs(step.step) > max(limits.step_percent, 100 * SURE * step.sd)
    if sided and not (shifted and step.gradient < COLOUR_HIDES * colour):
        exposed = exposed and abs(step.step) > 1.2 * step.gradient
        causes.append("one_sided_light")
    if shifted:
        exposed = exposed and abs(step.step) > 0.9 * colour
        causes.append("colour_shift")
    if exposed:
        causes.append("step_or_drift" if step.drift.kind == OPEN else "exposure_step")
    if step.wave is not None and 200 * step.wave.amplitude > limits.banding_percent:
        causes.append("banding")
    if _is_drift(step.drift) and 100 * abs(step.drift.total) > limits.drift_percent:
        causes.append("drift")
    return causes


def _figures(change: LightChange, step: LightStep) -> dict[str, float]:
    figures = {
        "step_stops": step.step / LN2,
        "step_percent": 100 * (exp(step.step) - 1),
        "step_percent_sd": 100 * step.sd,
        "level_stops": change.level / LN2,
        "red_ratio": exp(step.red),
        "blue_ratio": exp(step.blue),
        "gradient_percent": 100 * step.gradient,
        "banding_percent": 200 * step.wave.amplitude if step.wave else 0.0,
        "drift_stops_per_100": 100 * step.drift.per_exposure / LN2,
    }
    if step.wave:
        figures["banding_cycles"] = step.wave.cycles
    return figures


def _says(step: LightStep, causes: list[str]) -> str:
    if not causes:
        return f"The light held: {_percent(step.step)} against the last frames."
    return " ".join(_sentence(cause, step) for cause in causes)


def _sentence(cause: str, step: LightStep) -> str:
    if cause in {"exposure_step", "step_or_drift"}:
        way = "rose" if step.step > 0 else "fell"
        says = (
            f"The light {way} by {_percent(abs(step.step), sign=False)} "
            f"({abs(step.step) / LN2:.3f} stop) against the last frames."
        )
        again = " It did so before: whether it drifts, the next exposure shows."
        return says + again if cause == "step_or_drift" else says
    if cause == "one_sided_light":
        return (
            f"The light changed on one side: {100 * step.gradient:.1f} % across the picture, "
            f"brighter towards the {step.brighter_side}. Look at the lamp there."
        )
    if cause == "colour_shift":
        return (
            f"The colour shifted: red {_percent(step.red)}, blue {_percent(step.blue)} against "
            "green. Set white balance by hand and look for a lamp that changed."
        )
    if cause == "banding" and step.wave is not None:
        return (
            f"Bands run across the picture ({200 * step.wave.amplitude:.1f} % from dark to "
            "bright): the lamps beat with the shutter. Use a shutter time that is a multiple of "
            "1/100 s (50 Hz mains) or 1/120 s (60 Hz)."
        )
    return (
        f"The light drifts by {100 * step.drift.per_exposure / LN2:+.3f} stop in 100 exposures. "
        "Let lamps warm up, and keep daylight out."
    )


def _percent(change: float, sign: bool = True) -> str:
    value = 100 * (exp(change) - 1)
    return f"{value:+.2f} %" if sign else f"{value:.2f} %"
