"""The steady test names what is not steady, and passes what is."""

import numpy as np
import pytest

from standclear.shooting.watches.steady import SteadyPicture, diagnose
from tests.generator.tabletop import Fault, Tabletop, faulty

SETTINGS = {"shutter": "1/60", "iso": "200", "white_balance": "daylight"}
COUNT = 8


@pytest.fixture(scope="module")
def tabletop():
    return Tabletop(seed=5, width=640, height=360, texture="wood", object_area=0.1)


def _diagnose(tabletop, faults, settings=None):
    pictures = [
        SteadyPicture(tabletop.expose(fault=fault), settings[n] if settings else SETTINGS)
        for n, fault in enumerate(faults)
    ]
    return diagnose(pictures)


def _causes(report):
    return [symptom.cause for symptom in report.symptoms]


def test_a_steady_set_passes_and_its_noise_sets_the_thresholds(tabletop):
    report = _diagnose(tabletop, [Fault()] * COUNT)
    assert report.passed
    assert _causes(report) == []
    assert 0 < report.noise.step_percent < 0.05
    assert report.thresholds.step_percent >= 6 * report.noise.step_percent
    assert report.frames_to_average >= 1
    assert report.cannot_see


def test_more_noise_asks_for_more_frames_to_average(tabletop):
    quiet = _diagnose(tabletop, [Fault()] * 3).frames_to_average
    tabletop.noise = 3.0
    loud = _diagnose(tabletop, [Fault()] * 3).frames_to_average
    tabletop.noise = 1.0
    assert loud > quiet


@pytest.mark.parametrize(
    ("cause", "faults"),
    [
        ("mains_beat", [faulty(gain=1 + 0.01 * (-1) ** n) for n in range(COUNT)]),
        ("mains_beat", [faulty(banding=0.015, banding_phase=2.0 * n) for n in range(COUNT)]),
        ("drift", [faulty(gain=1 + 0.002 * n) for n in range(COUNT)]),
        ("creep", [faulty(shift_x=0.04 * n, shift_y=0.02 * n) for n in range(COUNT)]),
        ("shake", [faulty(shift_x=0.3 * (n % 3 == 1)) for n in range(COUNT)]),
        ("bump", [faulty(shift_x=0.4 * (n > 4)) for n in range(COUNT)]),
        ("colour_shift", [faulty(red=1 + 0.02 * (n % 2)) for n in range(COUNT)]),
        ("exposure_jump", [faulty(gain=1 + 0.03 * (n > 2)) for n in range(COUNT)]),
        ("focus_moves", [faulty(defocus=1.1 * (n % 2)) for n in range(COUNT)]),
    ],
    ids=[
        "flicker that beats",
        "bands",
        "drift",
        "creep",
        "shake",
        "bump",
        "colour",
        "a setting that is not told",
        "focus",
    ],
)
def test_each_unsteadiness_is_named_and_what_to_do_is_said(tabletop, cause, faults):
    report = _diagnose(tabletop, faults)
    assert not report.passed
    assert _causes(report) == [cause]
    says = next(s.says for s in report.symptoms if s.cause == cause)
    assert says.count(".") >= 2
    assert report.thresholds.step_percent < 0.5


def test_a_short_test_tells_drift_and_creep_too(tabletop):
    drift = [faulty(gain=1 + 0.003 * n) for n in range(5)]
    creep = [faulty(shift_x=0.05 * n) for n in range(5)]
    assert _causes(_diagnose(tabletop, drift)) == ["drift"]
    assert _causes(_diagnose(tabletop, creep)) == ["creep"]


def test_shutter_times_that_do_not_beat_are_named_for_both_mains(tabletop):
    """Light varies at 100 and 120 Hz: 1/60 s lies between one and two periods of 1/100 s (common
    knowledge of the trade, no source); at 60 Hz mains it is two whole periods and does not beat."""
    faults = [faulty(gain=1 + 0.01 * (-1) ** n) for n in range(COUNT)]
    says = _diagnose(tabletop, faults).symptoms[0].says
    assert "1/100 or 1/50 on 50 Hz mains" in says
    assert "60 Hz" not in says
    settings = [{"shutter": "1/80"}] * COUNT
    says = _diagnose(tabletop, faults, settings).symptoms[0].says
    assert "1/100 or 1/50 on 50 Hz mains" in says
    assert "1/120 or 1/60 on 60 Hz mains" in says


def test_flicker_at_a_shutter_that_cannot_beat_is_not_blamed_on_the_mains(tabletop):
    faults = [faulty(gain=1 + 0.01 * (-1) ** n) for n in range(COUNT)]
    report = _diagnose(tabletop, faults, [{"shutter": "1/10"}] * COUNT)
    assert _causes(report) == ["flicker"]


def test_the_camera_s_own_account_comes_first(tabletop):
    settings = [SETTINGS | {"iso": "200" if n < 4 else "250"} for n in range(COUNT)]
    report = _diagnose(tabletop, [faulty(gain=1 + 0.25 * (n >= 4)) for n in range(COUNT)], settings)
    assert _causes(report)[0] == "setting_changed"
    assert "iso" in report.symptoms[0].says
    assert "mains_beat" not in _causes(report)


def test_a_plain_background_is_said_and_does_not_fail_the_test():
    plain = Tabletop(seed=5, width=640, height=360, texture="plain", object_area=0, prop=False)
    report = _diagnose(plain, [Fault()] * 4)
    assert report.passed
    assert set(_causes(report)) <= {"plain_background"}


def test_two_pictures_are_too_few():
    with pytest.raises(ValueError, match="at least 3"):
        diagnose([SteadyPicture(np.zeros((90, 120, 3), np.uint8), {})] * 2)
