"""Sound lies where it was put: read back with FFmpeg's own decoder."""

import subprocess
import wave
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from standclear.finishing.api import ExportOptions, export
from standclear.finishing.recipes import RECIPES
from standclear.finishing.waveform import waveform
from tests.outside.film_probe import counted_shot, probe, require

RATE = 44_100


def knock(path: Path, at_s: float, length_s: float = 2.0) -> Path:
    """Silence with one short loud click that starts at ``at_s``."""
    samples = np.zeros(int(length_s * RATE), "<i2")
    start = round(at_s * RATE)
    samples[start : start + 40] = 30_000
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(samples.tobytes())
    return path


def encoded(wav: Path, ending: str) -> Path:
    other = wav.with_suffix(ending)
    subprocess.run([require("ffmpeg"), "-v", "error", "-y", "-i", wav, other], check=True)
    return other


def heard(film: Path) -> np.ndarray:
    """Mono samples at 48 kHz from the film's own start."""
    # -copyts: times stay as the file has them; else all is moved by Opus' start before zero.
    command = [require("ffmpeg"), "-v", "error", "-copyts", "-i", film, "-vn"]
    command += ["-af", "aresample=async=1:first_pts=0"]
    done = subprocess.run(
        [*command, "-ac", "1", "-ar", "48000", "-f", "f32le", "-"], capture_output=True, check=True
    )
    return np.frombuffer(done.stdout, np.float32)


def click_at(samples: np.ndarray) -> float:
    loud = np.abs(samples)
    return int(np.argmax(loud > 0.4 * loud.max())) / 48_000


@pytest.mark.parametrize("kind", ["h264", "prores", "webm"])
@pytest.mark.parametrize("offset", [0, 6, -3])
def test_a_sound_starts_at_its_frame_within_a_millisecond(kind: str, offset: int, tmp_path: Path):
    shot = replace(counted_shot(tmp_path, 36), sound=knock(tmp_path / "knock.wav", 0.5))
    choices = ExportOptions.model_validate({"format": kind, "sound": {"offset_frames": offset}})
    film = tmp_path / f"film{RECIPES[kind].extension}"
    export(shot, choices, film)
    assert click_at(heard(film)) == pytest.approx(0.5 + offset / 12, abs=0.001)
    assert float(probe(film).form["duration"]) == pytest.approx(3.0, abs=0.01)


@pytest.mark.parametrize("ending", [".flac", ".mp3", ".m4a"])
def test_every_kind_of_sound_file_is_laid_under(ending: str, tmp_path: Path):
    sound = encoded(knock(tmp_path / "knock.wav", 0.5), ending)
    film = tmp_path / "film.mov"
    export(replace(counted_shot(tmp_path, 24), sound=sound), ExportOptions(format="prores"), film)
    assert click_at(heard(film)) == pytest.approx(0.5, abs=0.003)


def test_the_sound_ends_with_the_pictures(tmp_path: Path):
    shot = replace(counted_shot(tmp_path, 6), sound=knock(tmp_path / "knock.wav", 0.1))
    film = tmp_path / "film.mov"
    export(shot, ExportOptions(format="prores"), film)
    assert len(heard(film)) == 24_000


@pytest.mark.parametrize("ending", [".wav", ".flac"])
def test_the_waveform_peaks_in_the_frame_of_the_knock(ending: str, tmp_path: Path):
    sound = knock(tmp_path / "knock.wav", 0.5)
    shape = waveform(sound if ending == ".wav" else encoded(sound, ending), Fraction(12))
    assert len(shape.highs) == 2 * 12 * 4
    assert int(np.argmax(shape.highs)) == 6 * 4
    assert shape.as_json()["peaks"][6 * 4][1] > 0.5
    assert max(shape.highs[: 6 * 4 - 1]) < 0.01
