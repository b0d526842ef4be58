"""Every output, checked with a tool that is not ours."""

import csv
import io
import os
import subprocess
import sys
import zipfile
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
import opentimelineio as otio
import pytest
import tifffile
from PIL import Image

from standclear.finishing.api import ExportOptions, export
from standclear.finishing.encode import FilmTags, FilmWriter, to_video_frame
from standclear.finishing.ordinary import TASKS
from standclear.finishing.recipes import RECIPES
from standclear.finishing.shot import FilmShot
from tests.outside.film_probe import (
    boxes,
    counted_shot,
    decoded,
    frame_times,
    probe,
    read_counter,
    require,
)

FILMS = ["h264", "hevc", "av1", "prores", "webm"]
PIXELS = {"h264": "yuv420p", "hevc": "yuv420p10le", "av1": "yuv420p10le"} | {
    "prores": "yuv422p10le",
    "webm": "yuv420p",
}


def made(shot: FilmShot, folder: Path, **options: object) -> Path:
    choices = ExportOptions.model_validate(options)
    target = (
        folder / f"film{RECIPES[choices.format].extension if choices.format in RECIPES else ''}"
    )
    export(shot, choices, target)
    return target


@pytest.mark.parametrize("kind", FILMS)
def test_a_film_shows_the_right_exposures_in_order_with_bt709_tags(kind: str, tmp_path: Path):
    shot = counted_shot(tmp_path, 10, holds={3: 12})
    film = made(shot, tmp_path, format=kind, title="The cork wakes")
    facts = probe(film)
    order = [0, 1, 2] + [3] * 12 + [4, 5, 6, 7, 8, 9]
    assert [read_counter(picture) for picture in decoded(film, (320, 240))] == order
    video = facts.video
    assert int(video["nb_read_frames"]) == 21
    assert video["pix_fmt"] == PIXELS[kind]
    assert Fraction(video["r_frame_rate"]) == 12
    colours = [video[f"color_{name}"] for name in ("primaries", "transfer", "space", "range")]
    assert colours == ["bt709", "bt709", "bt709", "tv"]
    assert facts.form["tags"]["title"] == "The cork wakes"
    assert float(facts.form["duration"]) == pytest.approx(21 / 12, abs=0.0006)


@pytest.mark.parametrize("kind", ["h264", "hevc", "av1", "prores"])
def test_the_index_stands_before_the_pictures(kind: str, tmp_path: Path):
    # ISO/IEC 14496-12, 8.2: "moov" before "mdat" lets a player start before all has come.
    order = boxes(made(counted_shot(tmp_path, 3), tmp_path, format=kind))
    assert order.index("moov") < order.index("mdat")


@pytest.mark.skipif(sys.platform != "linux", reason="priorities of threads are Linux's own")
@pytest.mark.parametrize("kind", FILMS)
def test_no_encoder_leaves_a_thread_that_runs_ahead_of_the_camera(kind: str, tmp_path: Path):
    made(counted_shot(tmp_path, 2), tmp_path, format=kind)
    policies = {os.sched_getscheduler(int(task.name)) for task in TASKS.iterdir()}
    assert policies <= {os.SCHED_OTHER, os.SCHED_BATCH, os.SCHED_IDLE}


class TimesUnset:
    """An encoder whose packets have for dts what x265 leaves in a film of one or two frames: what
    lay in memory, on a busy machine in one film of twenty."""

    def __init__(self, stream: av.VideoStream) -> None:
        self._stream = stream

    def encode(self, frame: av.VideoFrame | None) -> list[av.Packet]:
        packets = list(self._stream.encode(frame))
        for packet in packets:
            packet.dts = packet.pts - 140634409140226
        return packets


@pytest.mark.parametrize("count", [1, 2])
def test_the_shortest_films_keep_their_times(count: int, tmp_path: Path):
    film = tmp_path / "film.mp4"
    with FilmWriter(
        film, RECIPES["hevc"], (64, 64), Fraction(12), FilmTags("short", "00:00:00:00")
    ) as writer:
        writer._stream = TimesUnset(writer._stream)
        grey = np.full((64, 64, 3), 128, np.uint8)
        writer.write(to_video_frame(grey, RECIPES["hevc"].pixel_format), count)
    assert probe(film).form["duration"] == f"{count / 12:.6f}"
    assert frame_times(film) == pytest.approx([n / 12 for n in range(count)], abs=1e-4)


def test_prores_is_high_quality_422(tmp_path: Path):
    assert (
        probe(made(counted_shot(tmp_path, 2), tmp_path, format="prores")).video["profile"] == "HQ"
    )


def test_one_hundred_and_twenty_exposures_last_ten_seconds_in_the_file(tmp_path: Path):
    film = made(counted_shot(tmp_path, 120), tmp_path)
    facts = probe(film)
    assert facts.form["duration"] == "10.000000"
    assert facts.video["duration"] == "10.000000"
    assert [read_counter(picture) for picture in decoded(film, (320, 240))] == list(range(120))


def test_a_hold_of_twelve_lasts_one_second_in_the_file(tmp_path: Path):
    film = made(counted_shot(tmp_path, 3, holds={1: 12}), tmp_path)
    order = [read_counter(picture) for picture in decoded(film, (320, 240))]
    times = frame_times(film)
    assert order == [0] + [1] * 12 + [2]
    assert times[13] - times[1] == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(
    ("rate", "start", "seconds"),
    [("30000/1001", "01:00:00;00", "30.030000"), ("24000/1001", "00:59:59:23", "37.537500")],
)
def test_ntsc_rates_are_exact_and_carry_their_timecode(
    rate: str, start: str, seconds: str, tmp_path: Path
):
    shot = counted_shot(tmp_path, 9, rate=rate, size=(208, 48), holds=dict.fromkeys(range(9), 100))
    film = made(shot, tmp_path, format="prores", timecode=start)
    facts = probe(film)
    assert facts.video["tags"]["timecode"] == start
    assert Fraction(facts.video["r_frame_rate"]) == Fraction(rate)
    assert facts.form["duration"] == seconds


def test_at_30000_1001_an_hour_of_frames_ends_at_an_hour_of_timecode(tmp_path: Path):
    # SMPTE ST 12-1: drop-frame counts 107,892 frames in an hour (17,982 in ten minutes).
    shot = counted_shot(tmp_path, 2, rate="30000/1001", holds={0: 107_892})
    sheet = made(shot, tmp_path, format="csv", timecode="00:00:00;00").read_text()
    rows = list(csv.reader(io.StringIO(sheet)))
    assert rows[1][:2] == ["1", "00:00:00;00"]
    assert rows[-1][:2] == ["107893", "01:00:00;00"]


def test_an_hour_at_30000_1001_keeps_its_length_in_the_file(tmp_path: Path):
    rate, film = Fraction(30000, 1001), tmp_path / "hour.mp4"
    recipe = replace(RECIPES["h264"], settings={"preset": "ultrafast"})
    frame = to_video_frame(np.full((16, 16, 3), 90, np.uint8), "yuv420p")
    with FilmWriter(film, recipe, (16, 16), rate, FilmTags("hour", "00:00:00;00")) as writer:
        writer.write(frame, 107_892)
    command = [
        require("ffprobe"),
        "-v",
        "error",
        "-show_entries",
        "format=duration:stream=nb_frames",
    ]
    done = subprocess.run([*command, "-of", "csv=p=0", film], capture_output=True, check=True)
    words = done.stdout.decode().split()
    assert "107892" in words[0]
    assert float(words[-1]) == pytest.approx(107_892 * 1001 / 30000, abs=1e-4)


CHART = [
    (255, 0, 0), (0, 255, 0), (0, 0, 255), (255, 255, 255),
    (0, 0, 0), (128, 128, 128), (200, 100, 50), (20, 180, 220),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "within"), [("h264", 3), ("prores", 2), ("hevc", 3)])
def test_colours_come_back_through_bt709(kind: str, within: int, tmp_path: Path):
    shot = counted_shot(tmp_path, 1, ending=".png")
    chart = np.repeat(np.repeat(np.array([CHART], np.uint8), 64, axis=0), 64, axis=1)
    Image.fromarray(chart).save(shot.exposures[0].path)
    film = made(shot, tmp_path, format=kind, quality="best")
    shown = decoded(film, (512, 64))[0].astype(int)
    for place, colour in enumerate(CHART):
        middle = shown[24:40, place * 64 + 24 : place * 64 + 40].mean(axis=(0, 1))
        assert np.abs(middle - colour).max() <= within, f"{colour} came back as {middle}"


@pytest.mark.parametrize("kind", ["gif", "webp"])
def test_animations_hold_each_picture_as_long_as_the_film_does(kind: str, tmp_path: Path):
    shot = counted_shot(tmp_path, 7, holds={2: 12})
    choices = ExportOptions.model_validate({"format": kind})
    target = tmp_path / f"film.{kind}"
    export(shot, choices, target)
    order, lengths = [], []
    with Image.open(target) as animation:
        assert animation.info["loop"] == 0
        for place in range(animation.n_frames):
            animation.seek(place)
            order.append(read_counter(np.asarray(animation.convert("RGB"))))
            lengths.append(animation.info["duration"])
    assert order == list(range(7))
    assert sum(lengths) == pytest.approx(18 / 12 * 1000, abs=5)
    assert lengths[2] == pytest.approx(1000, abs=5)


def test_originals_are_copied_byte_for_byte(tmp_path: Path):
    shot = counted_shot(tmp_path, 3, holds={1: 2})
    target = tmp_path / "pictures"
    export(shot, ExportOptions(format="originals"), target)
    copies = sorted(target.iterdir())
    assert [copy.name for copy in copies] == [f"cork-wakes_{n:06d}.jpg" for n in (1, 2, 3, 4)]
    for copy, index in zip(copies, (0, 1, 1, 2), strict=True):
        assert copy.read_bytes() == shot.exposures[index].path.read_bytes()


def test_png_sequence_is_the_decoded_original(tmp_path: Path):
    shot = counted_shot(tmp_path, 3, ending=".png")
    target = tmp_path / "film.zip"
    export(shot, ExportOptions(format="png"), target)
    with zipfile.ZipFile(target) as archive:
        assert archive.testzip() is None
        for index, name in enumerate(sorted(archive.namelist())):
            original = cv2.imread(str(shot.exposures[index].path))
            with Image.open(io.BytesIO(archive.read(name))) as picture:
                assert np.array_equal(np.asarray(picture)[:, :, ::-1], original)


def test_tiff_sequence_has_sixteen_bits(tmp_path: Path):
    shot = counted_shot(tmp_path, 2, ending=".png")
    target = tmp_path / "pictures"
    export(shot, ExportOptions(format="tiff"), target)
    for index, path in enumerate(sorted(target.iterdir())):
        picture = tifffile.imread(path)
        with Image.open(shot.exposures[index].path) as original:
            assert picture.dtype == np.uint16
            assert np.array_equal(picture, np.asarray(original).astype(np.uint16) * 257)


def test_a_sixteen_bit_original_keeps_its_depth(tmp_path: Path):
    shot = counted_shot(tmp_path, 1, ending=".tif")
    ramp = np.repeat(np.linspace(0, 65535, 320, dtype=np.uint16)[None, :, None], 240, axis=0)
    deep = np.concatenate([ramp, ramp[:, ::-1], ramp], axis=2)
    tifffile.imwrite(shot.exposures[0].path, deep, photometric="rgb")
    target = tmp_path / "pictures"
    export(shot, ExportOptions(format="tiff"), target)
    assert np.array_equal(tifffile.imread(next(target.iterdir())), deep)


def test_the_timeline_reads_back_in_opentimelineio(tmp_path: Path):
    sound = tmp_path / "knock.wav"
    sound.write_bytes(b"")
    shot = replace(counted_shot(tmp_path, 4, holds={1: 12}), sound=sound)
    target = tmp_path / "film.otio"
    options = {"format": "otio", "timecode": "01:00:00:00", "sound": {"offset_frames": 5}}
    export(shot, ExportOptions.model_validate(options), target)
    film = otio.adapters.read_from_file(str(target))
    pictures, heard = film.tracks
    clips = list(pictures)
    assert [clip.source_range.duration.value for clip in clips] == [1, 12, 1, 1]
    assert film.duration() == otio.opentime.RationalTime(15, 12)
    assert film.global_start_time.to_timecode(24) == "01:00:00:00"
    assert clips[1].media_reference.target_url == shot.exposures[1].path.as_uri()
    assert heard[0].source_range.duration.value == 5
    assert heard[1].source_range.duration.value == 10


def test_the_sheet_has_a_line_for_each_frame(tmp_path: Path):
    shot = counted_shot(tmp_path, 3, holds={0: 2})
    odd = replace(shot.exposures[1], note='ears, "up"\n=1+1')
    shot = replace(shot, exposures=(shot.exposures[0], odd, shot.exposures[2]), marks={3: "knock"})
    with made(shot, tmp_path, format="csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["exposure"] for row in rows] == ["1", "1", "2", "3"]
    assert rows[2]["note"] == 'ears, "up"\n=1+1'
    assert [row["sound"] for row in rows] == ["", "", "knock", ""]


@pytest.mark.parametrize(
    ("shape", "size"),
    [("16:9", (320, 180)), ("9:16", (134, 240)), ("4:5", (192, 240)), ("1:1", (240, 240))],
)
def test_framings_have_their_shape_and_follow_the_centre(
    shape: str, size: tuple[int, int], tmp_path: Path
):
    shot = counted_shot(tmp_path, 1)
    framing = {"shape": shape, "centre_x": 0, "centre_y": 0}
    film = made(shot, tmp_path, framing=framing)
    video = probe(film).video
    assert (video["width"], video["height"]) == size
    shown = decoded(film, size)[0]
    assert abs(int(shown[20, 20].mean()) - 20) < 6, "the counter's first cell stands top left"


def test_odd_sizes_lose_one_row_and_column(tmp_path: Path):
    film = made(counted_shot(tmp_path, 2, size=(321, 241)), tmp_path)
    video = probe(film).video
    assert (video["width"], video["height"]) == (320, 240)


def test_a_leader_stands_before_the_film(tmp_path: Path):
    film = made(counted_shot(tmp_path, 3), tmp_path, leader=True)
    pictures = decoded(film, (320, 240))
    assert len(pictures) == 24 + 3
    assert [read_counter(picture) for picture in pictures[24:]] == [0, 1, 2]
