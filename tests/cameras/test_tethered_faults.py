"""The tethered driver where its virtual camera cannot go: pairs, faults, unplugging, other makers.

A stand-in for the binding plays the camera; the numbers of the errors are libgphoto2's.
"""

from collections.abc import Callable, Iterator

import pytest

from standclear.cameras.base import BrokenPicture, CameraAway, CaptureFailed, NotOffered
from standclear.cameras.tethered import TetheredCamera
from standclear.errors import CameraError
from tests.cameras.hand_clock import HandClock
from tests.cameras.toy_binding import Body, ToyBinding, Widget
from tests.pictures import jpeg
from tests.unit.test_container import WHOLE

JPEG = jpeg(64, 48)
RAW = WHOLE["nef"]


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture
def body(clock: HandClock) -> Body:
    body = Body()
    body.files = {"A.JPG": JPEG, "A.NEF": RAW, "B.JPG": jpeg(64, 48, 1)}
    body.on_wait = lambda wait_ms: clock.wait(wait_ms / 1000)
    body.widgets = {
        "capturetarget": Widget("capturetarget", "Memory card", ("Memory card", "Internal RAM")),
        "imagequality": Widget("imagequality", "JPEG Fine", ("JPEG Fine", "NEF+Fine")),
        "expprogram": Widget("expprogram", "M", ("M", "P", "A", "S")),
        "shutterspeed": Widget("shutterspeed", "1/50", ("1/50", "1/25", "Bulb"), readonly=1),
        "shutterspeed2": Widget("shutterspeed2", "1/50", ("1/50", "1/25", "Bulb")),
        "iso": Widget("iso", "Auto", ("Auto", "100")),
        "whitebalance": Widget("whitebalance", "Automatic", ("Automatic", "Daylight")),
        "focusmode": Widget("focusmode", "Manual", ("Manual", "AF-S"), readonly=1),
        "burstnumber": Widget("burstnumber", 1.0, kind="range", span=(1.0, 9.0, 1.0)),
        "applicationmode": Widget("applicationmode", 0, kind="toggle"),
        "batterylevel": Widget("batterylevel", "Low"),
    }
    body.actions = {"eosremoterelease": Widget("eosremoterelease", "None", ("None", "Immediate"))}
    return body


@pytest.fixture
def camera(body: Body, clock: HandClock) -> Iterator[TetheredCamera]:
    camera = TetheredCamera(gp=ToyBinding(body), clock=clock)
    camera.open()
    yield camera
    camera.close()
    assert body.open_now == 0


def test_pictures_go_to_the_cameras_memory_where_offered(
    camera: TetheredCamera, body: Body
) -> None:
    assert body.widgets["capturetarget"].value == "Internal RAM"


def test_raw_and_jpeg_are_one_exposure_with_the_jpeg_first(
    camera: TetheredCamera, body: Body
) -> None:
    body.widgets["imagequality"].value = "NEF+Fine"
    for first, second in (("A.JPG", "A.NEF"), ("A.NEF", "A.JPG")):
        body.captures.append(first)
        body.announce("B.JPG")  # somebody pressed the camera's own button
        body.announce(second)
        originals = camera.capture().originals
        assert [each.data for each in originals] == [JPEG, RAW]
        assert [each.extension for each in originals] == ["jpg", "nef"]


def test_in_the_cameras_memory_halves_are_told_by_kind_and_freed(
    camera: TetheredCamera, body: Body
) -> None:
    body.widgets["imagequality"].value = "NEF+Fine"
    body.folder = "/"
    body.files |= {"capt0000.nef": RAW, "capt0001.jpg": JPEG}
    body.captures.append("capt0000.nef")
    body.announce("capt0001.jpg")
    assert [each.data for each in camera.capture().originals] == [JPEG, RAW]
    assert body.deleted == ["capt0000.nef", "capt0001.jpg"]


def test_a_file_on_the_card_stays_there(camera: TetheredCamera, body: Body) -> None:
    body.captures.append("A.JPG")
    camera.capture()
    assert body.deleted == []


def test_a_second_file_that_never_comes_costs_a_bounded_time_and_no_picture(
    camera: TetheredCamera, body: Body, clock: HandClock
) -> None:
    body.widgets["imagequality"].value = "NEF+Fine"
    body.captures.append("A.JPG")
    before = clock.time
    assert [each.data for each in camera.capture().originals] == [JPEG]
    assert 5 < clock.time - before < 10


def test_without_a_pair_nothing_is_waited_for(
    camera: TetheredCamera, body: Body, clock: HandClock
) -> None:
    body.captures.append("A.JPG")
    before = clock.time
    camera.capture()
    assert clock.time == before


@pytest.mark.parametrize("refused", [-3, -110, -115])
def test_a_refused_capture_is_tried_again_once_on_a_new_connection(
    camera: TetheredCamera, body: Body, refused: int
) -> None:
    body.captures.extend([refused, "A.JPG"])
    assert camera.capture().originals[0].data == JPEG
    assert body.opened == 2
    body.captures.extend([refused, refused, "A.JPG"])
    with pytest.raises(CaptureFailed) as failed:
        camera.capture()
    assert failed.value.picture_taken is False
    assert list(body.captures) == ["A.JPG"]


def test_a_capture_of_unknown_outcome_is_never_repeated_behind_the_animators_back(
    camera: TetheredCamera, body: Body
) -> None:
    body.captures.extend([-1, "A.JPG"])
    with pytest.raises(CaptureFailed) as failed:
        camera.capture()
    assert failed.value.picture_taken is None
    assert list(body.captures) == ["A.JPG"]
    assert camera.capture().originals[0].data == JPEG  # the next press, on a new connection
    assert body.opened == 2


@pytest.mark.parametrize("error", [-1, -3])
def test_a_picture_that_came_in_spite_of_an_error_is_the_picture(
    camera: TetheredCamera, body: Body, error: int
) -> None:
    body.captures.extend([error, "B.JPG"])
    body.announce("A.JPG")
    assert camera.capture().originals[0].data == JPEG
    assert list(body.captures) == ["B.JPG"]


@pytest.mark.parametrize("cut", [len(JPEG) - 1, len(JPEG) // 2, 0])
def test_a_download_cut_short_is_broken(camera: TetheredCamera, body: Body, cut: int) -> None:
    body.files["A.JPG"] = JPEG[:cut]
    body.captures.append("A.JPG")
    with pytest.raises(BrokenPicture) as broken:
        camera.capture()
    assert broken.value.picture_taken is True


def test_fewer_bytes_than_told_are_broken_though_they_look_whole(
    camera: TetheredCamera, body: Body
) -> None:
    body.told_sizes["A.JPG"] = len(JPEG) + 10
    body.captures.append("A.JPG")
    with pytest.raises(BrokenPicture, match=f"{len(JPEG) + 10}"):
        camera.capture()


def test_a_failing_download_is_tried_twice(camera: TetheredCamera, body: Body) -> None:
    body.fail_once["file_get"] = -1
    body.captures.append("A.JPG")
    assert camera.capture().originals[0].data == JPEG
    body.fail["file_get"] = -1
    body.captures.append("A.JPG")
    with pytest.raises(CaptureFailed) as failed:
        camera.capture()
    assert failed.value.picture_taken is True


def test_a_camera_that_tells_no_size_is_taken_at_its_word(
    camera: TetheredCamera, body: Body
) -> None:
    body.fail["file_get_info"] = -6
    body.captures.append("A.JPG")
    assert camera.capture().originals[0].data == JPEG


@pytest.mark.parametrize("gone", [-7, -10, -34, -52])
def test_an_unplugged_camera_is_away_whatever_is_asked(
    camera: TetheredCamera, body: Body, gone: int
) -> None:
    calls = ("get_config", "get_single_config", "wait_for_event", "get_storageinfo", "file_get")
    body.fail = dict.fromkeys(calls, gone)
    body.captures.extend([gone, "A.JPG"])
    asked: list[Callable[[], object]] = [
        *(camera.capture, camera.capture, camera.alive, camera.settings, camera.status),
        lambda: camera.change({"iso": "100"}),
    ]
    for ask in asked[:1] + asked[2:]:
        with pytest.raises(CameraAway):
            ask()


def test_unplugged_while_downloading_says_that_the_picture_was_taken(
    camera: TetheredCamera, body: Body
) -> None:
    body.fail["file_get"] = -52
    body.captures.append("A.JPG")
    with pytest.raises(CameraAway) as away:
        camera.capture()
    assert away.value.extra == {"picture_taken": True}


def test_settings_that_fail_after_the_picture_do_not_cost_it(
    camera: TetheredCamera, body: Body
) -> None:
    body.fail["get_single_config"] = -7
    body.captures.append("A.JPG")
    taken = camera.capture()
    assert taken.originals[0].data == JPEG
    assert taken.settings["shutter"] == "1/50"


def test_a_camera_held_by_the_desktop_is_told_so(body: Body) -> None:
    body.fail["init"] = -53
    with pytest.raises(CameraAway, match="volume monitor"):
        TetheredCamera(gp=ToyBinding(body)).open()


def test_a_camera_plugged_in_again_is_found_under_its_new_port(
    body: Body, clock: HandClock
) -> None:
    camera = TetheredCamera("usb:001,004", gp=ToyBinding(body), clock=clock)
    camera.open()
    camera.close()
    body.port = "usb:001,009"
    camera.open()
    assert camera.identity.id == "tethered:usb:001,004"
    camera.close()


def test_another_model_on_another_port_is_not_taken_for_it(body: Body, clock: HandClock) -> None:
    camera = TetheredCamera("usb:001,004", gp=ToyBinding(body), clock=clock)
    camera.open()
    camera.close()
    body.port, body.model = "usb:001,009", "Another"
    with pytest.raises(CameraAway):
        camera.open()


def test_a_failing_goodbye_does_not_matter(camera: TetheredCamera, body: Body) -> None:
    body.fail["exit"] = -7
    camera.close()


def test_live_pictures_come_and_a_missing_one_is_passed_over(body: Body, clock: HandClock) -> None:
    body.previews.append(JPEG)
    camera = TetheredCamera(gp=ToyBinding(body), clock=clock)
    camera.open()
    assert camera.capabilities.live_picture
    picture = camera.live()
    assert picture is not None
    assert picture.jpeg == JPEG
    body.previews.extend([-1, JPEG])
    body.previews.popleft()
    assert camera.live() is None
    assert camera.live() is not None
    body.previews.clear()
    body.previews.append(-1)
    tries = (camera.live() for _ in range(1000))
    with pytest.raises(CameraAway):  # for seconds on end
        list(tries)
    assert 1003 < clock.time < 1004
    camera.close()


def test_automatic_is_told_from_the_value_and_the_exposure_mode(
    camera: TetheredCamera, body: Body
) -> None:
    settings = {each.name: each for each in camera.settings()}
    told = {name: (each.value, each.automatic) for name, each in list(settings.items())[:5]}
    assert told == {
        "shutter": ("1/50", False),
        "iso": ("auto", True),
        "white_balance": ("auto", True),
        "focus": ("manual", False),
        "exposure_mode": ("manual", False),
    }
    camera.change({"exposure_mode": "aperture priority", "iso": "100"})
    assert body.widgets["expprogram"].value == "A"
    settings = {each.name: each for each in camera.settings()}
    assert settings["shutter"].automatic is True
    assert (settings["iso"].automatic, settings["exposure_mode"].automatic) == (False, True)


def test_widgets_of_every_type_are_read_and_written(camera: TetheredCamera, body: Body) -> None:
    camera.change({"burstnumber": "3", "applicationmode": "on", "shutter": "bulb"})
    settings = {each.name: each for each in camera.settings()}
    assert body.widgets["shutterspeed2"].value == "Bulb"
    assert camera.exposure_seconds() == 0
    assert (settings["burstnumber"].value, settings["burstnumber"].maximum) == ("3", 9.0)
    assert settings["applicationmode"].value == "on"
    assert "eosremoterelease" not in settings


@pytest.mark.parametrize(
    ("name", "value"),
    [
        *(("burstnumber", "10"), ("burstnumber", "nan"), ("applicationmode", "1")),
        *(("focus", "AF-S"), ("eosremoterelease", "Immediate"), ("iso", "99")),
    ],
)
def test_a_value_that_does_not_fit_changes_nothing(
    camera: TetheredCamera, body: Body, name: str, value: str
) -> None:
    before = {each: widget.value for each, widget in body.widgets.items()}
    with pytest.raises(NotOffered, match=name):
        camera.change({name: value})
    assert {each: widget.value for each, widget in body.widgets.items()} == before


def test_a_change_does_not_read_the_whole_tree_which_takes_seconds_on_some_cameras(
    camera: TetheredCamera, body: Body
) -> None:
    body.fail["get_config"] = -1
    camera.change({"iso": "100", "burstnumber": "2"})
    assert (body.widgets["iso"].value, body.widgets["burstnumber"].value) == ("100", 2.0)


def test_a_refusal_of_the_camera_is_not_a_camera_away(camera: TetheredCamera, body: Body) -> None:
    body.fail["set_single_config"] = -1
    with pytest.raises(NotOffered, match="refused"):
        camera.change({"iso": "100"})
    body.fail["get_config"] = -110
    with pytest.raises(CameraError) as failed:
        camera.settings()
    assert not isinstance(failed.value, CameraAway)


def test_what_the_camera_does_not_tell_is_none(camera: TetheredCamera) -> None:
    status = camera.status()
    assert (status.battery_percent, status.free_pictures, status.free_bytes) == (None, None, None)
