"""What a few exposures can tell: a jump, the same way gone slowly, or that it is too early."""

from collections import Counter

import numpy as np
import pytest

from standclear.imaging.light import LightChange
from standclear.shooting.watches.light import judge_light
from standclear.shooting.watches.rig import RigPlace, judge_rig
from standclear.shooting.watches.thresholds import Thresholds

TRIALS = 20
LIMITS = Thresholds()
SHIFT_SD = 0.008  # px; what the fit says of itself on a textured set at 1920 x 1080
LEVEL_SD = 1.2e-4  # natural log of light, likewise


def place(x: float, y: float, turn: float = 0.0) -> RigPlace:
    return RigPlace(x, y, turn, 1.0, SHIFT_SD, 0.0004, 6e-6, 0.9, 1920)


def change(level: float) -> LightChange:
    covariance = np.eye(8) * LEVEL_SD**2
    nothing = np.zeros((1, 1, 3), np.float32)
    return LightChange(
        level, np.zeros(5), np.zeros(2), np.zeros(2), 0.0, 0.0, covariance, 1e-4, None,
        np.zeros(8), np.ones(8), nothing,
    )  # fmt: skip


def rig_causes(ways: np.ndarray, rng: np.random.Generator) -> list[str]:
    """The cause at each exposure after the reference, "" while the camera is said to stand."""
    angle = rng.uniform(0, 2 * np.pi)
    across = ways[:, None] * [np.cos(angle), np.sin(angle)]
    noisy = across + SHIFT_SD * rng.standard_normal(across.shape)
    places = [place(float(x), float(y)) for x, y in noisy]
    found = [judge_rig(one, places[:n], LIMITS).causes for n, one in enumerate(places)]
    return [causes[0] if causes else "" for causes in found]


def light_causes(levels: np.ndarray, rng: np.random.Generator) -> list[str]:
    noisy = levels + LEVEL_SD * rng.standard_normal(levels.shape)
    changes = [change(float(level)) for level in noisy]
    found = [judge_light(one, changes[:n], LIMITS).causes for n, one in enumerate(changes)]
    return [causes[0] if causes else "" for causes in found]


def share(counts: Counter[str], right: str, undecided: str) -> tuple[float, float]:
    """Of those named the part that is right, and of all flagged the part left open."""
    flagged = sum(counts.values()) - counts[""]
    named = max(flagged - counts[undecided], 1)
    return counts[right] / named, counts[undecided] / max(flagged, 1)


@pytest.mark.parametrize("rate", [0.012, 0.02, 0.03, 0.05])
def test_a_creep_is_told_from_the_third_exposure_on_and_not_called_a_bump(rate: float) -> None:
    rng = np.random.default_rng(1)
    counts: Counter[str] = Counter()
    for _ in range(TRIALS):
        counts.update(rig_causes(rate * np.arange(1, 14), rng)[1:])
    right, undecided = share(counts, "creep", "bump_or_creep")
    assert right >= 0.95, counts
    assert undecided < 0.25, counts


@pytest.mark.parametrize("at", [1, 2, 3, 4, 5, 6])
@pytest.mark.parametrize("way", [0.1, 0.3, 5.0])
def test_a_bump_is_a_bump_whenever_it_happens(way: float, at: int) -> None:
    rng = np.random.default_rng(2)
    counts: Counter[str] = Counter()
    for _ in range(TRIALS):
        counts.update(rig_causes(way * (np.arange(1, 10) >= at), rng)[at - 1 :])
    right, undecided = share(counts, "bump", "bump_or_creep")
    assert right >= 0.95, counts
    assert undecided < (0.3 if way == 0.1 else 0.02), counts


def test_a_turn_alone_has_a_way_too() -> None:
    creeping = [place(0.0, 0.0, 0.003 * n) for n in range(1, 6)]
    assert judge_rig(creeping[-1], creeping[:-1], LIMITS).causes == ("creep",)
    bumped = [place(0.0, 0.0, 0.015 * (n >= 5)) for n in range(1, 6)]
    assert judge_rig(bumped[-1], bumped[:-1], LIMITS).causes == ("bump",)


def test_what_may_be_either_is_said_to_be_either() -> None:
    found = judge_rig(place(0.075, 0.0), [place(0.028, 0.0)], LIMITS)
    assert found.causes == ("bump_or_creep",)
    assert "the next exposure shows" in found.says


def test_a_threshold_set_high_passes_over_what_lies_below_it() -> None:
    found = judge_rig(place(1.2, 0.0), [], Thresholds(shift_px=2.5))
    assert (found.state, found.thresholds["shift_px"]) == ("clear", 2.5)


def test_what_a_nearly_plain_wall_says_is_taken_with_doubt() -> None:
    """Measured on such a wall while the camera stood still: 4.8 deviations of the fit."""
    wall = RigPlace(0.217, 0.528, 0.0294, 1.00063, 0.118, 0.0095, 1.6e-4, 0.74, 1920)
    found = judge_rig(wall, [], LIMITS)
    assert (found.state, found.causes) == ("cannot_tell", ())
    far = RigPlace(4.0, 1.5, 0.0, 1.0, 0.118, 0.0095, 1.6e-4, 0.74, 1920)
    assert judge_rig(far, [], LIMITS).causes == ("bump",)


@pytest.mark.parametrize("rate", [0.0012, 0.002, 0.003, 0.006, -0.004])
def test_a_drift_of_light_is_told_from_the_third_exposure_on(rate: float) -> None:
    rng = np.random.default_rng(3)
    counts: Counter[str] = Counter()
    for _ in range(TRIALS):
        counts.update(light_causes(rate * np.arange(1, 14), rng)[1:])
    right, undecided = share(counts, "drift", "step_or_drift")
    assert right >= 0.95, counts
    assert undecided < 0.25, counts


@pytest.mark.parametrize("at", [1, 2, 3, 4, 5, 6])
def test_a_step_of_light_is_a_step_whenever_it_happens(at: int) -> None:
    rng = np.random.default_rng(4)
    counts = Counter(
        light_causes(0.005 * (np.arange(1, 9) >= at), rng)[at - 1] for _ in range(TRIALS)
    )
    assert counts["exposure_step"] >= 0.95 * TRIALS, counts


@pytest.mark.parametrize("sd", [0.005, 0.02])
def test_flicker_is_seldom_taken_for_a_drift(sd: float) -> None:
    rng = np.random.default_rng(5)
    counts: Counter[str] = Counter()
    for _ in range(TRIALS):
        counts.update(light_causes(sd * rng.standard_normal(7), rng)[1:])
    assert share(counts, "exposure_step", "step_or_drift")[0] >= 0.95, counts
