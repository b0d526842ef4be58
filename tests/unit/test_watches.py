"""Each fault is flagged by its own watch, under its own name, at the exposure it happens in."""

import copy
from io import BytesIO

import cv2
import numpy as np
import pytest
from tifffile import TiffWriter

from standclear.imaging.linear import linearise
from standclear.shooting.watches.shot_watch import FIRST, ShotWatch
from standclear.shooting.watches.thresholds import Noise, Thresholds
from standclear.shooting.watches.trend import DRIFT, STEP, trend
from tests.generator.tabletop import Fault, Pose, Tabletop, faulty

SIZE = {"width": 800, "height": 450}


@pytest.fixture(scope="module")
def tabletop():
    return Tabletop(seed=8, texture="wood", object_area=0.08, object_contrast=0.6, **SIZE)


@pytest.fixture(scope="module")
def start(tabletop):
    """Four exposures in which nothing but the object moves."""
    return [tabletop.expose(Pose(4 * n, n, 2 * n)) for n in range(4)]


@pytest.fixture(scope="module")
def started(start):
    watching = ShotWatch()
    for n, codes in enumerate(start):
        watching.examine(codes, {"shutter": "1/50"}, key=str(n))
    return watching


@pytest.fixture
def watch(started):
    """A watch of its own for each test, as it is after the four exposures."""
    return copy.deepcopy(started)


NEXT = Pose(16, 4, 8)


def _causes(verdict):
    return {cause for found in verdict["watches"].values() for cause in found["causes"]}


def test_the_first_exposure_is_the_reference_and_says_so(start):
    verdict = ShotWatch().examine(start[0])
    assert verdict["state"] == "clear"
    assert {w["state"] for w in verdict["watches"].values()} == {"cannot_tell"}
    assert {w["says"] for w in verdict["watches"].values()} == {FIRST}


@pytest.mark.parametrize(
    ("watch_name", "cause", "fault"),
    [
        ("light", "exposure_step", faulty(gain=1.005)),
        ("light", "exposure_step", faulty(gain=0.995)),
        ("light", "colour_shift", faulty(red=1.02)),
        ("light", "one_sided_light", faulty(one_sided=0.03)),
        ("light", "banding", faulty(banding=0.01, banding_phase=1.0)),
        ("rig", "bump", faulty(shift_x=0.12)),
        ("rig", "bump", faulty(shift_x=9.0, shift_y=-4.0, turn=0.7)),
        ("focus", "focus_slip", faulty(defocus=0.8)),
        ("pose", "hand_left_in", faulty(hand=0.02, hand_side=1)),
        ("pose", "hand_left_in", faulty(hand=0.03, hand_side=2, shadow=True)),
        ("pose", "something_moved", faulty(prop_shift=5.0)),
    ],
)
def test_a_fault_is_named_once_and_by_its_own_watch(tabletop, watch, watch_name, cause, fault):
    verdict = watch.examine(tabletop.expose(NEXT, fault), key="next")
    assert verdict["state"] == "flagged"
    assert _causes(verdict) == {cause}
    assert verdict["watches"][watch_name]["causes"] == [cause]
    assert verdict["watches"][watch_name]["says"].endswith(".")


@pytest.mark.parametrize("curve", ["srgb", "s_curve"])
@pytest.mark.parametrize("red", [1.015, 0.985])
def test_on_an_even_wall_a_files_rounding_does_not_put_a_colour_on_one_side(curve, red):
    """Where hardly any noise blurs its steps, a JPEG takes a small shift here and not there."""
    wall = Tabletop(
        seed=4, width=1920, height=1080, texture="plain", object_area=0.2, object_contrast=0.7,
        curve=curve,
    )  # fmt: skip
    watching = ShotWatch()
    for n in range(4):
        watching.examine(wall.expose(Pose(4 * n, n, 2 * n)), key=str(n))
    verdict = watching.examine(wall.expose(NEXT, faulty(red=red)), key="next")
    assert verdict["watches"]["light"]["causes"] == ["colour_shift"]


def test_a_good_exposure_is_clear_and_its_spacing_is_measured(tabletop, watch):
    verdict = watch.examine(tabletop.expose(NEXT), key="next")
    assert verdict["state"] == "clear"
    figures = verdict["watches"]["pose"]["figures"]
    assert figures["move_x_px"] == pytest.approx(4.0, abs=0.25)
    assert figures["move_y_px"] == pytest.approx(1.0, abs=0.25)
    assert figures["move_turn_deg"] == pytest.approx(2.0, abs=0.2)


@pytest.mark.parametrize("gain", [0.96, 1.02, 1.05])
def test_the_same_pose_twice_is_noticed_under_another_light(tabletop, watch, gain):
    verdict = watch.examine(tabletop.expose(Pose(12, 3, 6), faulty(gain=gain)), key="next")
    assert _causes(verdict) == {"same_pose", "exposure_step"}


def test_a_move_of_a_pixel_is_not_taken_for_the_same_pose(tabletop, watch):
    verdict = watch.examine(tabletop.expose(Pose(13, 3, 6)), key="next")
    assert _causes(verdict) == set()


def test_accepting_a_bump_makes_it_the_reference(tabletop, watch):
    bumped = faulty(shift_x=2.0)
    assert _causes(watch.examine(tabletop.expose(NEXT, bumped), key="4")) == {"bump"}
    assert _causes(watch.examine(tabletop.expose(Pose(20, 5, 10), bumped), key="5")) == {"bump"}
    watch.accept()
    verdict = watch.examine(tabletop.expose(Pose(24, 6, 12), bumped), key="6")
    assert _causes(verdict) == set()
    assert verdict["watches"]["rig"]["figures"]["shift_px"] < 0.05


def test_a_retaken_exposure_leaves_no_trace(tabletop, watch):
    watch.examine(tabletop.expose(Pose(60, 4, 8)), key="bad")
    watch.forget("bad")
    figures = watch.examine(tabletop.expose(NEXT), key="good")["watches"]["pose"]["figures"]
    assert figures["move_x_px"] == pytest.approx(4.0, abs=0.25)


def test_what_a_retaken_blurred_picture_showed_is_not_remembered(tabletop, watch):
    """Blur changes the whole picture: none of it is where the object has been."""
    for n in range(2):
        watch.examine(tabletop.expose(NEXT, faulty(defocus=1.2)), key=f"blurred {n}")
    watch.forget("blurred 1")
    assert _causes(watch.examine(tabletop.expose(NEXT, faulty(prop_shift=5.0)), key="next")) == {
        "something_moved"
    }


@pytest.mark.parametrize("gain", [0.95, 0.965, 0.98, 1.015, 1.03])
def test_an_even_thing_does_not_move_when_the_light_flickers(tabletop, watch, gain):
    """A JPEG file rounds colour to whole codes: on an even surface that is one way for all."""
    verdict = watch.examine(tabletop.expose(NEXT, faulty(gain=gain)), key="next")
    assert verdict["watches"]["pose"]["causes"] == []


def test_a_light_that_is_switched_on_is_reported_when_it_happens_and_then_no_more(tabletop, watch):
    lit = [faulty(gain=1.1)] * 5
    named = [
        _causes(watch.examine(tabletop.expose(Pose(16 + 4 * n, 4, 8), fault), key=f"lit {n}"))
        for n, fault in enumerate(lit)
    ]
    assert named[0] == {"exposure_step"}
    assert named[-1] == set()


def test_slow_warming_is_called_drift_and_creeping_creep(tabletop):
    watching = ShotWatch()
    for n in range(14):
        fault = faulty(gain=1 + 0.0012 * n, shift_x=0.02 * n)
        verdict = watching.examine(tabletop.expose(Pose(4 * n - 30, n, 0), fault), key=str(n))
    assert _causes(verdict) == {"drift", "creep"}
    figures = verdict["watches"]["light"]["figures"]
    assert figures["drift_stops_per_100"] == pytest.approx(100 * np.log2(1.0012), rel=0.1)


def test_a_setting_that_the_camera_changed_is_told(tabletop, watch):
    verdict = watch.examine(tabletop.expose(NEXT), {"shutter": "1/40"}, key="next")
    assert verdict["watches"]["light"]["settings_changed"] == [
        {"name": "shutter", "before": "1/50", "after": "1/40"}
    ]


@pytest.mark.parametrize(
    ("codes", "why"),
    [
        (np.zeros((450, 800, 3), np.uint8), "black"),
        (np.full((450, 800, 3), 255, np.uint8), "white"),
        (np.full((270, 480, 3), 90, np.uint8), "480 x 270"),
        (np.full((20, 20, 3), 90, np.uint8), "too small"),
    ],
)
def test_a_picture_that_cannot_be_judged_says_why(watch, codes, why):
    verdict = watch.examine(codes, key="next")
    assert {w["state"] for w in verdict["watches"].values()} == {"cannot_tell"}
    assert all(why in w["says"] for w in verdict["watches"].values())


def test_another_size_can_be_accepted_and_is_the_reference_from_there_on(tabletop, watch):
    half = cv2.resize(tabletop.expose(NEXT), (400, 225), interpolation=cv2.INTER_AREA)
    assert "400 x 225" in watch.examine(half, key="small")["watches"]["rig"]["says"]
    watch.accept()
    assert watch.examine(half, key="again")["watches"]["rig"]["state"] == "clear"


def test_a_corrupt_file_says_why_and_spoils_nothing(tabletop, watch):
    data = cv2.imencode(".jpg", tabletop.expose(NEXT))[1].tobytes()
    broken = watch.examine_file(data[: len(data) // 2], key="broken")
    assert "damaged" in broken["watches"]["rig"]["says"]
    assert watch.examine_file(data, key="whole")["watches"]["rig"]["state"] == "clear"


def test_monochrome_and_sixteen_bits_are_measured_too(tabletop):
    for change in (_grey, _sixteen_bits):
        watching = ShotWatch()
        watching.examine(change(tabletop.expose(Pose())), key="0")
        verdict = watching.examine(
            change(tabletop.expose(Pose(5, 0, 0), faulty(gain=1.01, shift_x=0.3))), key="1"
        )
        assert _causes(verdict) == {"exposure_step", "bump"}
        assert verdict["watches"]["rig"]["figures"]["shift_x_px"] == pytest.approx(0.3, abs=0.03)


@pytest.mark.parametrize(
    ("kind", "change"),
    [
        (".tiff", lambda codes: codes.astype(np.uint16) * 257),
        (".png", lambda codes: codes.astype(np.uint16) * 257),
        (".jpg", lambda codes: cv2.cvtColor(codes, cv2.COLOR_BGR2GRAY)),
        (".tiff", lambda codes: codes),
    ],
    ids=["16-bit TIFF", "16-bit PNG", "grey JPEG", "TIFF"],
)
def test_files_of_other_kinds_are_measured(tabletop, kind, change):
    watching = ShotWatch()
    for key, fault in (("0", faulty()), ("1", faulty(gain=1.01, shift_x=0.3))):
        codes = tabletop.expose(Pose(5 * int(key), 0, 0), fault)
        data = cv2.imencode(kind, change(codes))[1].tobytes()
        verdict = watching.examine_file(data, key=key)
    assert _causes(verdict) == {"exposure_step", "bump"}


def test_a_raw_file_is_not_measured_by_its_small_preview(watch):
    verdict = watch.examine_file(_raw_file(), key="raw")
    for found in verdict["watches"].values():
        assert found["state"] == "cannot_tell"
        assert "JPEG beside it" in found["says"]


def _raw_file():
    """A RAW as TIFF/EP (ISO 12234-2) lays it out: a preview in front, the sensor's data below.
    The tag DNGVersion (Digital Negative Specification 1.4) makes it a DNG."""
    file = BytesIO()
    with TiffWriter(file) as tiff:
        version = [(0xC612, "B", 4, (1, 4, 0, 0), True)]
        preview = np.full((120, 160, 3), 90, np.uint8)
        tiff.write(preview, photometric="rgb", subifds=1, extratags=version)
        tiff.write(np.ones((400, 600), np.uint16), photometric="cfa")
    return file.getvalue()


def _grey(codes):
    return cv2.cvtColor(codes, cv2.COLOR_BGR2GRAY)


def _sixteen_bits(codes):
    return codes.astype(np.uint16) * 257


def test_a_plain_wall_says_cannot_tell_rather_than_a_wrong_bump():
    wall = Tabletop(
        seed=1, texture="plain", object_area=0.2, object_contrast=0.8, prop=False, **SIZE
    )
    watching = ShotWatch()
    states = []
    for n in range(5):
        verdict = watching.examine(wall.expose(Pose(6 * n, 0, 0)), key=str(n))
        states.append(verdict["watches"]["rig"]["state"])
    assert "flagged" not in states


def test_noise_of_the_steady_test_raises_the_thresholds_and_never_lowers_them():
    limits = Thresholds()
    assert limits.fitted_to(Noise()) == limits
    raised = limits.fitted_to(Noise(step_percent=0.2, shift_px=0.05))
    assert raised.step_percent == pytest.approx(1.2)
    assert raised.shift_px == pytest.approx(0.3)
    assert raised.as_dict().keys() == limits.as_dict().keys()


def test_a_step_in_a_series_is_not_called_a_drift():
    rng = np.random.default_rng(0)
    noise = 0.0005 * rng.standard_normal(30)
    assert trend(noise + 0.001 * np.arange(30)).kind == DRIFT
    assert trend(noise + 0.03 * (np.arange(30) > 14)).kind == STEP


def test_examining_never_alters_the_picture(tabletop, watch):
    codes = tabletop.expose(NEXT, Fault())
    before = codes.copy()
    watch.examine(codes, key="next")
    assert np.array_equal(codes, before)
    assert linearise(codes).max() <= 1.0
