"""The tethered driver through the real libgphoto2, on its virtual PTP camera."""

from collections.abc import Iterator
from datetime import UTC, datetime

import psutil
import pytest

from standclear.cameras.base import BrokenPicture, CameraAway, CaptureFailed, NotOffered
from standclear.cameras.tethered import TetheredCamera, attached
from standclear.cameras.tethered.driver import load_binding
from tests.cameras.conftest import PICTURE_BYTES, VirtualCamera
from tests.pictures import large_jpeg

#: Still 24 megapixels, for long series.
SMALLER_BYTES = 3_000_000


@pytest.fixture
def camera(virtual_camera: VirtualCamera) -> Iterator[TetheredCamera]:
    camera = TetheredCamera()
    camera.open()
    yield camera
    camera.close()


def by_name(camera: TetheredCamera) -> dict[str, object]:
    return {setting.name: setting for setting in camera.settings()}


def test_a_large_picture_arrives_byte_for_byte(
    camera: TetheredCamera, virtual_camera: VirtualCamera
) -> None:
    laid = virtual_camera.lay_large(7)
    before = datetime.now(UTC)
    taken = camera.capture()
    (original,) = taken.originals
    assert original.data == laid
    assert (original.media_type, original.extension) == ("image/jpeg", "jpg")
    assert (original.width, original.height) == (6000, 4000)
    assert before <= taken.taken_at <= datetime.now(UTC)


def test_sixty_captures_in_a_row_lose_and_double_nothing(
    camera: TetheredCamera, virtual_camera: VirtualCamera
) -> None:
    """The virtual card is full after 26, as a real card fills."""
    camera.close()
    virtual_camera.lay(large_jpeg(0, SMALLER_BYTES))
    camera.open()
    for seed in range(60):
        laid = virtual_camera.lay(large_jpeg(seed, SMALLER_BYTES))
        assert camera.capture().originals[0].data == laid, f"capture {seed + 1}"


def test_a_picture_cut_on_its_way_is_not_handed_on(
    camera: TetheredCamera, virtual_camera: VirtualCamera
) -> None:
    """The virtual camera cuts a picture that is longer than the one it was opened with."""
    virtual_camera.lay(large_jpeg(1, PICTURE_BYTES + 5000))
    with pytest.raises(BrokenPicture) as broken:
        camera.capture()
    assert broken.value.picture_taken is True
    laid = virtual_camera.lay_large(2)
    assert camera.capture().originals[0].data == laid


def test_a_picture_that_cannot_be_read_is_told_and_the_next_one_comes(
    camera: TetheredCamera, virtual_camera: VirtualCamera
) -> None:
    virtual_camera.lay(large_jpeg(1, PICTURE_BYTES - 5000))
    with pytest.raises(CaptureFailed) as failed:
        camera.capture()
    assert failed.value.picture_taken is not False
    laid = virtual_camera.lay_large(3)
    assert camera.capture().originals[0].data == laid


def test_a_missing_live_picture_is_stated_plainly(camera: TetheredCamera) -> None:
    assert camera.capabilities.live_picture is False
    assert "no live picture" in camera.capabilities.live_says
    with pytest.raises(NotOffered, match="no live picture"):
        camera.live()


def test_settings_stand_under_the_trades_names_and_the_rest_under_the_cameras(
    camera: TetheredCamera,
) -> None:
    names = [setting.name for setting in camera.settings()]
    assert names[:3] == ["shutter", "aperture", "focus"]
    assert {"exposurecompensation", "capturetarget", "imagesize"} <= set(names)
    assert not {"opcode", "bulb", "controlmode", "shutterspeed", "f-number"} & set(names)
    settings = by_name(camera)
    assert settings["shutter"].value in settings["shutter"].choices
    assert settings["focus"].automatic is True  # it focuses anew before each picture
    assert settings["aperture"].automatic is None  # it has no exposure mode to tell from
    assert settings["batterylevel"].writable is False
    assert settings["datetime"].writable is False  # the camera's clock is not set from here


def test_a_setting_is_written_as_the_camera_has_it(camera: TetheredCamera) -> None:
    camera.change({"shutter": "1/50", "aperture": "f/8", "exposurecompensation": "-0.5"})
    settings = by_name(camera)
    assert settings["shutter"].value == "1/50"
    assert settings["aperture"].value == "f/8"
    assert settings["exposurecompensation"].value == "-0.5"
    assert camera.exposure_seconds() == pytest.approx(0.02)
    in_force = camera.capture().settings
    assert (in_force["shutter"], in_force["aperture"]) == ("1/50", "f/8")


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("shutter", "1/77", "offers: 1, "),
        ("sparkle", "1", "no setting 'sparkle'"),
        ("opcode", "0x1001", "action"),
        ("batterylevel", "100%", "cannot be set"),
    ],
)
def test_what_is_not_offered_is_named(
    camera: TetheredCamera, name: str, value: str, says: str
) -> None:
    with pytest.raises(NotOffered, match=says):
        camera.change({name: value})


def test_battery_and_room_are_told(camera: TetheredCamera) -> None:
    status = camera.status()
    assert status.battery_percent == 50
    assert status.free_pictures == 150
    assert (status.free_bytes or 0) > 0


def test_it_says_which_camera_it_is(camera: TetheredCamera) -> None:
    assert (camera.identity.id, camera.identity.kind) == ("tethered", "tethered")
    assert attached(load_binding())[0][1] == camera.identity.label


def test_a_port_can_be_named(virtual_camera: VirtualCamera) -> None:
    port = attached(load_binding())[0][0]
    camera = TetheredCamera(port)
    camera.open()
    try:
        assert camera.identity.id == f"tethered:{port}"
        assert camera.capture().originals[0].data == large_jpeg(0, PICTURE_BYTES)
    finally:
        camera.close()


def test_a_port_that_is_not_there_is_a_camera_away(virtual_camera: VirtualCamera) -> None:
    with pytest.raises(CameraAway):
        TetheredCamera("serial:/dev/nowhere").open()


def test_opening_and_closing_six_times_works_on(
    camera: TetheredCamera, virtual_camera: VirtualCamera
) -> None:
    process = psutil.Process()
    files, threads = process.num_fds(), process.num_threads()
    for seed in range(6):
        camera.close()
        camera.close()
        camera.open()
        laid = virtual_camera.lay_large(seed)
        assert camera.capture().originals[0].data == laid
    assert (process.num_fds(), process.num_threads()) == (files, threads)


def test_alive_is_quiet_while_it_is_there_and_closed_means_away(camera: TetheredCamera) -> None:
    camera.alive()
    camera.close()
    with pytest.raises(CameraAway):
        camera.alive()
    with pytest.raises(CameraAway):
        camera.capture()


def test_a_long_download_gives_signs_of_life(camera: TetheredCamera) -> None:
    beats = []
    camera.close()
    camera.beat = lambda: beats.append(1)
    camera.open()
    before = len(beats)
    camera.capture()
    assert len(beats) - before > 5
