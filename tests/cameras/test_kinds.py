"""The table of camera kinds."""

from pathlib import Path

import pytest

from standclear.cameras import kinds
from standclear.cameras.base import CameraAway, NotOffered
from standclear.cameras.tethered import driver
from tests.cameras.conftest import VirtualCamera


@pytest.mark.parametrize(
    ("camera_id", "kind"),
    [
        ("tethered", "tethered"),
        ("tethered:usb:001,004", "tethered"),
        ("webcam:0", "webcam"),
        ("webcam:/somewhere/clip.avi", "webcam"),
        ("webcam:rtsp://192.0.2.1:554/live", "webcam"),
        ("handset", "handset"),
        ("handset:left", "handset"),
        ("rehearsal", "rehearsal"),
        ("rehearsal:seed=3,nudge=7", "rehearsal"),
    ],
)
def test_an_id_makes_the_camera_that_bears_it(camera_id: str, kind: str) -> None:
    identity = kinds.camera_from_id(camera_id).identity
    assert (identity.kind, identity.id) == (kind, camera_id)


@pytest.mark.parametrize("camera_id", ["", "polaroid", "Webcam:0", "webcam", ":0"])
def test_an_id_that_fits_no_kind_is_refused_with_a_sentence(camera_id: str) -> None:
    with pytest.raises(NotOffered, match=r"."):
        kinds.camera_from_id(camera_id)


def test_attached_lists_what_could_be_used_and_each_id_makes_a_camera(
    virtual_camera: VirtualCamera,
) -> None:
    found = kinds.attached()
    assert {"tethered", "rehearsal"} <= {each.kind for each in found}
    for each in found:
        assert kinds.camera_from_id(each.id).identity.id == each.id


def test_one_tethered_camera_has_an_id_that_survives_replugging_and_several_have_ports(
    monkeypatch: pytest.MonkeyPatch, virtual_camera: VirtualCamera
) -> None:
    assert [each.id for each in kinds.attached() if each.kind == "tethered"] == ["tethered"]
    two = [("usb:001,004", "One"), ("usb:001,005", "Two")]
    monkeypatch.setattr(driver, "attached", lambda _: two)
    found = [(each.id, each.label) for each in kinds.attached() if each.kind == "tethered"]
    assert found == [("tethered:usb:001,004", "One"), ("tethered:usb:001,005", "Two")]


def test_without_libgphoto2_the_others_are_still_listed(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(name: str) -> None:
        raise ImportError(f"no {name} here")

    monkeypatch.setattr(driver.importlib, "import_module", missing)
    assert [each.kind for each in kinds.attached()][-1] == "rehearsal"
    with pytest.raises(CameraAway, match="libgphoto2, which cannot be loaded"):
        kinds.camera_from_id("tethered").open()


def test_a_video_device_is_listed_once_by_its_first_node(tmp_path: Path) -> None:
    for number, (index, name) in enumerate([("0", "Desk cam"), ("1", "Desk cam"), ("0", "Other")]):
        node = tmp_path / f"video{number}"
        node.mkdir()
        (node / "index").write_text(index + "\n")
        (node / "name").write_text(name + "\n")
    found = kinds._attached_webcams(tmp_path)
    assert [(each.id, each.label) for each in found] == [
        ("webcam:0", "Desk cam"),
        ("webcam:2", "Other"),
    ]
