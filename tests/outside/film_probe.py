"""What independent tools say of a film file: FFmpeg's ffprobe and ffmpeg from Debian."""

import json
import shutil
import struct
import subprocess
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from standclear.finishing.shot import FilmExposure, FilmShot

BITS = 8
CELL = 24


def require(tool: str) -> str:
    """The tool's path; a test that needs it fails with what to install."""
    found = shutil.which(tool)
    assert found, f"{tool} is missing: apt-get install ffmpeg (deploy/test.sh does)"
    return found


@dataclass(frozen=True)
class Probe:
    streams: list[dict]
    form: dict

    @property
    def video(self) -> dict:
        return next(s for s in self.streams if s["codec_type"] == "video")

    @property
    def audio(self) -> dict:
        return next(s for s in self.streams if s["codec_type"] == "audio")


def probe(path: Path) -> Probe:
    command = [require("ffprobe"), "-v", "error", "-count_frames", "-show_streams", "-show_format"]
    done = subprocess.run([*command, "-of", "json", path], capture_output=True, check=True)
    facts = json.loads(done.stdout)
    return Probe(facts["streams"], facts["format"])


def frame_times(path: Path) -> list[float]:
    command = [require("ffprobe"), "-v", "error", "-select_streams", "v", "-show_entries"]
    done = subprocess.run(
        [*command, "frame=best_effort_timestamp_time", "-of", "csv=p=0", path],
        capture_output=True, check=True, text=True,
    )  # fmt: skip
    return [float(line.strip(",")) for line in done.stdout.split()]


def decoded(path: Path, size: tuple[int, int], pixel_format: str = "rgb24") -> np.ndarray:
    """All frames by the ffmpeg command line, (n, height, width, 3)."""
    command = [require("ffmpeg"), "-v", "error", "-i", path, "-fps_mode", "passthrough"]
    colours = ["-vf", "scale=in_color_matrix=bt709:in_range=tv:flags=accurate_rnd+full_chroma_int"]
    done = subprocess.run(
        [*command, *colours, "-f", "rawvideo", "-pix_fmt", pixel_format, "-"],
        capture_output=True, check=True,
    )  # fmt: skip
    kind = np.uint16 if "48" in pixel_format else np.uint8
    return np.frombuffer(done.stdout, kind).reshape(-1, size[1], size[0], 3)


def counter_picture(number: int, width: int, height: int) -> np.ndarray:
    """A grey picture with ``number`` as a row of bright and dark cells (most significant last)."""
    picture = np.full((height, width, 3), 90, np.uint8)
    for bit in range(BITS):
        left = 8 + bit * CELL
        picture[8 : 8 + CELL, left : left + CELL] = 235 if number >> bit & 1 else 20
    return picture


def read_counter(picture: np.ndarray) -> int:
    """The number drawn by ``counter_picture``."""
    middle = 8 + CELL // 2
    cells = [picture[middle, 8 + bit * CELL + CELL // 2].mean() for bit in range(BITS)]
    return sum(int(cell > 128) << bit for bit, cell in enumerate(cells))


def counted_shot(
    folder: Path, count: int, *, rate: str = "12", size: tuple[int, int] = (320, 240),
    holds: dict[int, int] | None = None, ending: str = ".jpg",
) -> FilmShot:  # fmt: skip
    """A shot whose exposures carry their index; ``holds`` by index."""
    exposures = []
    for index in range(count):
        path = folder / f"cork-wakes_{index + 1:06d}{ending}"
        assert cv2.imwrite(str(path), counter_picture(index, *size))
        exposures.append(FilmExposure(path, (holds or {}).get(index, 1)))
    return FilmShot("Cork wakes", rate, tuple(exposures))


def boxes(path: Path) -> list[str]:
    """The top boxes of an MP4 or MOV file in order (ISO/IEC 14496-12, 4.2)."""
    names, at, data = [], 0, path.read_bytes()
    while at < len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        if length == 1:
            (length,) = struct.unpack(">Q", data[at + 8 : at + 16])
        names.append(data[at + 4 : at + 8].decode("latin-1"))
        at += length or len(data)
    return names
