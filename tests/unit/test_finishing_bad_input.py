"""Bad input gets a sentence, and the rest is finished where that is safe."""

import hashlib
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from standclear.finishing.api import ExportOptions, export
from standclear.finishing.keeping import unfinished
from standclear.finishing.problems import (
    CannotExport,
    ExportCancelled,
    SoundUnreadable,
    TargetError,
)
from standclear.finishing.report import Progress
from standclear.finishing.shot import FilmExposure, FilmShot
from tests.outside.film_probe import counted_shot, decoded, read_counter


def films(shot: FilmShot, target: Path) -> list[int]:
    export(shot, ExportOptions(), target)
    return [read_counter(picture) for picture in decoded(target, (320, 240))]


def test_an_empty_shot_says_so_and_leaves_nothing(tmp_path: Path):
    with pytest.raises(CannotExport, match="no exposures yet"):
        export(FilmShot("Cork", "12", ()), ExportOptions(), tmp_path / "film.mp4")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("kind", ["h264", "hevc", "av1", "prores", "webm", "gif", "webp", "png"])
def test_one_exposure_makes_a_film_of_one_frame(kind: str, tmp_path: Path):
    choices = ExportOptions.model_validate({"format": kind})
    report = export(counted_shot(tmp_path, 1), choices, tmp_path / "film.zip")
    assert (report.frames, report.duration) == (1, "1/12")


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:1000])


def scribbled(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 40] = b"\xff\x00" * 20
    path.write_bytes(bytes(data))


def emptied(path: Path) -> None:
    path.write_bytes(b"")


@pytest.mark.parametrize("harm", [cut, emptied, Path.unlink, scribbled])
def test_a_damaged_original_is_stood_in_for_by_the_one_before(
    harm: Callable[[Path], None], tmp_path: Path
):
    shot = counted_shot(tmp_path, 5)
    harm(shot.exposures[2].path)
    report = export(shot, ExportOptions(), tmp_path / "film.mp4")
    pictures = decoded(tmp_path / "film.mp4", (320, 240))
    assert [read_counter(picture) for picture in pictures] == [0, 1, 1, 3, 4]
    assert len(report.notes) == 1
    assert "Exposure 3" in report.notes[0]
    assert "cork-wakes_000003.jpg" in report.notes[0]


def test_a_damaged_first_original_is_stood_in_for_by_the_one_after(tmp_path: Path):
    shot = counted_shot(tmp_path, 3)
    cut(shot.exposures[0].path)
    assert films(shot, tmp_path / "film.mp4") == [1, 1, 2]


def test_an_original_whose_bytes_changed_is_not_shown(tmp_path: Path):
    shot = counted_shot(tmp_path, 3)
    sums = [hashlib.sha256(e.path.read_bytes()).hexdigest() for e in shot.exposures]
    sums[1] = "0" * 64
    parts = zip(shot.exposures, sums, strict=True)
    shot = replace(shot, exposures=tuple(replace(e, sha256=s) for e, s in parts))
    assert films(shot, tmp_path / "film.mp4") == [0, 0, 2]


def test_no_readable_original_at_all_is_told(tmp_path: Path):
    shot = counted_shot(tmp_path, 2)
    for exposure in shot.exposures:
        exposure.path.write_bytes(b"\xff\xd8\xff nothing")
    with pytest.raises(CannotExport, match="None of the"):
        export(shot, ExportOptions(), tmp_path / "film.mp4")
    assert not (tmp_path / "film.mp4").exists()


def test_mixed_sizes_take_the_commonest_and_say_so(tmp_path: Path):
    shot = counted_shot(tmp_path, 4)
    Image.new("RGB", (640, 360), (90, 90, 90)).save(shot.exposures[1].path)
    report = export(shot, ExportOptions(), tmp_path / "film.mp4")
    assert (report.width, report.height) == (320, 240)
    assert "1 of the pictures" in report.notes[0]


def test_a_turned_original_stands_upright(tmp_path: Path):
    path = tmp_path / "cork.jpg"
    picture = np.zeros((240, 320, 3), np.uint8)
    picture[:, :160] = 250
    exif = Image.Exif()
    exif[0x0112] = 6  # Exif 2.32: turn a quarter to the right to see it upright
    Image.fromarray(picture).save(path, exif=exif, quality=95)
    target = tmp_path / "film.mp4"
    export(FilmShot("Cork", "12", (FilmExposure(path),)), ExportOptions(), target)
    shown = decoded(target, (240, 320))[0]
    assert shown[40].mean() > 200
    assert shown[280].mean() < 50


def test_a_sound_file_that_is_none_is_told(tmp_path: Path):
    sound = tmp_path / "knock.wav"
    sound.write_bytes(b"this is no sound at all" * 50)
    shot = replace(counted_shot(tmp_path, 2), sound=sound)
    with pytest.raises(SoundUnreadable, match=r"knock\.wav"):
        export(shot, ExportOptions(), tmp_path / "film.mp4")
    assert not (tmp_path / "film.mp4").exists()


def test_a_missing_folder_and_a_full_one_are_told(tmp_path: Path):
    shot = counted_shot(tmp_path, 2)
    with pytest.raises(TargetError, match="no folder"):
        export(shot, ExportOptions(), tmp_path / "nowhere" / "film.mp4")
    with pytest.raises(TargetError, match="already"):
        export(shot, ExportOptions(format="originals"), tmp_path)


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="this system has no /proc")
@pytest.mark.parametrize("kind", ["h264", "png", "csv"])
def test_a_folder_that_takes_no_file_is_told(kind: str, tmp_path: Path):
    """/proc takes none from anybody, the tests' root included."""
    choices = ExportOptions.model_validate({"format": kind})
    with pytest.raises(TargetError, match=r"film\.zip could not be written to /proc"):
        export(counted_shot(tmp_path, 2), choices, Path("/proc/film.zip"))


@pytest.mark.skipif(not os.access("/dev/full", os.W_OK), reason="this system has no /dev/full")
def test_a_full_disk_is_told_and_leaves_nothing(tmp_path: Path):
    full = Path("/dev/full")
    with pytest.raises(TargetError, match="No space left"), unfinished(tmp_path / "film.mp4"):
        full.write_bytes(b"film")
    assert list(tmp_path.iterdir()) == []


def test_cancelling_leaves_nothing_under_any_name(tmp_path: Path):
    shot, seen = counted_shot(tmp_path, 10), []
    before = set(tmp_path.iterdir())

    def progress(now: Progress) -> None:
        seen.append(now.frames_done)

    with pytest.raises(ExportCancelled):
        export(shot, ExportOptions(), tmp_path / "film.mp4", progress, lambda: len(seen) >= 3)
    assert set(tmp_path.iterdir()) == before


def test_an_earlier_film_stays_whole_when_a_later_export_fails(tmp_path: Path):
    shot, target = counted_shot(tmp_path, 3), tmp_path / "film.mp4"
    export(shot, ExportOptions(), target)
    first = target.read_bytes()
    seen: list[Progress] = []
    with pytest.raises(ExportCancelled):
        export(shot, ExportOptions(), target, seen.append, lambda: bool(seen))
    assert target.read_bytes() == first


def test_the_same_export_twice_gives_the_same_bytes(tmp_path: Path):
    shot = counted_shot(tmp_path, 6)
    for name in ("one.zip", "two.zip"):
        export(shot, ExportOptions(format="png"), tmp_path / name)
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()
